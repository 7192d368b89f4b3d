"""Stage forecasts: computed rows to look at."""

from django.contrib import admin

from planning.admin.decisions import BLOCK, FARM
from planning.models import StageForecast
from records.admin.base import ReadOnlyAdmin
from records.admin.filters import LinkFilter, OfFarmFilter


@admin.register(StageForecast)
class StageForecastAdmin(ReadOnlyAdmin):
    fields = (
        *("farm", "block", "cultivar", "season_label", "crop_name", "stage", "bbch"),
        *("on_date", "low_on", "high_on", "observed_on"),
        *("expected_on", "expected_low_on", "expected_high_on"),
        *("method", "anchor", "anchor_on", "reason", "inputs"),
    )
    list_display = (
        *("stage", FARM, BLOCK, "season_label", "crop_name"),
        *("on_date", "low_on", "high_on", "observed_on"),
    )
    list_select_related = ("farm", "block__farm", "cultivar")
    list_filter = ("stage", "method", ("farm", LinkFilter), ("block", OfFarmFilter), "season_label")
    search_fields = ("reason", "farm__code", "block__code")
    ordering = ("farm__code", "block__code", "season_year", "crop_name", "bbch", "id")
