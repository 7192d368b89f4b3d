"""Degree days of each day from its lowest and highest temperature, and their sums.

With highest M, lowest m, mean a = (M + m) / 2 and amplitude b = (M - m) / 2, above a threshold T:

* average: max(0, a - T)
* average with substitution, which draws M and m apart to the threshold: (max(M, T) + max(m, T)) / 2
  - T (McMaster & Wilhelm 1997, Agric. For. Meteorol. 87:291-300; value from memory)
* single sine: with x = (T - a) / b drawn into -1 to 1,
  [(a - T)(pi/2 - asin x) + b sqrt(1 - x^2)] / pi (Baskerville & Emin 1969, Ecology 50:514-517;
  formula from memory)
* single triangle: (M - T)^2 / (2 (M - m)) where the day crosses T
* four cases: a - T; 0; (M - T) / 2 - (T - m) / 4 where a is above T; (M - T) / 4 where it is below
  (Met Eireann)

Above a lower threshold L and below an upper one U, D being the degree days above each:

* horizontal cutoff: D(L) - D(U); growth goes on at the rate of U
* vertical: D(L) - D(U) - (U - L) * share of the day above U; it stops above U
* intermediate: D(L) - 2 D(U); it slows down above U (definitions: UC IPM, ddmoreinfo;
  Zalom et al. 1983, value from memory)

A day is never below nought. A day without M or m is unknown (nan), and so is every sum that spans
it. Arrays may have any shape, the days last.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

FAHRENHEIT_PER_CELSIUS = 1.8
TINY = 1e-300  # in place of an amplitude of nought


class DegreeDayError(ValueError):
    """Temperatures or thresholds of which no degree days can be made."""


class Method(StrEnum):
    AVERAGE = "average"
    SUBSTITUTION = "average-with-substitution"
    SINE = "single-sine"
    TRIANGLE = "single-triangle"
    FOUR_CASES = "four-cases"


class Cutoff(StrEnum):
    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    INTERMEDIATE = "intermediate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """In the unit of the temperatures; without an upper one there is nothing to cut off."""

    lower: float
    upper: float | None = None
    cutoff: Cutoff = Cutoff.HORIZONTAL

    def __post_init__(self) -> None:
        for name, value in (("lower", self.lower), ("upper", self.upper)):
            if value is not None and not isfinite(value):
                raise DegreeDayError(f"The {name} threshold must be a number, not {value}.")
        if self.upper is not None and self.lower >= self.upper:
            raise DegreeDayError(
                f"The lower threshold, {self.lower:g}, must be below the upper, {self.upper:g}."
            )


def degree_days(
    tmin: Any, tmax: Any, thresholds: Thresholds, method: Method = Method.SINE
) -> Floats:
    """The degree days of each day; nan where either temperature is nan."""
    low, high = np.asarray(tmin, dtype=np.float64), np.asarray(tmax, dtype=np.float64)
    _check(low, high)
    day = _Day(low=low, high=high)
    above, share = _ABOVE[method]
    found = above(day, thresholds.lower)
    if thresholds.upper is not None:
        _cut_off(found, day, thresholds, thresholds.upper, above, share)
    return found


def running_sum(daily: Floats) -> Floats:
    """The sum up to each day; unknown (nan) from the first unknown day on."""
    return np.cumsum(daily, axis=-1)


def to_celsius(fahrenheit: float) -> float:
    """A temperature, such as a threshold. Degree days have no zero to shift: see below."""
    return (fahrenheit - 32) / FAHRENHEIT_PER_CELSIUS


def in_fahrenheit(celsius_days: Floats) -> Floats:
    """Degree days are differences: 1 C is 1.8 F, and 32 is not added."""
    return celsius_days * FAHRENHEIT_PER_CELSIUS


# Gaps --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Places of the first and last of some unknown days that follow each other."""

    first: int
    last: int

    @property
    def days(self) -> int:
        return self.last - self.first + 1


def gaps(*readings: Floats) -> list[Gap]:
    """The runs of days on which any of some readings of one place is missing."""
    return list(_runs(_unknown(*readings)))


def interpolated(tmin: Floats, tmax: Floats, at_most_days: int) -> tuple[Floats, Floats, list[Gap]]:
    """One place's temperatures with its short gaps filled along a straight line, and those gaps.

    Gaps longer than `at_most_days`, and those at either end, stay unknown.
    """
    missing = _unknown(tmin, tmax)
    short = [
        gap
        for gap in _runs(missing)
        if gap.days <= at_most_days and gap.first > 0 and gap.last < missing.size - 1
    ]
    filled = np.zeros(missing.shape, dtype=bool)
    for gap in short:
        filled[gap.first : gap.last + 1] = True
    days = np.arange(missing.size)
    low, high = tmin.copy(), tmax.copy()
    if short:
        for readings in (low, high):
            readings[filled] = np.interp(days[filled], days[~missing], readings[~missing])
    return low, high, short


def _unknown(*readings: Floats) -> Flags:
    missing = np.zeros(readings[0].shape, dtype=bool)
    for each in readings:
        missing |= np.isnan(each)
    return missing


def _runs(flags: Flags) -> Iterator[Gap]:
    edges = np.flatnonzero(np.diff(flags, prepend=False, append=False))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        yield Gap(first=int(first), last=int(after) - 1)


# Checks ------------------------------------------------------------------------------------------


def _check(low: Floats, high: Floats) -> None:
    if low.shape != high.shape:
        raise DegreeDayError("There must be as many lowest as highest temperatures.")
    for name, readings in (("lowest", low), ("highest", high)):
        if np.isinf(np.fmin.reduce(readings, axis=None, initial=0.0)) or np.isinf(
            np.fmax.reduce(readings, axis=None, initial=0.0)
        ):
            raise DegreeDayError(f"A {name} temperature is infinite.")
    if (low > high).any():
        place = tuple(int(index[0]) for index in np.nonzero(low > high))
        raise DegreeDayError(
            f"The lowest temperature, {low[place]:g}, is above the highest, {high[place]:g}."
        )


# Above one threshold -----------------------------------------------------------------------------


class _Day:
    """Temperatures of days, with what is shared between two thresholds."""

    __slots__ = ("amplitude", "high", "low", "mean")

    def __init__(self, *, low: Floats, high: Floats) -> None:
        self.low, self.high = low, high
        self.mean = low + high
        self.mean *= 0.5
        self.amplitude = high - low
        self.amplitude *= 0.5
        np.maximum(self.amplitude, TINY, out=self.amplitude)


Above = Callable[[_Day, float], Floats]


def _average(day: _Day, threshold: float) -> Floats:
    found = day.mean - threshold
    return np.maximum(found, 0, out=found)


def _average_share(day: _Day, threshold: float) -> Floats:
    return np.heaviside(day.mean - threshold, 0.0)


def _substituted(day: _Day, threshold: float) -> Floats:
    found = np.maximum(day.high, threshold)
    found += np.maximum(day.low, threshold)
    found *= 0.5
    found -= threshold
    return found


def _substituted_share(day: _Day, threshold: float) -> Floats:
    share = np.heaviside(day.high - threshold, 0.0)
    share += np.heaviside(day.low - threshold, 0.0)
    share *= 0.5
    return share


def _crossing(day: _Day, threshold: float) -> Floats:
    """Where the day's sine crosses the threshold: -1 at its lowest, 1 at its highest."""
    crossing = threshold - day.mean
    crossing /= day.amplitude
    return np.clip(crossing, -1, 1, out=crossing)


def _sine(day: _Day, threshold: float) -> Floats:
    crossing = _crossing(day, threshold)
    found = np.arccos(crossing)  # pi/2 - asin x
    found *= day.mean - threshold
    np.multiply(crossing, crossing, out=crossing)
    np.subtract(1, crossing, out=crossing)
    np.sqrt(crossing, out=crossing)
    crossing *= day.amplitude
    found += crossing
    found *= 1 / pi
    return np.maximum(found, 0, out=found)  # rounding


def _sine_share(day: _Day, threshold: float) -> Floats:
    share = np.arccos(_crossing(day, threshold))
    share *= 1 / pi
    return share


def _triangle_share(day: _Day, threshold: float) -> Floats:
    share = 1 - _crossing(day, threshold)
    share *= 0.5
    return share


def _triangle(day: _Day, threshold: float) -> Floats:
    """Nought above the highest, a - T below the lowest: the square, and what is left below."""
    share = _triangle_share(day, threshold)
    found = np.multiply(share, share)
    found *= day.amplitude
    below = np.subtract(day.low, threshold, out=share)
    np.maximum(below, 0, out=below)
    found += below
    return found


def _four_cases(day: _Day, threshold: float) -> Floats:
    over = np.maximum(day.high - threshold, 0)
    under = np.maximum(threshold - day.low, 0)
    found = np.where(day.mean > threshold, over / 2 - under / 4, over / 4)
    found = np.where(day.low >= threshold, day.mean - threshold, found)
    found[np.isnan(day.mean)] = np.nan
    return found


_ABOVE: Mapping[Method, tuple[Above, Above]] = {
    Method.AVERAGE: (_average, _average_share),
    Method.SUBSTITUTION: (_substituted, _substituted_share),
    Method.SINE: (_sine, _sine_share),
    Method.TRIANGLE: (_triangle, _triangle_share),
    # The rule has no share of its own; its day is a triangle's, drawn coarsely.
    Method.FOUR_CASES: (_four_cases, _triangle_share),
}


def _cut_off(
    found: Floats,
    day: _Day,
    thresholds: Thresholds,
    upper: float,
    above: Above,
    share: Above,
) -> None:
    hot = above(day, upper)
    found -= hot
    if thresholds.cutoff is Cutoff.INTERMEDIATE:
        found -= hot
    if thresholds.cutoff is Cutoff.VERTICAL:
        stopped = share(day, upper)
        stopped *= upper - thresholds.lower
        found -= stopped
    np.maximum(found, 0, out=found)
