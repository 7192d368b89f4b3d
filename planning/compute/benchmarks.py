"""How a farm stands among its co-op's members: quartiles and its own place, if they may be told.

Quartiles are those of Hyndman and Fan (1996), Sample quantiles in statistical packages, The
American Statistician 50(4), definition 7: linear between the ordered values, as numpy and scipy do
by default. Place 1 is the highest figure; farms with equal figures share a place.

A group is the farms that have a figure of one cultivar, season and basis. Nothing is told of it

* where it has fewer than five farms, or fewer than four besides the asker's own;
* where one farm has more than half of the group's kilos;
* where the asker sees another group of the same cultivar and season (through a second co-op) from
  which it differs by some farms, but by fewer than five: what is told of the one would tell of
  those few in the other.

What else would tell groups apart is not there to be asked: no other filter, no total, no share, no
figure of open seasons. What this does not protect from:

* members who show each other their figures, or a person who asks for several of them in turn;
* what is known anyway: with five farms (or nine, or thirteen) a quartile is some farm's own figure,
  though not whose; and a farm that knows itself to be the best knows that the others are below it;
* payments and prices told elsewhere, from which a pool's total can be worked out.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar
from uuid import UUID

import numpy as np

FEWEST_FARMS = 5
FEWEST_OTHERS = FEWEST_FARMS - 1
QUARTILES = (0.25, 0.5, 0.75)

Name = TypeVar("Name")


class Measure(StrEnum):
    """What farms are held against each other by."""

    KG_PER_TREE = "kg-per-tree"
    T_PER_HA = "t-per-ha"
    MARKETABLE_SHARE = "marketable-share"
    PICKING_MINUTES_PER_KG = "picking-minutes-per-kg"


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmFigure:
    """One farm's figure, and the kilos (in grams) that make it weigh in its group."""

    farm_id: UUID
    net_g: int
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """A group's quartiles, and the place of the asking farm's `value` among its `farms`."""

    farms: int
    q1: float
    median: float
    q3: float
    value: float
    place: int


def benchmark(figures: Sequence[FarmFigure], farm_id: UUID) -> Benchmark:
    """Of a group that `may_be_told`, for a farm that is in it."""
    values = [figure.value for figure in figures]
    (own,) = (figure.value for figure in figures if figure.farm_id == farm_id)
    q1, median, q3 = np.quantile(values, QUARTILES, method="linear").tolist()
    return Benchmark(
        farms=len(values),
        q1=q1,
        median=median,
        q3=q3,
        value=own,
        place=1 + sum(value > own for value in values),
    )


def may_be_told(figures: Sequence[FarmFigure], askers: Collection[UUID]) -> bool:
    """Whether a group is large and even enough, for whoever knows the figures of `askers`."""
    others = [figure for figure in figures if figure.farm_id not in askers]
    enough = len(figures) >= FEWEST_FARMS and len(others) >= FEWEST_OTHERS
    return enough and not _is_mostly_one_farms(figures)


def _is_mostly_one_farms(figures: Sequence[FarmFigure]) -> bool:
    """Whether one farm has more than half of the kilos."""
    return max(figure.net_g for figure in figures) * 2 > sum(figure.net_g for figure in figures)


def told_together(groups: Mapping[Name, Collection[UUID]]) -> set[Name]:
    """Those of a cultivar's groups that can all be told to one asker, in the order given."""
    told: dict[Name, set[UUID]] = {}
    for name, farms in groups.items():
        differences = [len(known.symmetric_difference(farms)) for known in told.values()]
        if all(number == 0 or number >= FEWEST_FARMS for number in differences):
            told[name] = set(farms)
    return set(told)
