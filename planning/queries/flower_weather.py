"""The weather of a farm's days as flowers feel it: observed where it was, else forecast.

With the readings of each hour, which tell an afternoon from its day; normals of other years would
not, and are left out.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import F, Q

from planning.compute.pollination_windows import DayWeather, HourReading
from records.choices import WeatherKind
from records.models import Farm, WeatherDay

Readings = Sequence[Decimal | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedWeather:
    """A station's day, and where it is from."""

    read: DayWeather
    kind: WeatherKind
    forecast_on: dt.date | None
    station_id: UUID
    station: str


def weather_of(farm: Farm, first: dt.date, last: dt.date) -> dict[dt.date, UsedWeather]:
    """By day, from the station that the farm goes by on it; of forecasts the last made."""
    rows = WeatherDay.objects.filter(
        Q(station__uses__starts_on__isnull=True) | Q(station__uses__starts_on__lte=F("day")),
        Q(station__uses__ends_on__isnull=True) | Q(station__uses__ends_on__gte=F("day")),
        station__uses__farm=farm,
        day__range=(first, last),
        retired_on__isnull=True,
    ).select_related("station")
    # The last of a day stays: forecasts by the day they were made, then what was observed.
    in_order = sorted(rows, key=lambda row: (row.day, row.forecast_on or dt.date.max))
    return {row.day: _used(row) for row in in_order}


def _used(row: WeatherDay) -> UsedWeather:
    return UsedWeather(
        read=DayWeather(
            tmin_c=_number(row.tmin_c),
            tmax_c=_number(row.tmax_c),
            humidity_percent=_number(row.humidity_percent),
            hours=_hours(row),
        ),
        kind=WeatherKind(row.kind),
        forecast_on=row.forecast_on,
        station_id=row.station_id,
        station=row.station.name,
    )


def _hours(row: WeatherDay) -> tuple[HourReading, ...]:
    """Hour by hour from the station's midnight; the list is shorter or longer as clocks change."""
    warmth: Readings = row.hourly_temperature_c or ()
    damp: Readings = row.hourly_humidity_percent or ()
    zone = ZoneInfo(row.station.time_zone)
    midnight = dt.datetime.combine(row.day, dt.time(), tzinfo=zone).astimezone(dt.UTC)
    return tuple(
        HourReading(
            at=midnight + dt.timedelta(hours=hour),
            temperature_c=_number(_at(warmth, hour)),
            humidity_percent=_number(_at(damp, hour)),
        )
        for hour in range(max(len(warmth), len(damp)))
    )


def _at(readings: Readings, hour: int) -> Decimal | None:
    return readings[hour] if hour < len(readings) else None


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
