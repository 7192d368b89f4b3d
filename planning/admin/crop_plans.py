"""Plans for further crops."""

from django.contrib import admin

from planning.models import CropPlan
from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter, OfFarmFilter


@admin.register(CropPlan)
class CropPlanAdmin(RecordAdmin):
    fields = ("farm", "block", "name", "work", "planned_on", "note")
    fixed = ("block",)
    autocomplete_fields = ("farm", "block")
    list_display = (
        column("farm__code", "farm"),
        column("block__code", "block"),
        "name",
        "work",
        "planned_on",
    )
    list_select_related = ("farm", "block__farm")
    list_filter = (("farm", LinkFilter), ("block", OfFarmFilter), "work", "planned_on")
    date_hierarchy = "planned_on"
    search_fields = ("farm__code", "block__code", "name", "note")
    ordering = ("-planned_on", "id")
