"""A farm's degree days from day to day, with what is missing and what is doubtful named."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from planning.compute.degree_days import (
    FAHRENHEIT_PER_CELSIUS,
    Cutoff,
    Gap,
    Method,
    Thresholds,
    degree_days,
    gaps,
    interpolated,
    running_sum,
    to_celsius,
)
from planning.queries.weather import NORMAL, DayKind, WeatherDays, farm_weather
from records.choices import CELSIUS_RANGE
from records.models import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class SumAsked:
    """Thresholds and degree days in Celsius, unless `is_fahrenheit`."""

    first: dt.date
    last: dt.date
    lower: float
    upper: float | None = None
    method: Method = Method.SINE
    cutoff: Cutoff = Cutoff.HORIZONTAL
    is_fahrenheit: bool = False
    interpolate_days: int = 0

    def thresholds(self) -> Thresholds:
        """In Celsius, as the weather is kept; DegreeDayError where they contradict each other."""
        given = Thresholds(lower=self.lower, upper=self.upper, cutoff=self.cutoff)
        if not self.is_fahrenheit:
            return given
        upper = None if given.upper is None else to_celsius(given.upper)
        return Thresholds(lower=to_celsius(given.lower), upper=upper, cutoff=given.cutoff)


@dataclass(frozen=True, slots=True, kw_only=True)
class SummedDay:
    """None is not known; `kind` is None of a day without a record."""

    day: dt.date
    kind: DayKind | None
    is_interpolated: bool
    tmin_c: float | None
    tmax_c: float | None
    degree_days: float | None
    cumulative: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Days without a lowest or highest temperature."""

    first_on: dt.date
    last_on: dt.date
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DegreeDaySum:
    days: Sequence[SummedDay]
    gaps: Sequence[Missing]
    interpolated: Sequence[Missing]
    warnings: Sequence[str]


def degree_day_sum(farm: Farm, today: dt.date, asked: SumAsked) -> DegreeDaySum:
    """By observed days, else by the newest forecast of them; other days are unknown."""
    thresholds = asked.thresholds()
    known = farm_weather(farm.pk, asked.first).known_on(today, asked.first, asked.last)
    low, high, filled = interpolated(*_recorded(known), asked.interpolate_days)
    daily = degree_days(low, high, thresholds, asked.method)
    if asked.is_fahrenheit:
        daily *= FAHRENHEIT_PER_CELSIUS
    missing = gaps(low, high)
    return DegreeDaySum(
        days=list(_days(known, low, high, daily, filled)),
        gaps=[_missing(known, gap) for gap in missing],
        interpolated=[_missing(known, gap) for gap in filled],
        warnings=list(_warnings(known, low, high, missing)),
    )


def _recorded(known: WeatherDays) -> tuple[np.ndarray, np.ndarray]:
    is_normal = known.kinds == NORMAL
    return (
        np.where(is_normal, np.nan, known.tmin_c),
        np.where(is_normal, np.nan, known.tmax_c),
    )


def _days(
    known: WeatherDays,
    low: np.ndarray,
    high: np.ndarray,
    daily: np.ndarray,
    filled: Sequence[Gap],
) -> Iterator[SummedDay]:
    sums = running_sum(daily)
    between = {place for gap in filled for place in range(gap.first, gap.last + 1)}
    for place in range(daily.size):
        kind = known.kind(place)
        yield SummedDay(
            day=known.day(place),
            kind=None if kind is DayKind.NORMAL else kind,
            is_interpolated=place in between,
            tmin_c=_number(low[place]),
            tmax_c=_number(high[place]),
            degree_days=_number(daily[place]),
            cumulative=_number(sums[place]),
        )


def _warnings(
    known: WeatherDays, low: np.ndarray, high: np.ndarray, missing: Sequence[Gap]
) -> Iterator[str]:
    if missing and missing[0].days == low.size:
        yield (
            "The farm goes by no weather station with temperatures on these days: record a"
            " station, the farm's use of it, and its days."
        )
    elif missing:
        yield (
            f"The sum is not known from {known.day(missing[0].first)} on: a temperature is missing"
            " there."
        )
    least, most = (float(each) for each in CELSIUS_RANGE)
    odd = np.flatnonzero((low < least) | (high < least) | (low > most) | (high > most))
    if odd.size:
        what = "day has a temperature" if odd.size == 1 else "days have temperatures"
        yield (
            f"{odd.size} {what} that can hardly be Celsius, the first {known.day(int(odd[0]))}: it"
            " may be in Fahrenheit."
        )


def _missing(known: WeatherDays, gap: Gap) -> Missing:
    return Missing(first_on=known.day(gap.first), last_on=known.day(gap.last), days=gap.days)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
