"""`weather-stations` and `weather-days`."""

from typing import ClassVar

import django_filters

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import LineSerializer, RecordSerializer
from records.api.base import FarmFilter, FarmRecordViewSet
from records.choices import WeatherKind
from records.models import CoOp, StationUse, WeatherDay, WeatherStation
from records.models.weather import READINGS


class StationUseSerializer(LineSerializer):
    class Meta(LineSerializer.Meta):
        model = StationUse
        fields = ("farm", "starts_on", "ends_on")
        blame: ClassVar[dict[str, str]] = {"station_use_ends_after_it_starts": "ends_on"}


class WeatherStationSerializer(RecordSerializer):
    uses = StationUseSerializer(many=True, required=False, max_length=500)  # type: ignore[call-arg]  # of the list

    class Meta(RecordSerializer.Meta):
        model = WeatherStation
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "name",
            "time_zone",
            "latitude",
            "longitude",
            "elevation_m",
            "uses",
            "retired_on",
        )
        fixed = ("co_op",)
        blame: ClassVar[dict[str, str]] = {
            "station_of_one_farm_or_one_co_op": "farm",
            "station_coordinates_in_range": "latitude",
            "station_name_once": "name",
        }


class WeatherStationFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)


class WeatherStationViewSet(FarmRecordViewSet):
    """Stations, kept by a farm or a co-op, and the farms that go by them."""

    area = Area.WEATHER
    queryset = WeatherStation.objects.prefetch_related("uses")
    serializer_class = WeatherStationSerializer
    filterset_class = WeatherStationFilter
    orderings = ("created_at", "name")


class WeatherDaySerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = WeatherDay
        fields = (
            *RecordSerializer.base_fields,
            "station",
            "day",
            "kind",
            "forecast_on",
            *READINGS,
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        fixed = ("station",)
        blame: ClassVar[dict[str, str]] = {
            "weather_observed_once_a_day": "day",
            "weather_forecast_once_a_day": "day",
            "weather_forecast_has_its_day": "forecast_on",
            "weather_tmin_not_above_tmax": "tmin_c",
            "weather_day_reads_something": "tmin_c",
            "weather_temperature_of_every_hour": "hourly_temperature_c",
            "weather_humidity_of_every_hour": "hourly_humidity_percent",
        }


class WeatherDayFilter(django_filters.FilterSet):
    station = VisibleFilter(WeatherStation)
    kind = django_filters.ChoiceFilter(choices=WeatherKind)
    day_after = django_filters.DateFilter(field_name="day", lookup_expr="gte")
    day_before = django_filters.DateFilter(field_name="day", lookup_expr="lte")


class WeatherDayViewSet(FarmRecordViewSet):
    """A station's days, observed or forecast."""

    area = Area.WEATHER
    queryset = WeatherDay.objects.all()
    serializer_class = WeatherDaySerializer
    filterset_class = WeatherDayFilter
    orderings = ("created_at", "day")
    tabular = True
