"""The plain values of a season summary: what goes in, and the figures that come out."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import isfinite

from planning.compute.bases import Basis


class SummaryError(ValueError):
    """The values cannot belong to one season of one group."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTotal:
    """One day's fruit of one grade: of the day it was picked, or received.

    `marketable` is None when, and only when, the fruit is ungraded (`grade` None).
    `net_g_with_count` and `count_with_weight` total the weighings that have both a weight and
    a count; `fruit_count` totals every count. `net_g_with_minutes` and `minutes_with_weight`
    total those that have both a weight and minutes.
    """

    day: date
    grade: str | None
    marketable: bool | None
    net_g: int
    estimated_g: int
    fruit_count: int
    net_g_with_count: int
    count_with_weight: int
    net_g_with_minutes: int = 0
    minutes_with_weight: int = 0

    def __post_init__(self) -> None:
        if (self.grade is None) != (self.marketable is None):
            raise SummaryError("fruit is marketable or cull when it has a grade, and only then")
        if min(self.estimated_g, self.count_with_weight, self.minutes_with_weight) < 0:
            raise SummaryError(f"the totals of {self.day} hold a negative number")
        if min(self.net_g_with_count, self.net_g_with_minutes) < 0:
            raise SummaryError(f"the totals of {self.day} hold a negative number")
        if max(self.net_g_with_count, self.net_g_with_minutes) > self.net_g:
            raise SummaryError(f"on {self.day} a part is more than its total")
        if self.count_with_weight > self.fruit_count:
            raise SummaryError(f"on {self.day} a part is more than its total")

    @property
    def has_fruit(self) -> bool:
        """Whether there was any fruit, weighed or not."""
        return bool(self.net_g or self.estimated_g or self.fruit_count)


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeTotal:
    """Grams of weighings made of exactly this tree; one tree may have several totals."""

    tree: str
    net_g: int

    def __post_init__(self) -> None:
        if self.net_g < 0:
            raise SummaryError(f"tree {self.tree} has a negative weight")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """What can be added up without looking at trees and weighings again.

    `trees` were weighed by themselves: their number, grams, and the sum of the squares of each
    one's grams. `timed_g` and `timed_minutes` are of weighings that have both a weight and minutes.
    """

    trees: int = 0
    trees_g: int = 0
    trees_g_squared: int = 0
    timed_g: int = 0
    timed_minutes: int = 0

    def __post_init__(self) -> None:
        kept = (self.trees, self.trees_g, self.trees_g_squared, self.timed_g, self.timed_minutes)
        if min(kept) < 0:
            raise SummaryError("the sums hold a negative number")

    def __add__(self, other: "Sums") -> "Sums":
        """Of parts that share no tree."""
        return Sums(
            trees=self.trees + other.trees,
            trees_g=self.trees_g + other.trees_g,
            trees_g_squared=self.trees_g_squared + other.trees_g_squared,
            timed_g=self.timed_g + other.timed_g,
            timed_minutes=self.timed_minutes + other.timed_minutes,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The plain values of one group; `kind` is its noun in sentences ("block", "farm" ...).

    `bearing_trees` and `area_m2` are None when not known; `reasons` may say why, as half a
    sentence under the field's name. `minutes` are those of all work by its kind, picking
    included: None when not known, empty when none are recorded. `added` are sums of what neither
    `days` nor `trees` hold one by one.
    """

    kind: str
    basis: Basis
    days: Sequence[DayTotal]
    trees: Sequence[TreeTotal]
    bearing_trees: int | None
    area_m2: float | None
    is_closed: bool
    minutes: Mapping[str, int] | None = field(default_factory=dict)
    reasons: Mapping[str, str] = field(default_factory=dict)
    added: Sums = Sums()

    def __post_init__(self) -> None:
        if self.bearing_trees is not None and self.bearing_trees < 0:
            raise SummaryError(f"a {self.kind} cannot have {self.bearing_trees} bearing trees")
        if self.area_m2 is not None and not (isfinite(self.area_m2) and self.area_m2 > 0):
            raise SummaryError(f"a {self.kind} cannot have an area of {self.area_m2} m2")
        if sum(tree.net_g for tree in self.trees) + self.added.trees_g > self.net_g:
            raise SummaryError(f"the trees of a {self.kind} outweigh the {self.kind}")
        if any(minutes < 0 for minutes in (self.minutes or {}).values()):
            raise SummaryError(f"the work of a {self.kind} took less than no time")

    @property
    def net_g(self) -> int:
        """Measured grams."""
        return sum(day.net_g for day in self.days)

    @property
    def graded_g(self) -> int:
        """Measured grams of marketable fruit and culls."""
        return sum(day.net_g for day in self.days if day.grade is not None)

    @property
    def mean_fruit_g(self) -> float | None:
        """Mean fruit weight over the weighings that have both a weight and a count."""
        grams = sum(day.net_g_with_count for day in self.days)
        fruit = sum(day.count_with_weight for day in self.days)
        return grams / fruit if grams and fruit else None

    @property
    def sums(self) -> Sums:
        """Of all trees and weighings, whether `added` already or not."""
        grams: Counter[str] = Counter()
        for tree in self.trees:
            grams[tree.tree] += tree.net_g
        own = Sums(
            trees=len(grams),
            trees_g=sum(grams.values()),
            trees_g_squared=sum(g * g for g in grams.values()),
            timed_g=sum(day.net_g_with_minutes for day in self.days),
            timed_minutes=sum(day.minutes_with_weight for day in self.days),
        )
        return own + self.added

    @property
    def kg_per_picking_hour(self) -> float | None:
        """Over the weighings that have both a weight and minutes."""
        timed_g = sum(day.net_g_with_minutes for day in self.days) + self.added.timed_g
        minutes = sum(day.minutes_with_weight for day in self.days) + self.added.timed_minutes
        return timed_g * 60 / (minutes * 1000) if minutes else None


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeKilos:
    """Kilos of one grade; `grade` and `marketable` are None for ungraded fruit."""

    grade: str | None
    marketable: bool | None
    net_kg: float
    estimated_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekKilos:
    """Kilos of the week from Monday `week_starts_on`, and measured kilos so far."""

    week_starts_on: date
    net_kg: float
    estimated_kg: float
    cumulative_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeSpread:
    """Spread between the `n` trees weighed by themselves; `net_kg` is what they weighed."""

    n: int
    net_kg: float
    mean_kg: float
    sd_kg: float | None
    cv: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFigures:
    """What a group harvested in a season; `to_date` while the season is open."""

    basis: Basis
    to_date: bool
    net_g: int
    estimated_g: int
    grades: tuple[GradeKilos, ...]
    marketable_share: float | None
    ungraded_share: float | None
    fruit_count: int | None
    mean_fruit_g: float | None
    bearing_trees: int | None
    area_m2: float | None
    kg_per_tree: float | None
    t_per_ha: float | None
    first_on: date | None
    p10_on: date | None
    p50_on: date | None
    p90_on: date | None
    last_on: date | None
    weeks: tuple[WeekKilos, ...]
    spread: TreeSpread | None
    minutes: Mapping[str, int] | None
    kg_per_picking_hour: float | None
    reasons: Mapping[str, str]
