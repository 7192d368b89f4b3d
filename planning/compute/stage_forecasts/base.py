"""The base temperature above which a stage's heat is counted.

A base is fitted by the least standard deviation in days: that of the cycles' degree days, divided
by the mean degree days of a day (Arnold 1959, Proc. Am. Soc. Hortic. Sci. 74:430-445; value from
memory). It is used only from five cycles on, and only where it foretells each cycle from the
others better than the cited base does.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from planning.compute.stage_forecasts.heat import Floats, Heat, Whole
from planning.compute.stage_forecasts.values import SpeciesFacts

CYCLES_TO_FIT = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """A base temperature by its place in `heat.bases_c`, and the days by which it errs."""

    place: int
    is_fitted: bool
    errors: Floats


def best_base(
    heat: Heat, anchors: Whole, ends: Whole, needs: Floats, facts: SpeciesFacts
) -> Base | None:
    """The base for some cycles whose heat is known; None where no base is cited or can be fitted.

    `needs` are the cycles' degree days, a row for each base.
    """
    cited = _cited(heat, anchors, ends, needs, facts)
    fitted = _fitted(heat, anchors, ends, needs, facts)
    if cited is None or fitted is None:
        return cited or fitted
    return fitted if _mean(fitted.errors) < _mean(cited.errors) else cited


def spread_in_days(needs: Floats, days: Floats) -> Floats:
    """For each base, the standard deviation of the cycles' heat in days of mean heat."""
    n = days.size
    return _spread(needs.sum(axis=1), (needs * needs).sum(axis=1), days.sum(), n)


def spread_of_others(needs: Floats, days: Floats) -> Floats:
    """The same for each base and each cycle, with that cycle left out."""
    squares = needs * needs
    sums = needs.sum(axis=1, keepdims=True) - needs
    return _spread(
        sums, squares.sum(axis=1, keepdims=True) - squares, days.sum() - days, days.size - 1
    )


def _spread(sums: Floats, squares: Floats, days: Any, n: int) -> Floats:
    """From the sum of n cycles' heat, of its squares, and of their days."""
    variance = np.maximum(squares - sums * sums / n, 0) / (n - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(variance) * days / sums
    return np.where(sums > 0, spread, np.inf)


def _cited(
    heat: Heat, anchors: Whole, ends: Whole, needs: Floats, facts: SpeciesFacts
) -> Base | None:
    if facts.base_c is None or facts.base_c not in heat.bases_c:
        return None
    place = heat.bases_c.index(facts.base_c)
    errors = heat.reaching(anchors, _of_others(needs[place]), place) - ends
    return Base(place=place, is_fitted=False, errors=errors)


def _fitted(
    heat: Heat, anchors: Whole, ends: Whole, needs: Floats, facts: SpeciesFacts
) -> Base | None:
    bases = np.array(heat.bases_c)
    tried = np.flatnonzero((bases >= facts.fit_from_c) & (bases <= facts.fit_to_c))
    if ends.size < CYCLES_TO_FIT or not tried.size:
        return None
    days = (ends - anchors).astype(np.float64)
    places = tried[np.argmin(spread_of_others(needs[tried], days), axis=0)]
    each = np.arange(ends.size)
    wanted = (needs[places].sum(axis=1) - needs[places, each]) / (ends.size - 1)
    errors = np.empty(ends.size)
    for place in np.unique(places):
        at = places == place
        errors[at] = heat.reaching(anchors[at], wanted[at], int(place)) - ends[at]
    place = int(tried[np.argmin(spread_in_days(needs[tried], days))])
    return Base(place=place, is_fitted=True, errors=errors)


def _of_others(values: Floats) -> Floats:
    """For each value, the mean of the others."""
    others: Floats = (values.sum() - values) / (values.size - 1)
    return others


def _mean(errors: Floats) -> float:
    """The mean absolute error; infinite where a cycle could not be foretold at all."""
    mean = float(np.abs(errors).mean())
    return mean if np.isfinite(mean) else float("inf")
