"""Species, cultivars, blocks, planting lines, trees and grafts."""

from django.contrib import admin

from records.admin.base import RecordAdmin
from records.admin.columns import column, rows, tree
from records.admin.filling import Fillable
from records.admin.filters import LinkFilter, OfFarmFilter, Standing
from records.models import (
    Block,
    Cultivar,
    FruitCount,
    Graft,
    GrowthStage,
    HarvestWeight,
    Intake,
    PlantingLine,
    PollinationRound,
    Species,
    TaskLog,
    Tree,
    TrunkGirth,
)

FARM = column("farm__code", "farm")
BLOCK = column("block__code", "block")
CULTIVAR = column("cultivar__name", "cultivar")


@admin.register(Species)
class SpeciesAdmin(RecordAdmin):
    added_by_platform = True
    fields = (
        "code",
        "common_name",
        "scientific_name",
        "bearing_age_years",
        "bearing_age_source",
    )
    list_display = ("common_name", "scientific_name", "bearing_age_years")
    list_filter = ("bearing_age_years",)
    search_fields = ("code", "common_name", "scientific_name")
    ordering = ("common_name",)


@admin.register(Cultivar)
class CultivarAdmin(RecordAdmin):
    fields = ("farm", "species", "name", "bearing_age_years", "retired_on")
    fixed = ("species",)
    autocomplete_fields = ("farm",)
    list_display = ("name", column("species__common_name", "species"), FARM, "retired_on")
    list_select_related = ("farm", "species")
    list_filter = (("species", LinkFilter), ("farm", LinkFilter), "retired_on")
    search_fields = ("name", "species__common_name", "farm__code")
    ordering = ("name",)


@admin.register(Block)
class BlockAdmin(Fillable, RecordAdmin):
    shared = ("farm", "code", "area_m2", "boundary_area_m2")
    fields = ("farm", "code", "name", "area_m2", "boundary", "boundary_area_m2", "retired_on")
    derived = ("boundary_area_m2",)
    autocomplete_fields = ("farm",)
    leads_to = (
        (Tree, "block"),
        (PlantingLine, "block"),
        (TaskLog, "block"),
        (GrowthStage, "block"),
        (PollinationRound, "block"),
        (FruitCount, "block"),
        (HarvestWeight, "block"),
        (Intake, "block"),
    )
    list_display = (
        "code",
        FARM,
        "name",
        rows(Tree, "block"),
        rows(HarvestWeight, "block"),
        "area_m2",
        "boundary_area_m2",
        "retired_on",
    )
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "retired_on")
    search_fields = ("code", "name", "farm__code")
    ordering = ("farm__code", "code")


@admin.register(PlantingLine)
class PlantingLineAdmin(RecordAdmin):
    shared = ("farm", "block", "cultivar", "tree_count", "area_m2")
    fields = (
        "farm",
        "block",
        "cultivar",
        "rootstock",
        "planted_year",
        "tree_count",
        "area_m2",
        "non_bearing",
        "ended_on",
    )
    fixed = ("block",)
    farm_from = "block"
    autocomplete_fields = ("block", "cultivar")
    list_display = (BLOCK, FARM, CULTIVAR, "rootstock", "planted_year", "tree_count", "ended_on")
    list_select_related = ("farm", "block", "cultivar")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "planted_year", "ended_on")
    search_fields = ("farm__code", "block__code", "cultivar__name", "rootstock")
    ordering = ("farm__code", "block__code", "id")


@admin.register(Tree)
class TreeAdmin(RecordAdmin):
    shared = ("farm", "block", "number", "cultivar")
    fields = (
        "farm",
        "block",
        "row",
        "position",
        "number",
        "cultivar",
        "rootstock",
        "planted_on",
        "removed_on",
        "removal_reason",
        "non_bearing",
        "moved_from",
        "mother",
    )
    fixed = ("block",)
    farm_from = "block"
    sections = {
        "Where it came from": ("moved_from", "mother"),
    }
    autocomplete_fields = ("block", "cultivar", "moved_from", "mother")
    leads_to = ((Graft, "tree"), (TrunkGirth, "tree"))
    list_display = (
        tree("number"),
        "row",
        "position",
        BLOCK,
        FARM,
        CULTIVAR,
        "planted_on",
        "removed_on",
    )
    list_select_related = ("farm", "block", "cultivar")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        ("cultivar", OfFarmFilter),
        Standing,
        "non_bearing",
        "planted_on",
        "removed_on",
    )
    search_fields = ("farm__code", "block__code", "number", "=row", "=position", "cultivar__name")
    ordering = ("farm__code", "block__code", "row", "position")


@admin.register(Graft)
class GraftAdmin(RecordAdmin):
    shared = ("farm", "tree", "cultivar", "share_percent")
    fields = ("farm", "tree", "cultivar", "share_percent", "grafted_on", "removed_on")
    fixed = ("tree",)
    farm_from = "tree"
    autocomplete_fields = ("tree", "cultivar")
    list_display = (
        CULTIVAR,
        "share_percent",
        tree("tree__number"),
        column("tree__block__code", "block"),
        FARM,
        "grafted_on",
        "removed_on",
    )
    list_select_related = ("farm", "tree__block", "tree__farm", "cultivar")
    list_filter = (
        ("farm", LinkFilter),
        ("tree__block", OfFarmFilter),
        "grafted_on",
        "removed_on",
    )
    search_fields = ("farm__code", "tree__block__code", "tree__number", "cultivar__name")
    ordering = ("farm__code", "-grafted_on")
