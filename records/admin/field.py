"""Task logs, growth stages and trunk girths."""

from typing import Any

from django import forms
from django.contrib import admin

from records import details
from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.columns import column, tree
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.lines import LinkedForm, linked
from records.admin.plants import BLOCK, FARM
from records.models import GrowthStage, TaskLog, TrunkGirth

DETAILS = "; ".join(f"{kind}: {', '.join(names)}" for kind, names in details.DETAILS.items())


class TaskLogForm(LinkedForm):
    links = {"worked_trees": "trees"}
    aliases = {"trees": "worked_trees"}

    worked_trees = linked(TaskLog, "trees", "Trees", "Where only some of the block's were done.")
    details = forms.JSONField(
        required=False,
        initial=dict,
        help_text=f'What some kinds of work carry, as {{"name": value}}. {DETAILS}.',
    )

    def clean_details(self) -> Any:
        return self.cleaned_data["details"] or {}


@admin.register(TaskLog)
class TaskLogAdmin(RecordAdmin):
    form = TaskLogForm
    fields = (
        "farm",
        "block",
        "worked_trees",
        "kind",
        "done_on",
        "people",
        "minutes",
        "details",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    farm_from = "block"
    sections = {"More about it": ("details", "note"), **ORIGIN_SECTION}
    autocomplete_fields = ("block",)
    date_hierarchy = "done_on"
    list_display = ("done_on", FARM, BLOCK, "kind", "people", "minutes", "note", "retired_on")
    list_select_related = ("farm", "block")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "kind", "done_on", "retired_on")
    search_fields = ("farm__code", "block__code", "kind", "people", "note")
    ordering = ("-done_on", "-id")


@admin.register(GrowthStage)
class GrowthStageAdmin(RecordAdmin):
    fields = (
        "farm",
        "block",
        "tree",
        "observed_on",
        "bbch",
        "trees_seen",
        "trees_looked_at",
        "people",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    farm_from = "block"
    sections = ORIGIN_SECTION
    autocomplete_fields = ("block", "tree")
    date_hierarchy = "observed_on"
    list_display = (
        "observed_on",
        FARM,
        BLOCK,
        tree("tree__number"),
        "bbch",
        "trees_seen",
        "trees_looked_at",
        "retired_on",
    )
    list_select_related = ("farm", "block", "tree")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        "bbch",
        "observed_on",
        "retired_on",
    )
    search_fields = ("farm__code", "block__code", "tree__number", "=bbch", "people", "note")
    ordering = ("-observed_on", "-id")


@admin.register(TrunkGirth)
class TrunkGirthAdmin(RecordAdmin):
    fields = ("farm", "tree", "trunk", "measured_on", "girth_mm", "note", *ORIGIN)
    derived = ORIGIN
    fixed = ("tree",)
    farm_from = "tree"
    sections = ORIGIN_SECTION
    autocomplete_fields = ("tree",)
    date_hierarchy = "measured_on"
    list_display = (
        "measured_on",
        FARM,
        column("tree__block__code", "block"),
        tree("tree__number"),
        "trunk",
        "girth_mm",
        "retired_on",
    )
    list_select_related = ("farm", "tree__block", "tree__farm")
    list_filter = (
        ("farm", LinkFilter),
        ("tree__block", OfFarmFilter),
        "measured_on",
        "retired_on",
    )
    search_fields = ("farm__code", "tree__block__code", "tree__number", "note")
    ordering = ("-measured_on", "-id")
