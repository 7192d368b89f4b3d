"""A farm's weather by day, from the stations that it goes by.

A day is observed; or the newest forecast of it made by then; or, where neither is recorded, the
station's own normal of its earlier years. Each says which.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any
from uuid import UUID

import numpy as np
from django.db.models import FloatField, Q
from django.db.models.functions import Cast
from numpy.typing import NDArray

from planning.compute.weather_normals import normals, places_in_year
from records.choices import WeatherKind
from records.models import StationUse, WeatherDay

Floats = NDArray[np.float64]
READINGS = ("tmin_c", "tmax_c", "humidity_percent")
ONE_DAY = dt.timedelta(days=1)


class DayKind(StrEnum):
    """What a day's readings are; a day of no kind has none."""

    OBSERVED = "observed"
    FORECAST = "forecast"
    NORMAL = "normal"


NO_KIND, OBSERVED, FORECAST, NORMAL = range(4)
_KINDS = {OBSERVED: DayKind.OBSERVED, FORECAST: DayKind.FORECAST, NORMAL: DayKind.NORMAL}


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmDay:
    """One day; a reading that is not known is None, and so is the kind of a day without any."""

    day: dt.date
    kind: DayKind | None
    tmin_c: float | None
    tmax_c: float | None
    humidity_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherDays:
    """Days that follow each other: a row for each of `READINGS`, and the kind of each day."""

    starts_on: dt.date
    readings: Floats
    kinds: NDArray[np.int8]

    @property
    def tmin_c(self) -> Floats:
        return self.readings[0]

    @property
    def tmax_c(self) -> Floats:
        return self.readings[1]

    def day(self, place: int) -> dt.date:
        return self.starts_on + place * ONE_DAY

    def kind(self, place: int) -> DayKind | None:
        return _KINDS.get(int(self.kinds[place]))

    def first_of(self, *kinds: int) -> dt.date:
        """The first day from which on all are of these kinds; the day after the last if none."""
        others = np.flatnonzero(~np.isin(self.kinds, kinds))
        return self.day(int(others[-1]) + 1 if others.size else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Use:
    station_id: UUID
    starts_on: dt.date
    ends_on: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class _Forecast:
    made_on: dt.date
    day: dt.date
    readings: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Station:
    """Observed days that follow each other, a row a reading, and forecasts as they were made."""

    starts_on: dt.date
    observed: Floats
    forecasts: Sequence[_Forecast] = ()

    def place(self, day: dt.date) -> int:
        return (day - self.starts_on).days

    def until(self, day: dt.date) -> Floats:
        return self.observed[:, : max(self.place(day) + 1, 0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmWeather:
    """What the stations of a farm have recorded, and when it went by which."""

    uses: Sequence[_Use] = ()
    stations: Mapping[UUID, _Station] = field(default_factory=dict)

    @property
    def first_day(self) -> dt.date | None:
        """The first observed day of a station, on which the farm went by it."""
        days = [
            max(use.starts_on, station.starts_on)
            for use in self.uses
            if (station := self.stations[use.station_id]).observed.size
        ]
        return min(days, default=None)

    def known_on(self, as_of: dt.date, first: dt.date, last: dt.date) -> WeatherDays:
        """The days from `first` to `last` as far as they were known on a day."""
        size = max((last - first).days + 1, 0)
        found = WeatherDays(
            starts_on=first,
            readings=np.full((len(READINGS), size), np.nan),
            kinds=np.full(size, NO_KIND, dtype=np.int8),
        )
        for use in self.uses:
            self._fill(found, use, as_of, last)
        return found

    def _fill(self, found: WeatherDays, use: _Use, as_of: dt.date, last: dt.date) -> None:
        first = max(use.starts_on, found.starts_on)
        end = min(use.ends_on, last)
        if first > end:
            return
        station = self.stations[use.station_id]
        part = slice((first - found.starts_on).days, (end - found.starts_on).days + 1)
        readings, kinds = found.readings[:, part], found.kinds[part]
        _put_observed(readings, kinds, station, as_of, first)
        _put_forecasts(readings, kinds, station, as_of, first)
        _put_normals(readings, kinds, _normals(station, as_of), first)


def _put_observed(
    readings: Floats, kinds: NDArray[np.int8], station: _Station, as_of: dt.date, first: dt.date
) -> None:
    known = station.until(as_of)
    shift = station.place(first)
    start, stop = max(-shift, 0), min(kinds.size, known.shape[1] - shift)
    if start >= stop:
        return
    readings[:, start:stop] = known[:, start + shift : stop + shift]
    kinds[start:stop][~np.isnan(readings[:, start:stop]).all(axis=0)] = OBSERVED


def _put_forecasts(
    readings: Floats, kinds: NDArray[np.int8], station: _Station, as_of: dt.date, first: dt.date
) -> None:
    """The newest of each day; they are in the order in which they were made."""
    for each in station.forecasts:
        place = (each.day - first).days
        if each.made_on <= as_of and 0 <= place < kinds.size and kinds[place] != OBSERVED:
            readings[:, place] = each.readings
            kinds[place] = FORECAST


def _put_normals(
    readings: Floats, kinds: NDArray[np.int8], of_year: Floats, first: dt.date
) -> None:
    unknown = kinds == NO_KIND
    if not unknown.any():
        return
    readings[:, unknown] = of_year[:, places_in_year(first, kinds.size)[unknown]]
    kinds[unknown & ~np.isnan(readings).all(axis=0)] = NORMAL


def _normals(station: _Station, as_of: dt.date) -> Floats:
    known = station.until(as_of)
    return np.array([normals(row, station.starts_on) for row in known])


def farm_weather(farm_id: UUID, forecasts_since: dt.date | None = None) -> FarmWeather:
    """Everything recorded, in two queries; forecasts of earlier days are left out."""
    uses = [
        _Use(
            station_id=use.station_id,
            starts_on=use.starts_on or dt.date.min,
            ends_on=use.ends_on or dt.date.max,
        )
        for use in StationUse.objects.filter(farm_id=farm_id).order_by("starts_on")
    ]
    if not uses:
        return FarmWeather()
    return FarmWeather(
        uses=uses, stations=_stations({use.station_id for use in uses}, forecasts_since)
    )


def farm_days(farm_id: UUID, first: dt.date, last: dt.date, as_of: dt.date) -> list[FarmDay]:
    """A farm's days as far as they are known on a day, in two queries."""
    days = farm_weather(farm_id, first).known_on(as_of, first, last)
    return [
        FarmDay(
            day=days.day(place),
            kind=days.kind(place),
            **{
                name: _number(row[place]) for name, row in zip(READINGS, days.readings, strict=True)
            },
        )
        for place in range(days.kinds.size)
    ]


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _stations(ids: Iterable[UUID], forecasts_since: dt.date | None) -> dict[UUID, _Station]:
    observed: dict[UUID, list[tuple[Any, ...]]] = {pk: [] for pk in ids}
    forecast: dict[UUID, list[_Forecast]] = defaultdict(list)
    rows = WeatherDay.objects.filter(station_id__in=observed, retired_on=None)
    if forecasts_since is not None:
        rows = rows.filter(Q(kind=WeatherKind.OBSERVED) | Q(day__gte=forecasts_since))
    columns = [Cast(name, FloatField()) for name in READINGS]
    for station_id, kind, made_on, day, *readings in rows.order_by(
        "forecast_on", "day"
    ).values_list("station_id", "kind", "forecast_on", "day", *columns):
        numbers = tuple(np.nan if value is None else value for value in readings)
        if kind == WeatherKind.OBSERVED:
            observed[station_id].append((day, *numbers))
        else:
            forecast[station_id].append(_Forecast(made_on=made_on, day=day, readings=numbers))
    return {pk: _station(found, forecast[pk]) for pk, found in observed.items()}


def _station(days: Sequence[tuple[Any, ...]], forecasts: Sequence[_Forecast]) -> _Station:
    if not days:
        nothing = np.empty((len(READINGS), 0))
        return _Station(starts_on=dt.date.max, observed=nothing, forecasts=forecasts)
    first, last = min(row[0] for row in days), max(row[0] for row in days)
    observed = np.full((len(READINGS), (last - first).days + 1), np.nan)
    places = [(row[0] - first).days for row in days]
    observed[:, places] = np.array([row[1:] for row in days]).T
    return _Station(starts_on=first, observed=observed, forecasts=forecasts)
