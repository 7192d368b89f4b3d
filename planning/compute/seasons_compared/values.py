"""The plain values of seasons held against each other: figures in, comparisons out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from math import isfinite


class ComparisonError(ValueError):
    """The values cannot belong to one series of seasons."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRow:
    """One season of one series (a block, a cultivar or a farm, on one basis), as summed up.

    `net_g` is what scales said; `estimated_g` stands apart and is compared with nothing.
    """

    year: int
    label: str
    starts_on: date
    ends_on: date
    is_closed: bool
    net_g: int
    estimated_g: int = 0
    kg_per_tree: float | None = None
    t_per_ha: float | None = None
    marketable_share: float | None = None
    first_on: date | None = None
    p50_on: date | None = None
    last_on: date | None = None

    def __post_init__(self) -> None:
        if min(self.net_g, self.estimated_g) < 0:
            raise ComparisonError(f"the season {self.label} weighs less than nothing")
        if self.ends_on < self.starts_on:
            raise ComparisonError(f"the season {self.label} ends before it starts")

    @property
    def net_kg(self) -> float:
        return self.net_g / 1000

    def days_into(self, day: date | None) -> int | None:
        """How far into its season a day is, so that days of two seasons can be compared."""
        return None if day is None else (day - self.starts_on).days


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A season's figures against others: per cent, points of a share, and days (later is more)."""

    net_kg_percent: float | None = None
    kg_per_tree_percent: float | None = None
    t_per_ha_percent: float | None = None
    marketable_share_points: float | None = None
    first_days_later: float | None = None
    p50_days_later: float | None = None
    last_days_later: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """Alternate-bearing intensity over `pairs` of seasons that follow each other; None without."""

    intensity: float | None
    pairs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A season beside the one before it and the mean of the earlier ones.

    `is_complete` is whether it is over and twelve months long. `reasons` says why a figure is
    missing, or what to mind, under the figure's name.
    """

    row: SeasonRow
    is_complete: bool
    before: Change
    mean: Change
    mean_seasons: int
    bearing: Bearing
    reasons: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Girth:
    """The section of one trunk of a tree, as measured on a day."""

    tree: str
    trunk: int
    on: date
    section_cm2: float

    def __post_init__(self) -> None:
        if not (isfinite(self.section_cm2) and self.section_cm2 > 0):
            raise ComparisonError(f"a trunk of tree {self.tree} has no section")


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """The trunks of one tree added up, and the days on which their girths were measured."""

    tree: str
    section_cm2: float
    trunks: int
    first_on: date
    last_on: date
    is_before_picking: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeEfficiency:
    """Yield efficiency of one tree that was weighed by itself."""

    kg: float | None
    section: Section | None
    kg_per_cm2: float | None
    reason: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Efficiency:
    """Yield efficiency of a block: kilograms a tree by the mean section of its measured trees."""

    kg_per_cm2: float | None
    mean_section_cm2: float | None
    trees_measured: int
    girths_from: date | None
    girths_to: date | None
    reason: str | None
