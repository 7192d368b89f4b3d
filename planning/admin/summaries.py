"""Season summaries: derived rows, to look at."""

from typing import Any, ClassVar

from django.contrib import admin

from planning.models import SeasonSummary
from records.admin.base import ReadOnlyAdmin
from records.admin.columns import column, kilos
from records.admin.filters import LinkFilter, OfFarmFilter

NET = kilos("net_g", "net kg")
ESTIMATED = kilos("estimated_g", "estimated kg")
PICKING_DAYS = ("first_on", "p10_on", "p50_on", "p90_on", "last_on")


@admin.register(SeasonSummary)
class SeasonSummaryAdmin(ReadOnlyAdmin):
    fields: ClassVar[Any] = (
        "level",
        "farm",
        "co_op",
        "member",
        "block",
        "cultivar",
        "crop",
        "season_label",
        "starts_on",
        "ends_on",
        "is_closed",
        "basis",
        NET,
        ESTIMATED,
        "marketable_share",
        "ungraded_share",
        "fruit_count",
        "mean_fruit_g",
        "bearing_trees",
        "area_m2",
        "kg_per_tree",
        "t_per_ha",
        *PICKING_DAYS,
        "minutes",
        "kg_per_picking_hour",
        "grades",
        "weeks",
        "spread",
        "against_main",
        "reasons",
        "method",
        "inputs",
    )
    sections = {
        "Picking days": PICKING_DAYS,
        "Work": ("minutes", "kg_per_picking_hour"),
        "In detail": ("grades", "weeks", "spread", "against_main", "reasons"),
        "How it was computed": ("method", "inputs"),
    }
    list_display = (
        "level",
        "season_label",
        column("farm__code", "farm"),
        column("co_op__code", "co-op"),
        column("member__code", "member"),
        column("block__code", "block"),
        column("cultivar__name", "cultivar"),
        "basis",
        NET,
        ESTIMATED,
        "t_per_ha",
        "first_on",
        "last_on",
        "is_closed",
    )
    list_select_related = (
        "farm",
        "co_op",
        "member",
        "block__farm",
        "cultivar__farm",
        "crop__block",
        "crop__farm",
    )
    list_filter = (
        "level",
        "season_year",
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        ("co_op", LinkFilter),
        "basis",
        "is_closed",
        "starts_on",
    )
    search_fields = (
        "farm__code",
        "co_op__code",
        "member__code",
        "block__code",
        "cultivar__name",
        "season_label",
    )
    ordering = ("-season_year", "farm__code", "level", "id")
