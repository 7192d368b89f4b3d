"""A stage's date by days from an anchor, degree days from it, or the block's own calendar.

Where three seasons or more are on record, each method foretells each of them from the others, and
the one with the least mean absolute error is taken. Methods are compared on the same seasons.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import hypot
from statistics import fmean

import numpy as np

from planning.compute.stage_forecasts.base import Base, best_base
from planning.compute.stage_forecasts.heat import Heat, in_year
from planning.compute.stage_forecasts.spread import ENOUGH, Spread, next_value, quantile
from planning.compute.stage_forecasts.values import (
    Cycle,
    DayRange,
    Method,
    SpeciesFacts,
    Stage,
)

Inputs = Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """The day that a stage is counted from; a forecast one has an interval of its own."""

    stage: Stage
    on: date
    half: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """An earlier crop of which both anchor and stage were seen as they came."""

    season_year: int
    anchor_on: date
    on: date

    @property
    def days(self) -> int:
        return (self.on - self.anchor_on).days


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A date as an ordinal, with half the width of its 80 % interval."""

    method: Method
    spread: Spread
    inputs: Inputs


def pairs_of(past: Sequence[Cycle], anchor: Stage, stage: Stage, as_of: date) -> list[Pair]:
    return [
        Pair(
            season_year=cycle.season_year,
            anchor_on=cycle.sights[anchor].on,
            on=cycle.sights[stage].on,
        )
        for cycle in past
        if cycle.days_between(anchor, stage, as_of) is not None
    ]


def from_anchor(
    anchor: Anchor,
    pairs: Sequence[Pair],
    days: DayRange | None,
    season_year: int | None,
    heat: Heat | None,
    facts: SpeciesFacts,
) -> Estimate | None:
    """The best estimate from an anchor; None where neither block nor species says anything.

    Without a season the calendar is left out: the crop comes at another time of the year.
    """
    if len(pairs) >= ENOUGH:
        return _chosen(anchor, pairs, season_year, heat, facts)
    if not pairs and days is None:
        return None
    known = [pair.days for pair in pairs]
    spread = next_value(known, (days.low, days.high) if days else None)
    inputs: dict[str, object] = {"seasons": _seasons(pairs), "days": known}
    if days is not None:
        inputs["species_days"] = [days.low, days.high]
        inputs["species_source"] = days.source
    method = Method.DAYS if days is None else Method.SHRUNK if pairs else Method.SPECIES
    return Estimate(
        method=method, spread=spread.after(anchor.on.toordinal(), anchor.half), inputs=inputs
    )


def from_calendar(
    past: Sequence[Cycle], stage: Stage, season_year: int, as_of: date
) -> Estimate | None:
    """The mean day of the block's earlier seasons; None where it was seen in none."""
    seen = [
        (cycle.season_year, sight.on)
        for cycle in past
        if (sight := cycle.seen(stage, as_of)) is not None and sight.is_exact
    ]
    if not seen:
        return None
    days = [_this_season(on, year, season_year) for year, on in seen]
    return Estimate(
        method=Method.HISTORY,
        spread=next_value(days),
        inputs={"seasons": [year for year, _ in seen], "dates": [on.isoformat() for _, on in seen]},
    )


def _this_season(on: date, year: int, season_year: int) -> float:
    """The same day of the year in the season that is forecast, as an ordinal."""
    return float(in_year(on, on.year + season_year - year).toordinal())


def _seasons(pairs: Sequence[Pair]) -> list[int]:
    return [pair.season_year for pair in pairs]


# Three seasons and more --------------------------------------------------------------------------


def _chosen(
    anchor: Anchor,
    pairs: Sequence[Pair],
    season_year: int | None,
    heat: Heat | None,
    facts: SpeciesFacts,
) -> Estimate:
    """The method with the least mean error; the first of them where they err alike."""
    warm = _warm(anchor, pairs, heat, facts) if heat is not None else None
    compared = warm.pairs if warm else pairs
    errors = {Method.DAYS: _days_error(compared)}
    if warm is not None:
        errors[Method.DEGREE_DAYS] = float(np.abs(warm.base.errors).mean())
    if not anchor.half and season_year is not None:
        errors[Method.HISTORY] = _calendar_error(compared, season_year)
    method = min(errors, key=lambda each: errors[each])
    told: dict[str, object] = {
        "errors_days": {str(each): round(error, 2) for each, error in errors.items()},
        "errors_seasons": _seasons(compared),
    }
    if method is Method.DEGREE_DAYS and warm is not None:
        return warm.estimate(anchor, told)
    if method is Method.HISTORY and season_year is not None:
        days = [_this_season(pair.on, pair.season_year, season_year) for pair in pairs]
        told |= {"seasons": _seasons(pairs), "dates": [pair.on.isoformat() for pair in pairs]}
        return Estimate(method=method, spread=next_value(days), inputs=told)
    known = [pair.days for pair in pairs]
    spread = next_value(known).after(anchor.on.toordinal(), anchor.half)
    told |= {"seasons": _seasons(pairs), "days": known}
    return Estimate(method=Method.DAYS, spread=spread, inputs=told)


def _days_error(pairs: Sequence[Pair]) -> float:
    return _left_out_error([pair.days for pair in pairs])


def _calendar_error(pairs: Sequence[Pair], season_year: int) -> float:
    return _left_out_error([_this_season(pair.on, pair.season_year, season_year) for pair in pairs])


def _left_out_error(values: Sequence[float]) -> float:
    """The mean absolute difference of each value from the mean of the others."""
    n, mean = len(values), fmean(values)
    return fmean(abs(value - mean) for value in values) * n / (n - 1)


# Degree days -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Warm:
    """Degree days from an anchor, where every day from it to the stage is known."""

    heat: Heat
    base: Base
    base_source: str
    pairs: Sequence[Pair]
    needs: Sequence[float]
    middle: float  # places of days, as `heat` counts them
    early: float
    late: float
    replayed: Sequence[float]

    def estimate(self, anchor: Anchor, told: dict[str, object]) -> Estimate:
        """Half the interval: by the heat needed, by the weather to come, and by the anchor."""
        by_heat = max(self.late - self.middle, self.middle - self.early, 1.0)
        half = hypot(by_heat, self._by_weather(), anchor.half)
        heat, base = self.heat, self.heat.bases_c[self.base.place]
        told |= {
            "seasons": _seasons(self.pairs),
            "degree_days": [round(need, 1) for need in self.needs],
            "base_c": base,
            "base_source": "fitted to the block's own crops"
            if self.base.is_fitted
            else self.base_source,
        }
        gathered = self._gathered(anchor)
        if gathered is not None:
            told["gathered"] = round(gathered, 1)
        ends_on = heat.day(round(self.middle))
        if ends_on >= heat.forecast_from:
            told["forecast_from"] = heat.forecast_from.isoformat()
        if ends_on >= heat.normals_from:
            told["normals_from"] = heat.normals_from.isoformat()
        start = heat.starts_on.toordinal()
        return Estimate(
            method=Method.DEGREE_DAYS,
            spread=Spread(middle=start + self.middle, half=half),
            inputs=told,
        )

    def _by_weather(self) -> float:
        """From what the same date would be under each earlier year's weather."""
        n = len(self.replayed)
        if n < 2:
            return 0.0
        return quantile(n - 1) * float(np.std(self.replayed, ddof=1))

    def _gathered(self, anchor: Anchor) -> float | None:
        """Heat since the anchor, up to the last observed day."""
        until = self.heat.forecast_from - timedelta(days=1)
        if until < anchor.on:
            return None
        places = self.heat.places([anchor.on]), self.heat.places([until])
        gathered = float(self.heat.between(*places)[self.base.place, 0])
        return gathered if np.isfinite(gathered) else None


def _warm(anchor: Anchor, pairs: Sequence[Pair], heat: Heat, facts: SpeciesFacts) -> _Warm | None:
    """None where fewer than three seasons have their heat known, or no base temperature is."""
    if not heat.bases_c:
        return None
    anchors = heat.places([pair.anchor_on for pair in pairs])
    ends = heat.places([pair.on for pair in pairs])
    needs = heat.between(anchors, ends)
    known = np.isfinite(needs[0]) & (ends > anchors)
    if known.sum() < ENOUGH:
        return None
    anchors, ends, needs = anchors[known], ends[known], needs[:, known]
    base = best_base(heat, anchors, ends, needs, facts)
    if base is None or not np.isfinite(base.errors).all():
        return None
    needed = [float(need) for need in needs[base.place]]
    spread = next_value(needed, least_sd=0.0)
    wanted = np.array([spread.middle, spread.middle - spread.half, spread.middle + spread.half])
    start = np.repeat(heat.places([anchor.on]), 3)
    middle, early, late = heat.reaching(start, np.maximum(wanted, 0), base.place)
    if not np.isfinite([middle, early, late]).all():
        return None
    return _Warm(
        heat=heat,
        base=base,
        base_source=facts.base_source,
        pairs=[pair for pair, is_known in zip(pairs, known, strict=True) if is_known],
        needs=needed,
        middle=float(middle),
        early=float(early),
        late=float(late),
        replayed=heat.replayed(anchor.on, spread.middle, base.place).tolist(),
    )
