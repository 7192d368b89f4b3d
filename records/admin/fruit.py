"""Fruit counts and fruit samples."""

from django.contrib import admin

from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.columns import tree
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.lines import LinkedForm, linked
from records.admin.plants import BLOCK, FARM
from records.models import FruitCount, FruitSample


class FruitCountForm(LinkedForm):
    links = {"of_rounds": "rounds", "counted_trees": "trees"}
    aliases = {"rounds": "of_rounds", "trees": "counted_trees"}

    of_rounds = linked(FruitCount, "rounds", "Rounds", "Whose marked flowers were looked at.")
    counted_trees = linked(FruitCount, "trees", "Trees")


@admin.register(FruitCount)
class FruitCountAdmin(RecordAdmin):
    form = FruitCountForm
    fields = (
        "farm",
        "block",
        "counted_on",
        "kind",
        "counted",
        "of_rounds",
        "flowers_looked_at",
        "counted_trees",
        "trees_looked_at",
        "fruit",
        "thinned_because",
        "people",
        "minutes",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    farm_from = "block"
    sections = {
        "What was looked at": (
            "counted",
            "of_rounds",
            "flowers_looked_at",
            "counted_trees",
            "trees_looked_at",
        ),
        "What was found": ("fruit", "thinned_because"),
        "Who, and for how long": ("people", "minutes", "note"),
        **ORIGIN_SECTION,
    }
    autocomplete_fields = ("block",)
    date_hierarchy = "counted_on"
    list_display = (
        "counted_on",
        FARM,
        BLOCK,
        "kind",
        "counted",
        "flowers_looked_at",
        "trees_looked_at",
        "fruit",
        "retired_on",
    )
    list_select_related = ("farm", "block")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        "kind",
        "counted",
        "counted_on",
        "retired_on",
    )
    search_fields = ("farm__code", "block__code", "thinned_because", "people", "note")
    ordering = ("-counted_on", "-id")


@admin.register(FruitSample)
class FruitSampleAdmin(RecordAdmin):
    fields = (
        "farm",
        "block",
        "tree",
        "round",
        "sampled_on",
        "label",
        "weight_g",
        "length_mm",
        "width_mm",
        "shape_score",
        "shape_best",
        "shape_worst",
        "seeds",
        "soluble_solids_brix",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    farm_from = "block"
    sections = {
        "Measures": ("weight_g", "length_mm", "width_mm", "seeds", "soluble_solids_brix"),
        "Shape, on a scale": ("shape_score", "shape_best", "shape_worst"),
        **ORIGIN_SECTION,
    }
    autocomplete_fields = ("block", "tree", "round")
    date_hierarchy = "sampled_on"
    list_display = (
        "sampled_on",
        FARM,
        BLOCK,
        tree("tree__number"),
        "label",
        "weight_g",
        "length_mm",
        "width_mm",
        "seeds",
        "soluble_solids_brix",
        "retired_on",
    )
    list_select_related = ("farm", "block", "tree")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "sampled_on", "retired_on")
    search_fields = ("farm__code", "block__code", "tree__number", "label", "note")
    ordering = ("-sampled_on", "-id")
