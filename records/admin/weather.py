"""Weather stations with the farms that go by them, and their days."""

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from orchard.access import Area
from records.admin.base import ORIGIN, ORIGIN_SECTION, RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.admin.forms import RecordForm
from records.admin.lines import LinesInline
from records.admin.plants import FARM
from records.models import Farm, StationUse, WeatherDay, WeatherStation

CO_OP = column("co_op__code", "co-op")


class StationUses(LinesInline):
    """Of other farms, only those that the person sees."""

    model = StationUse
    area = Area.WEATHER
    given = "uses"
    verbose_name = "farm"
    verbose_name_plural = "Farms that go by it"
    fields = ("farm", "starts_on", "ends_on")
    offered = ("farm",)
    autocomplete_fields = ("farm",)
    select_related = ("farm",)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        farms = self.admin_site.get_model_admin(Farm).get_queryset(request)
        rows: QuerySet[Any] = super().get_queryset(request)
        return rows.filter(farm__in=farms.order_by().values("pk"))


@admin.register(WeatherStation)
class WeatherStationAdmin(RecordAdmin):
    fields = (
        "farm",
        "co_op",
        "name",
        "time_zone",
        "latitude",
        "longitude",
        "elevation_m",
        "created_by",
        "retired_on",
    )
    derived = ("created_by",)
    fixed = ("co_op",)
    sections = {"Where it stands": ("time_zone", "latitude", "longitude", "elevation_m")}
    inlines = (StationUses,)
    leads_to = ((WeatherDay, "station"),)
    autocomplete_fields = ("farm", "co_op")
    list_display = ("name", FARM, CO_OP, "time_zone", "elevation_m", "retired_on")
    list_select_related = ("farm", "co_op")
    list_filter = (("farm", LinkFilter), ("co_op", LinkFilter), "time_zone", "retired_on")
    search_fields = ("name", "farm__code", "co_op__code")
    ordering = ("farm__code", "co_op__code", "name")


class WeatherDayForm(RecordForm):
    """No hours at all are none read, rather than a day of no hours."""

    def clean_hourly_temperature_c(self) -> Any:
        return self.cleaned_data["hourly_temperature_c"] or None

    def clean_hourly_humidity_percent(self) -> Any:
        return self.cleaned_data["hourly_humidity_percent"] or None


@admin.register(WeatherDay)
class WeatherDayAdmin(RecordAdmin):
    form = WeatherDayForm
    fields = (
        "farm",
        "station",
        "day",
        "kind",
        "forecast_on",
        "tmin_c",
        "tmax_c",
        "rain_mm",
        "humidity_percent",
        "wind_m_s",
        "radiation_mj_m2",
        "hourly_temperature_c",
        "hourly_humidity_percent",
        "note",
        *ORIGIN,
    )
    derived = ORIGIN
    fixed = ("station",)
    farm_from = "station"
    sections = {
        "Readings": (
            "tmin_c",
            "tmax_c",
            "rain_mm",
            "humidity_percent",
            "wind_m_s",
            "radiation_mj_m2",
        ),
        "Hour by hour, from midnight": ("hourly_temperature_c", "hourly_humidity_percent"),
        **ORIGIN_SECTION,
    }
    autocomplete_fields = ("station",)
    date_hierarchy = "day"
    list_display = (
        "day",
        column("station__name", "station"),
        FARM,
        "kind",
        "forecast_on",
        "tmin_c",
        "tmax_c",
        "rain_mm",
        "humidity_percent",
        "retired_on",
    )
    list_select_related = ("farm", "station__farm", "station__co_op")
    list_filter = (
        ("farm", LinkFilter),
        ("station", LinkFilter),
        "kind",
        "day",
        "forecast_on",
        "retired_on",
    )
    search_fields = ("station__name", "station__farm__code", "station__co_op__code", "note")
    ordering = ("-day", "-id")
