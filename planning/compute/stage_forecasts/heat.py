"""Degree days gathered from one day to another, and the day on which enough have gathered.

Heat counts from the day after the anchor to the day of the stage, both included. A gap in the
weather leaves what spans it unknown.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from planning.compute.stage_forecasts.values import ForecastError

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Degree days of a place, day by day from `starts_on`, above each of some base temperatures.

    `sums[b, i]` are those above `bases_c[b]` before day i, unknown days as nought; `gaps[i]` is the
    number of unknown days before day i. Days from `forecast_from` on are forecast, from
    `normals_from` on the station's own means of earlier years.
    """

    starts_on: date
    bases_c: tuple[float, ...]
    sums: Floats
    gaps: Whole
    forecast_from: date
    normals_from: date

    @classmethod
    def of_days(
        cls,
        daily: Floats,
        *,
        starts_on: date,
        bases_c: tuple[float, ...],
        forecast_from: date,
        normals_from: date,
    ) -> "Heat":
        """From each day's degree days, a row for each base temperature; nan is unknown."""
        if daily.shape[0] != len(bases_c):
            raise ForecastError("there is not one row of degree days for each base temperature")
        sums = np.zeros((daily.shape[0], daily.shape[1] + 1))
        np.cumsum(np.nan_to_num(daily), axis=1, out=sums[:, 1:])
        gaps = np.zeros(daily.shape[1] + 1, dtype=np.int64)
        np.cumsum(np.isnan(daily[0]) if len(bases_c) else gaps[1:], out=gaps[1:])
        return cls(
            starts_on=starts_on,
            bases_c=bases_c,
            sums=sums,
            gaps=gaps,
            forecast_from=forecast_from,
            normals_from=normals_from,
        )

    @property
    def n_days(self) -> int:
        return self.gaps.size - 1

    def place(self, day: date) -> int:
        return (day - self.starts_on).days

    def places(self, days: list[date]) -> Whole:
        return np.array([self.place(day) for day in days], dtype=np.int64)

    def day(self, place: int) -> date:
        return self.starts_on + timedelta(days=int(place))

    def between(self, anchors: Whole, ends: Whole) -> Floats:
        """Heat after each anchor up to and including each end, for every base; nan if unknown."""
        known = (anchors >= -1) & (ends < self.n_days) & (ends >= anchors)
        first, last = np.where(known, anchors, -1) + 1, np.where(known, ends, -1) + 1
        known &= self.gaps[last] == self.gaps[first]
        return np.where(known, self.sums[:, last] - self.sums[:, first], np.nan)

    def reaching(self, anchors: Whole, needs: Floats, base: int) -> Floats:
        """The place of the day on which each need has gathered since its anchor; nan if unknown."""
        inside = (anchors >= -1) & (anchors < self.n_days)
        first = np.where(inside, anchors, -1) + 1
        sums = self.sums[base]
        # A hair less, so that the sum that a need was taken from is found again.
        ends = np.searchsorted(sums, sums[first] + needs * (1 - 1e-12), side="left")
        ends = np.maximum(ends, first)
        found = inside & np.isfinite(needs) & (ends <= self.n_days)
        ends = np.minimum(ends, self.n_days)
        found &= self.gaps[ends] == self.gaps[first]
        return np.where(found, ends - 1, np.nan)

    def replayed(self, anchor: date, need: float, base: int) -> Floats:
        """On which place the need would be met if each earlier year's weather came from now on.

        Empty where it is met before the normals begin, or no earlier year is known.
        """
        known_until = max(anchor, self.normals_from - timedelta(days=1))
        gathered = self.between(self.places([anchor]), self.places([known_until]))[base, 0]
        if not gathered < need:
            return np.array([])
        starts = self._earlier(known_until)
        ends = self.reaching(starts, np.full(starts.size, need - gathered), base)
        ends[ends >= self.place(self.forecast_from)] = np.nan
        shifts = self.place(known_until) - starts
        moved: Floats = ends + shifts
        return moved[np.isfinite(moved)]

    def _earlier(self, day: date) -> Whole:
        """The places of this day in earlier years."""
        years = range(self.starts_on.year, day.year)
        return self.places([in_year(day, year) for year in years])


def in_year(day: date, year: int) -> date:
    """The same day of another year; 29 February is the 28th where there is none."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)
