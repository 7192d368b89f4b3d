"""Pollen batches and pollination rounds."""

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from orchard.access import Area
from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.lines import LineForm, Lines, LinesInline, LinkedForm, linked
from records.admin.plants import BLOCK, CULTIVAR, FARM
from records.models import PollenBatch, PollinationRound, PollinationRoundTree


class PollenBatchForm(LinkedForm):
    links = {"from_trees": "donor_trees", "from_cultivars": "donor_cultivars"}
    aliases = {"donor_trees": "from_trees", "donor_cultivars": "from_cultivars"}

    from_trees = linked(PollenBatch, "donor_trees", "Donor trees")
    from_cultivars = linked(
        PollenBatch, "donor_cultivars", "Donor cultivars", "Where the trees are not known."
    )


@admin.register(PollenBatch)
class PollenBatchAdmin(RecordAdmin):
    form = PollenBatchForm
    fields = (
        "farm",
        "name",
        "collected_at",
        "collected_on",
        "stage",
        "from_trees",
        "from_cultivars",
        "donor_flowers",
        "storage_c",
        "people",
        "note",
        *ORIGIN,
    )
    derived = ("collected_on", *ORIGIN)
    sections = {
        "Where the pollen is from": ("stage", "from_trees", "from_cultivars"),
        **ORIGIN_SECTION,
    }
    autocomplete_fields = ("farm",)
    date_hierarchy = "collected_on"
    list_display = (
        "collected_on",
        FARM,
        "name",
        "collected_at",
        "stage",
        "donor_flowers",
        "storage_c",
        "retired_on",
    )
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "stage", "collected_on", "retired_on")
    search_fields = ("farm__code", "name", "donor_cultivars__name", "people", "note")
    ordering = ("-collected_on", "-id")


class PollinationRoundForm(LinkedForm):
    links = {"mother_trees": "trees"}
    aliases = {"trees": "mother_trees"}

    mother_trees = linked(
        PollinationRound,
        "trees",
        "Trees",
        "All of one cultivar; another cultivar is another round.",
    )


class CountedTreeForm(LineForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if "flowers" in self.fields:
            self.fields["flowers"].required = True


class FlowersByTree(LinesInline):
    """Only the trees whose flowers were counted one by one."""

    model = PollinationRoundTree
    form = CountedTreeForm
    area = Area.OBSERVATION
    given = "flowers_by_tree"
    verbose_name = "tree"
    verbose_name_plural = "Flowers by tree, where they were counted so"
    fields = ("tree", "flowers")
    autocomplete_fields = ("tree",)
    select_related = ("tree__block", "tree__farm")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).filter(flowers__isnull=False)


@admin.register(PollinationRound)
class PollinationRoundAdmin(RecordAdmin):
    form = PollinationRoundForm
    fields = (
        "farm",
        "block",
        "cultivar",
        "mother_trees",
        "pollinated_on",
        "started_at",
        "method",
        "pollen_batch",
        "is_bagged",
        "flowers",
        "is_self",
        "people",
        "minutes",
        "note",
        *ORIGIN,
    )
    derived = ("is_self", *ORIGIN)
    farm_from = "block"
    sections = {
        "Where": ("mother_trees", "cultivar"),
        "How": ("method", "pollen_batch", "is_bagged", "is_self"),
        "How much": ("flowers", "people", "minutes", "note"),
        **ORIGIN_SECTION,
    }
    inlines = (FlowersByTree,)
    autocomplete_fields = ("block", "cultivar", "pollen_batch")
    date_hierarchy = "pollinated_on"
    list_display = (
        "pollinated_on",
        FARM,
        BLOCK,
        CULTIVAR,
        "method",
        "pollen_batch",
        "is_bagged",
        "flowers",
        "is_self",
        "minutes",
        "retired_on",
    )
    list_select_related = ("farm", "block", "cultivar", "pollen_batch")
    list_filter = (
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        ("pollen_batch", OfFarmFilter),
        "method",
        "is_bagged",
        "is_self",
        "pollinated_on",
        "retired_on",
    )
    search_fields = (
        "farm__code",
        "block__code",
        "cultivar__name",
        "pollen_batch__name",
        "people",
        "note",
    )
    ordering = ("-pollinated_on", "-id")

    def rows_below(self, form: Any, lines: list[Lines]) -> dict[str, Any]:
        """A tree whose flowers were counted is of the round, whether picked above or not."""
        rows = super().rows_below(form, lines)
        counted = {row["tree"]: row["flowers"] for row in rows.pop("flowers_by_tree", ())}
        if any(each.has_changed() for each in lines):
            rows["trees"] = list({*rows["trees"], *counted})
            rows["flowers_by_tree"] = {tree.pk: flowers for tree, flowers in counted.items()}
        return rows
