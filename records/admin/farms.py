"""Farms and their seasons."""

from django.contrib import admin

from records.admin.base import RecordAdmin
from records.admin.co_ops import MembershipInline
from records.admin.columns import column
from records.admin.filters import LinkFilter, OfFarmFilter
from records.admin.workbooks import Loadable
from records.models import (
    Block,
    Farm,
    HarvestWeight,
    Intake,
    PollinationRound,
    SeasonStart,
    TaskLog,
    Tree,
)


@admin.register(Farm)
class FarmAdmin(Loadable, RecordAdmin):
    added_by_platform = True
    shared = ("code",)
    fields = (
        "code",
        "name",
        "time_zone",
        "latitude",
        "longitude",
        "business_name",
        "phone",
        "address",
        "season_start_month",
        "backdate_days",
        "adviser_writes",
        "decimal_mark",
        "date_order",
        "weight_unit",
        "retired_on",
    )
    fixed = ("code",)
    sections = {
        "For trace records": ("business_name", "phone", "address"),
        "People": ("backdate_days", "adviser_writes"),
        "How its files are read": ("decimal_mark", "date_order", "weight_unit"),
    }
    inlines = (MembershipInline,)
    leads_to = (
        (Block, "farm"),
        (Tree, "farm"),
        (TaskLog, "farm"),
        (PollinationRound, "farm"),
        (HarvestWeight, "farm"),
        (Intake, "farm"),
    )
    list_display = ("code", "name", "time_zone", "season_start_month", "retired_on")
    list_filter = ("time_zone", "season_start_month", "retired_on")
    search_fields = ("code", "name")
    ordering = ("code",)


@admin.register(SeasonStart)
class SeasonStartAdmin(RecordAdmin):
    shared = ()
    fields = ("farm", "block", "applies_from", "month")
    autocomplete_fields = ("farm", "block")
    list_display = (
        column("farm__code", "farm"),
        column("block__code", "block"),
        "applies_from",
        "month",
    )
    list_select_related = ("farm", "block")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "month", "applies_from")
    search_fields = ("farm__code", "block__code")
    ordering = ("farm__code", "-applies_from")
