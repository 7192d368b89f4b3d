"""The web admin's site: its words, its first page, and choices that say where they belong."""

from typing import Any

from django.contrib import admin
from django.contrib.admin.views.autocomplete import AutocompleteJsonView
from django.http import HttpRequest
from django.urls import reverse
from django.utils.text import slugify

# What the first page offers, in the order of the work; what is not named here comes after.
GROUPS: dict[str, tuple[str, ...]] = {
    "Farms and people": (
        "CoOp",
        "Membership",
        "Farm",
        "SeasonStart",
        "Person",
        "FarmRole",
        "CoOpRole",
        "Invitation",
        "Token",
    ),
    "Plants": ("Species", "Cultivar", "Block", "PlantingLine", "Tree", "Graft", "TrunkGirth"),
    "Work and weather": ("TaskLog", "GrowthStage", "WeatherStation", "WeatherDay"),
    "Pollination and fruit set": (
        "PollenBatch",
        "PollinationRound",
        "FruitCount",
        "FruitSample",
    ),
    "Harvest": ("Crop", "Container", "Grade", "HarvestWeight"),
    "Packing shed": (
        "Delivery",
        "Intake",
        "Lot",
        "TraceCoverage",
        "CoOpGrade",
        "GradeMapping",
    ),
    "Members' files": (
        "FileBatch",
        "HarvestImport",
        "ImportProblem",
        "ProposedChange",
        "FileLayout",
        "Finding",
    ),
    "What is due": ("NextTask", "Alert", "UndatedTask", "StageForecast", "CropPlan"),
    "What planning goes by": ("TaskRule", "ScheduleSetting", "FlowerHours", "SpeciesFigure"),
    "Settlement": ("ClosedSeason", "Pool", "Statement"),
    "Figures": ("SeasonSummary",),
}


class LabelledChoices(AutocompleteJsonView):
    """Choices as their own page names them: a bare "3/4" could be a tree of any block."""

    model_admin: Any

    def serialize_result(self, obj: Any, to_field_name: str) -> dict[str, str]:
        result: dict[str, str] = super().serialize_result(obj, to_field_name)
        return {**result, "text": self.model_admin.label(obj)}


class Site(admin.AdminSite):
    site_header = "Orchard records"
    site_title = "Orchard records"
    index_title = "Farms, plants, work and harvests"
    site_url = "/api/docs/"

    def __init__(self, name: str = "admin") -> None:
        super().__init__(name)
        # Records are retired rather than deleted, and what is deleted goes one by one.
        self.disable_action("delete_selected")

    def get_app_list(self, request: HttpRequest, app_label: str | None = None) -> list[Any]:
        """The lists by kind of work rather than by package."""
        apps: list[Any] = super().get_app_list(request, app_label)
        if app_label is not None:
            return apps
        models = {model["object_name"]: model for app in apps for model in app["models"]}
        named = {name for names in GROUPS.values() for name in names}
        groups = [_group(title, [models.get(name) for name in GROUPS[title]]) for title in GROUPS]
        others = [
            {**app, "models": [m for m in app["models"] if m["object_name"] not in named]}
            for app in apps
        ]
        return [group for group in [*groups, *others] if group["models"]]

    def autocomplete_view(self, request: HttpRequest) -> Any:
        return LabelledChoices.as_view(admin_site=self)(request)


def _group(title: str, models: list[Any]) -> dict[str, Any]:
    """As Django describes an app to its templates."""
    return {
        "name": title,
        "app_label": slugify(title),
        "app_url": reverse("admin:index"),
        "has_module_perms": True,
        "models": [model for model in models if model is not None],
    }
