"""The degree days of a farm as they were known on a day, read once and only where they help."""

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from uuid import UUID

import numpy as np

from planning.compute.degree_days import Thresholds, degree_days
from planning.compute.stage_forecasts import Cycle, Heat, SpeciesFacts
from planning.compute.stage_forecasts.spread import ENOUGH
from planning.queries.weather import (
    FORECAST,
    NO_KIND,
    NORMAL,
    FarmWeather,
    farm_weather,
)

STEP_C = 0.5
AHEAD = dt.timedelta(days=550)


@dataclass(slots=True, kw_only=True)
class FarmHeat:
    """`since` is the first day that anything is counted from; None where nothing was seen."""

    farm_id: UUID
    bases_c: tuple[float, ...]
    since: dt.date | None
    forecasts_since: dt.date | None = None
    _weather: FarmWeather | None = None
    _known: dict[tuple[dt.date, float | None], Heat | None] = field(default_factory=dict)

    @staticmethod
    def bases_for(facts: Iterable[SpeciesFacts]) -> tuple[float, ...]:
        found: set[float] = set()
        for each in facts:
            steps = round((each.fit_to_c - each.fit_from_c) / STEP_C)
            found |= {each.fit_from_c + STEP_C * step for step in range(steps + 1)}
            if each.base_c is not None:
                found.add(each.base_c)
        return tuple(sorted(found))

    def helps(self, past: Sequence[Cycle]) -> bool:
        """Degree days are looked at from three earlier crops on."""
        return self.since is not None and len(past) >= ENOUGH

    def known_on(self, as_of: dt.date, upper_c: float | None = None) -> Heat | None:
        """None where the farm's stations have nothing of the days that are counted."""
        key = as_of, upper_c
        if key not in self._known:
            # Days come in order: those of another day are not asked for again.
            self._known = {each: heat for each, heat in self._known.items() if each[0] == as_of}
            self._known[key] = self._heat(as_of, upper_c)
        return self._known[key]

    def _heat(self, as_of: dt.date, upper_c: float | None) -> Heat | None:
        first = self._first()
        if first is None or first > as_of:
            return None
        days = self._read().known_on(as_of, first, as_of + AHEAD)
        forecast_from = days.first_of(FORECAST, NORMAL, NO_KIND)
        normals_from = days.first_of(NORMAL, NO_KIND)
        low, high = days.tmin_c.copy(), days.tmax_c.copy()
        # A day missing among recorded ones stays missing: normals are for days to come.
        gaps = days.kinds[: (normals_from - first).days] == NORMAL
        low[: gaps.size][gaps] = np.nan
        return Heat.of_days(
            _daily(low, high, _usable(self.bases_c, upper_c), upper_c),
            starts_on=first,
            bases_c=_usable(self.bases_c, upper_c),
            forecast_from=forecast_from,
            normals_from=normals_from,
        )

    def _first(self) -> dt.date | None:
        observed = self._read().first_day
        if observed is None or self.since is None:
            return None
        return max(observed, self.since)

    def _read(self) -> FarmWeather:
        if self._weather is None:
            self._weather = farm_weather(self.farm_id, self.forecasts_since)
        return self._weather


def _usable(bases_c: Collection[float], upper_c: float | None) -> tuple[float, ...]:
    return tuple(base for base in bases_c if upper_c is None or base < upper_c)


def _daily(
    low: np.ndarray, high: np.ndarray, bases_c: Sequence[float], upper_c: float | None
) -> np.ndarray:
    return np.array(
        [degree_days(low, high, Thresholds(lower=base, upper=upper_c)) for base in bases_c]
    ).reshape(len(bases_c), low.size)
