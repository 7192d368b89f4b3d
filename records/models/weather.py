"""Weather: stations, the farms that go by them, and their days."""

from decimal import Decimal
from typing import Any

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import ArrayField, RangeOperators
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q, Value

from orchard.access import Area
from records.choices import CELSIUS_RANGE, WeatherKind
from records.models.base import (
    DateRange,
    Record,
    Recorded,
    audited,
    child_key,
    links_version_field,
    once_an_import_key,
    stamp_trigger,
    tombstone_trigger,
    warning,
)
from records.models.farms import check_time_zone
from records.querysets import WeatherDayQuerySet, WeatherStationQuerySet

# A local day has 23 to 25 hours where clocks change.
HOURS = (23, 25)


@audited()
class WeatherStation(Record):
    """A station, kept by a farm or a co-op; several farms may go by it."""

    area = Area.WEATHER

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="own_stations"
    )
    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="stations"
    )
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=64, validators=[check_time_zone])
    latitude = models.DecimalField(
        max_digits=8,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )
    longitude = models.DecimalField(
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )
    elevation_m = models.IntegerField(
        null=True, blank=True, validators=[MinValueValidator(-430), MaxValueValidator(6_000)]
    )
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    retired_on = models.DateField(null=True, blank=True)
    links_version = links_version_field()

    objects = WeatherStationQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [*Record.Meta.triggers, stamp_trigger(), tombstone_trigger()]
        constraints = [
            models.CheckConstraint(
                condition=Q(farm__isnull=True, co_op__isnull=False)
                | Q(farm__isnull=False, co_op__isnull=True),
                name="station_of_one_farm_or_one_co_op",
                violation_error_message="A station is kept by a farm or by a co-op.",
            ),
            models.UniqueConstraint(
                fields=["farm", "co_op", "name"], name="station_name_once", nulls_distinct=False
            ),
            models.CheckConstraint(condition=~Q(name=""), name="station_has_a_name"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="station_coordinates_in_range",
                violation_error_message="Give both latitude and longitude, or neither.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


@audited()
class StationUse(models.Model):
    """The days on which a farm goes by a station; one station a farm and day."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="station_uses")
    station = child_key(WeatherStation, "uses")
    starts_on = models.DateField(null=True, blank=True, help_text="Null: ever since.")
    ends_on = models.DateField(null=True, blank=True, help_text="The last day, if it has ended.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True)
                | Q(starts_on__isnull=True)
                | Q(ends_on__gte=F("starts_on")),
                name="station_use_ends_after_it_starts",
                violation_error_message="The last day is before the first.",
            ),
            ExclusionConstraint(
                name="one_station_a_farm_and_day",
                expressions=[
                    ("farm", RangeOperators.EQUAL),
                    (DateRange("starts_on", "ends_on", Value("[]")), RangeOperators.OVERLAPS),
                ],
                violation_error_code="station-uses-overlap",
                violation_error_message="The farm goes by another station on some of these days.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.farm.code} by {self.station}"


def measured(digits: int, lowest: int | None, highest: int | None) -> Any:
    """A reading with one decimal; missing stays missing."""
    bounds: list[Any] = [] if lowest is None else [MinValueValidator(Decimal(lowest))]
    bounds += [] if highest is None else [MaxValueValidator(Decimal(highest))]
    return models.DecimalField(
        max_digits=digits, decimal_places=1, null=True, blank=True, validators=bounds
    )


def hourly(lowest: int | None, highest: int | None) -> Any:
    """From midnight to midnight of the station's own clock; a missing hour is null."""
    return ArrayField(measured(4, lowest, highest), null=True, blank=True)


READINGS = (
    "tmin_c",
    "tmax_c",
    "rain_mm",
    "humidity_percent",
    "wind_m_s",
    "radiation_mj_m2",
    "hourly_temperature_c",
    "hourly_humidity_percent",
)


def _any_reading() -> Q:
    condition = Q()
    for name in READINGS:
        condition |= Q(**{f"{name}__isnull": False})
    return condition


def _whole_day(name: str) -> Q:
    return Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__len__range": HOURS})


@audited(exclude=("recorded_at",))
class WeatherDay(Recorded, Record):
    """A station's day, observed or forecast. `farm` is the station's, if a farm keeps it."""

    area = Area.WEATHER

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, editable=False, related_name="+"
    )
    station = models.ForeignKey(WeatherStation, models.PROTECT, related_name="days")
    day = models.DateField()
    kind = models.CharField(max_length=8, choices=WeatherKind, default=WeatherKind.OBSERVED)
    forecast_on = models.DateField(
        null=True, blank=True, help_text="The day on which the forecast was made."
    )
    tmin_c = measured(4, None, None)
    tmax_c = measured(4, None, None)
    rain_mm = measured(5, 0, 2_000)
    humidity_percent = measured(4, 0, 100)
    wind_m_s = measured(4, 0, 120)
    radiation_mj_m2 = measured(4, 0, 60)
    hourly_temperature_c = hourly(None, None)
    hourly_humidity_percent = hourly(0, 100)

    objects = WeatherDayQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [*Record.Meta.triggers, stamp_trigger(), tombstone_trigger()]
        indexes = [
            models.Index(fields=["station", "created_at", "id"], name="weather_day_listed"),
            models.Index(fields=["station", "day", "id"], name="weather_day_by_day"),
        ]
        constraints = [
            once_an_import_key("weather_day"),
            models.UniqueConstraint(
                fields=["station", "day"],
                condition=Q(kind=WeatherKind.OBSERVED, retired_on__isnull=True),
                name="weather_observed_once_a_day",
                violation_error_code="already-taken",
                violation_error_message="The station has an observed row of this day.",
            ),
            models.UniqueConstraint(
                fields=["station", "day", "forecast_on"],
                condition=Q(kind=WeatherKind.FORECAST, retired_on__isnull=True),
                name="weather_forecast_once_a_day",
                violation_error_code="already-taken",
                violation_error_message="The station has a forecast of that day for this one.",
            ),
            models.CheckConstraint(
                condition=Q(kind=WeatherKind.OBSERVED, forecast_on__isnull=True)
                | Q(
                    kind=WeatherKind.FORECAST, forecast_on__isnull=False, forecast_on__lte=F("day")
                ),
                name="weather_forecast_has_its_day",
                violation_error_message=(
                    "A forecast says on which day it was made, not after the day it is for;"
                    " an observed day says none."
                ),
            ),
            models.CheckConstraint(
                condition=Q(tmin_c__isnull=True)
                | Q(tmax_c__isnull=True)
                | Q(tmin_c__lte=F("tmax_c")),
                name="weather_tmin_not_above_tmax",
                violation_error_message="The lowest temperature is above the highest.",
            ),
            models.CheckConstraint(
                condition=_any_reading(),
                name="weather_day_reads_something",
                violation_error_message="Give at least one reading.",
            ),
            models.CheckConstraint(
                condition=_whole_day("hourly_temperature_c"),
                name="weather_temperature_of_every_hour",
                violation_error_message="Hourly readings cover the whole day, null if missing.",
            ),
            models.CheckConstraint(
                condition=_whole_day("hourly_humidity_percent"),
                name="weather_humidity_of_every_hour",
                violation_error_message="Hourly readings cover the whole day, null if missing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.day}"

    @property
    def warnings(self) -> list[dict[str, str]]:
        """Temperatures that no place of annonas has: degrees Fahrenheit, or a slip of the pen."""
        lowest, highest = CELSIUS_RANGE
        return [
            warning("not-celsius", name, f"{value} is hardly a temperature in Celsius here.")
            for name in ("tmin_c", "tmax_c")
            if (value := getattr(self, name)) is not None and not lowest <= value <= highest
        ]
