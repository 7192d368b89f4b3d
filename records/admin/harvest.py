"""Containers, grades, crops and weighings."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.columns import column, kilos
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.lines import LinkedForm, linked
from records.admin.plants import BLOCK, CULTIVAR, FARM
from records.choices import CropChoice
from records.models import Container, Crop, Grade, GradeMapping, HarvestWeight


@admin.register(Container)
class ContainerAdmin(RecordAdmin):
    fields = ("farm", "code", "name", "tare_g", "usual_net_g", "retired_on")
    autocomplete_fields = ("farm",)
    list_display = ("code", FARM, "name", "tare_g", "usual_net_g", "retired_on")
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "retired_on")
    search_fields = ("code", "name", "farm__code")
    ordering = ("farm__code", "code")


@admin.register(Grade)
class GradeAdmin(RecordAdmin):
    fields = ("farm", "code", "name", "is_marketable", "cull_reason", "retired_on")
    autocomplete_fields = ("farm",)
    list_display = ("code", FARM, "name", "is_marketable", "cull_reason", "retired_on")
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "is_marketable", "retired_on")
    search_fields = ("code", "name", "farm__code")
    ordering = ("farm__code", "code")


@admin.register(GradeMapping)
class GradeMappingAdmin(RecordAdmin):
    fields = ("farm", "grade", "co_op_grade", "applies_from")
    fixed = ("grade",)
    farm_from = "grade"
    autocomplete_fields = ("grade", "co_op_grade")
    list_display = (
        column("grade__code", "grade"),
        FARM,
        column("co_op_grade__code", "co-op grade"),
        column("co_op_grade__co_op__code", "co-op"),
        "applies_from",
    )
    list_select_related = ("farm", "grade__farm", "co_op_grade__co_op")
    list_filter = (("farm", LinkFilter), ("co_op_grade", LinkFilter), "applies_from")
    search_fields = ("farm__code", "grade__code", "co_op_grade__code")
    ordering = ("farm__code", "grade__code", "-applies_from")


@admin.register(Crop)
class CropAdmin(RecordAdmin):
    shared = ("farm", "block", "name")
    fields = (
        "farm",
        "block",
        "name",
        "opened_by",
        "opened_on",
        "bloom_began_on",
        "picking_starts_on",
        "picking_ends_on",
    )
    fixed = ("block",)
    farm_from = "block"
    autocomplete_fields = ("block",)
    list_display = (
        "name",
        BLOCK,
        FARM,
        "opened_by",
        "opened_on",
        "bloom_began_on",
        "picking_starts_on",
        "picking_ends_on",
    )
    list_select_related = ("farm", "block")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "opened_by", "opened_on")
    search_fields = ("name", "farm__code", "block__code")
    ordering = ("farm__code", "block__code", "-opened_on")


class HarvestWeightForm(LinkedForm):
    links = {"picked_trees": "trees"}
    aliases = {"trees": "picked_trees"}

    picked_trees = linked(
        HarvestWeight,
        "trees",
        "Trees",
        "Where the fruit was picked from known trees of the block.",
    )


@admin.register(HarvestWeight)
class HarvestWeightAdmin(RecordAdmin):
    """Weighings. What follows from one - net grams, cultivar, crop - is shown, not entered."""

    form = HarvestWeightForm
    fields = (
        "farm",
        "block",
        "picked_trees",
        "picked_on",
        "weight",
        "unit",
        "weight_kind",
        "containers",
        "container",
        "tare_g",
        "container_tare_g",
        "fruit_count",
        "net_g",
        "estimated_from_containers_g",
        "grade",
        "entered_cultivar",
        "cultivar",
        "crop",
        "crop_chosen_by",
        "docket",
        "ticket",
        "pickers",
        "minutes",
        "note",
        *ORIGIN,
    )
    shared = tuple(set(fields) - {"pickers", "minutes", "note", "recorded_at", "created_by"})
    derived = (
        "container_tare_g",
        "net_g",
        "estimated_from_containers_g",
        "cultivar",
        "crop_chosen_by",
        *ORIGIN,
    )
    farm_from = "block"
    sections = {
        "How much": (
            "weight",
            "unit",
            "weight_kind",
            "containers",
            "container",
            "tare_g",
            "container_tare_g",
            "fruit_count",
            "net_g",
            "estimated_from_containers_g",
        ),
        "What": ("grade", "entered_cultivar", "cultivar", "crop", "crop_chosen_by"),
        "Papers and people": ("docket", "ticket", "pickers", "minutes", "note"),
        **ORIGIN_SECTION,
    }
    autocomplete_fields = ("block", "container", "grade", "entered_cultivar", "crop")
    date_hierarchy = "picked_on"
    list_display = (
        "picked_on",
        FARM,
        BLOCK,
        CULTIVAR,
        column("grade__code", "grade"),
        kilos("net_g", "net kg"),
        "fruit_count",
        "docket",
        "retired_on",
    )
    list_select_related = ("farm", "block", "cultivar", "grade")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        ("grade", OfFarmFilter),
        ("crop", OfFarmFilter),
        "weight_kind",
        "retired_on",
    )
    search_fields = (
        "farm__code",
        "block__code",
        "cultivar__name",
        "docket",
        "ticket",
        "harvest_import__file_name",
    )
    ordering = ("-picked_on", "-id")

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        if "crop" in form.changed_data:
            obj.crop_chosen_by = CropChoice.PERSON if obj.crop_id else CropChoice.DATE
        super().save_model(request, obj, form, change)
