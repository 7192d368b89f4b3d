"""A station's own normals: the mean of its earlier years for each day of the year.

Each day of the year takes the readings of all years within seven days of it, 29 February having a
place of its own; where fewer than two years have any, it has no normal. A reading that is missing
is missing from its mean alone.
"""

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

DAYS = 366
EITHER_SIDE = 7
LEAST_YEARS = 2
LEAP_YEAR = 2000


def places_in_year(starts_on: date, days: int) -> Places:
    """The place, 0 to 365, of each of some days in a leap year: 1 March is always 60."""
    first = np.datetime64(starts_on, "D")
    dates = first + np.arange(days)
    months = dates.astype("datetime64[M]")
    day_of_month = (dates - months).astype(np.int64)
    month = months.astype(np.int64) % 12
    firsts = np.array([_place(date(LEAP_YEAR, each, 1)) for each in range(1, 13)])
    found: Places = firsts[month] + day_of_month
    return found


def normals(readings: Floats, starts_on: date) -> Floats:
    """The normal of each day of the year, from a station's days; nan where there is none."""
    if not readings.size:
        return np.full(DAYS, np.nan)
    places = places_in_year(starts_on, readings.size)
    first = np.datetime64(starts_on, "D")
    years = (first + np.arange(readings.size)).astype("datetime64[Y]").astype(np.int64)
    years -= years[0]
    known = ~np.isnan(readings)
    shape = (int(years[-1]) + 1, DAYS)
    sums, counts = np.zeros(shape), np.zeros(shape)
    sums[years[known], places[known]] = readings[known]
    counts[years[known], places[known]] = 1
    sums, counts = _within_days(sums), _within_days(counts)
    is_enough = (counts > 0).sum(axis=0) >= LEAST_YEARS
    total = np.maximum(counts.sum(axis=0), 1)
    return np.where(is_enough, sums.sum(axis=0) / total, np.nan)


def _within_days(values: Floats) -> Floats:
    """For each day of the year, the sum over those up to a week before and after."""
    around = np.concatenate([values[:, -EITHER_SIDE:], values, values[:, :EITHER_SIDE]], axis=1)
    sums = np.cumsum(np.pad(around, ((0, 0), (1, 0))), axis=1)
    width = 2 * EITHER_SIDE + 1
    found: Floats = sums[:, width:] - sums[:, :-width]
    return found


def _place(day: date) -> int:
    return (day - date(LEAP_YEAR, 1, 1)) // timedelta(days=1)
