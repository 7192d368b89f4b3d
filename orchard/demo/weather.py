"""The demo's weather: invented days, observed up to the cast's day and forecast for ten more.

A day's mean follows the course of the year, with spells of several warmer or cooler days; years
in which the orchards run late are cool ones. A year is drawn from its station and number alone, so
that days past never change.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from math import cos, pi
from random import Random

from orchard.demo.cast import Cast, Farm, Station
from orchard.demo.course import season_luck

YEARS_BACK = 4
FORECAST_DAYS = 10
COOL_A_DAY_LATE = 0.15  # degrees C
STAYS = 0.75  # the part of a day's warmth or cold that the next day keeps
SPELL_C = 1.1
FORECAST_ERROR_C = 0.15  # a day ahead


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day of a station, in the units of the records; `forecast_on` is None if observed."""

    station: str
    day: date
    tmin_c: float
    tmax_c: float
    rain_mm: float
    humidity_percent: float
    forecast_on: date | None = None


def weather(cast: Cast) -> Iterator[Day]:
    """Every station's days from the first of January four years ago, in order."""
    farms = {farm.code: farm for farm in cast.farms}
    for station in cast.stations:
        farm = farms[station.farms[0]]
        day = date(cast.as_of.year - YEARS_BACK, 1, 1)
        while day <= cast.as_of + timedelta(days=FORECAST_DAYS):
            yield _day(cast, station, farm, day)
            day += timedelta(days=1)


def _day(cast: Cast, station: Station, farm: Farm, day: date) -> Day:
    rng, ahead = Random(f"{station.name} {day}"), (day - cast.as_of).days
    late = season_luck(farm, farm.season_span(day.year)).days_late
    mean = _mean_c(station, day) - COOL_A_DAY_LATE * late
    mean += _spells(station, day.year)[day.timetuple().tm_yday - 1]
    if ahead > 0:
        mean += rng.gauss(0, FORECAST_ERROR_C * ahead)
    is_wet = rng.random() * 100 < station.wet_days_percent
    range_c = station.daily_range_c * rng.uniform(0.75, 1.2) * (0.7 if is_wet else 1)
    humidity = station.humidity_percent + rng.gauss(0, 6) + (12 if is_wet else 0)
    return Day(
        station=station.name,
        day=day,
        tmin_c=round(mean - range_c / 2, 1),
        tmax_c=round(mean + range_c / 2, 1),
        rain_mm=round(rng.expovariate(1 / 7), 1) if is_wet else 0.0,
        humidity_percent=round(min(max(humidity, 25), 99), 1),
        forecast_on=cast.as_of if ahead > 0 else None,
    )


def _mean_c(station: Station, day: date) -> float:
    """The usual mean of a day of the year."""
    angle = 2 * pi * (day.timetuple().tm_yday - station.warmest_on_day) / 365.25
    middle = (station.warmest_c + station.coldest_c) / 2
    return middle + (station.warmest_c - station.coldest_c) / 2 * cos(angle)


@cache
def _spells(station: Station, year: int) -> tuple[float, ...]:
    """How much warmer each day of a year is than others of its season."""
    rng, spell, days = Random(f"{station.name} {year}"), 0.0, []
    for _ in range(366):
        spell = STAYS * spell + rng.gauss(0, SPELL_C)
        days.append(spell)
    return tuple(days)
