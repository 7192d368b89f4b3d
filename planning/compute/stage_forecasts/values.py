"""What stage forecasts are computed from, and the forecasts themselves."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class ForecastError(ValueError):
    """The facts contradict themselves."""


class Stage(StrEnum):
    """Pruning or leaf stripping, which opens a crop, and the stages that follow, in order."""

    OPENING = "opening"
    LEAF_OUT = "leaf-out"
    FIRST_BLOOM = "first-bloom"
    HALF_BLOOM = "half-bloom"
    END_OF_BLOOM = "end-of-bloom"
    SKIN_CHANGE = "skin-change"
    FIRST_PICKING = "first-picking"
    LAST_PICKING = "last-picking"


STAGES = tuple(stage for stage in Stage if stage is not Stage.OPENING)
# BBCH general scale (values from memory): 10 first leaves parting, 99 harvested.
BBCH: Mapping[Stage, int] = {
    Stage.LEAF_OUT: 10,
    Stage.FIRST_BLOOM: 60,
    Stage.HALF_BLOOM: 65,
    Stage.END_OF_BLOOM: 69,
    Stage.SKIN_CHANGE: 81,
    Stage.FIRST_PICKING: 87,
    Stage.LAST_PICKING: 99,
}
# What each stage may be counted from, the latest first.
ANCHORS: Mapping[Stage, tuple[Stage, ...]] = {
    Stage.LEAF_OUT: (Stage.OPENING,),
    Stage.FIRST_BLOOM: (Stage.LEAF_OUT, Stage.OPENING),
    Stage.HALF_BLOOM: (Stage.FIRST_BLOOM, Stage.LEAF_OUT, Stage.OPENING),
    Stage.END_OF_BLOOM: (Stage.HALF_BLOOM, Stage.FIRST_BLOOM, Stage.LEAF_OUT, Stage.OPENING),
    Stage.SKIN_CHANGE: (Stage.HALF_BLOOM, Stage.FIRST_BLOOM, Stage.LEAF_OUT, Stage.OPENING),
    Stage.FIRST_PICKING: (
        *(Stage.SKIN_CHANGE, Stage.HALF_BLOOM, Stage.FIRST_BLOOM),
        *(Stage.LEAF_OUT, Stage.OPENING),
    ),
    Stage.LAST_PICKING: (Stage.FIRST_PICKING,),
}


class Method(StrEnum):
    OBSERVED = "observed"
    PASSED = "passed"
    DAYS = "days"
    DEGREE_DAYS = "degree-days"
    HISTORY = "history"
    SHRUNK = "shrunk"
    SPECIES = "species"
    NOT_KNOWN = "not-known"
    DOES_NOT_APPLY = "does-not-apply"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A stage seen, or the work that opened the crop; known from `known_on` on.

    `told` is what showed it ("BBCH 65", "pruning"). A first sight well into a stage (half of the
    flowers before anybody saw the first) is not exact: what follows is counted from it, and it
    is left out of the block's history. `is_planned` work has not been done yet.
    """

    on: date
    known_on: date
    told: str
    is_exact: bool = True
    is_planned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """One crop of a season, and what was seen of it."""

    season_year: int
    crop: str
    starts_on: date
    sights: Mapping[Stage, Sight]
    note: str = ""

    def seen(self, stage: Stage, as_of: date) -> Sight | None:
        """The sight of a stage as far as it was known on a day."""
        sight = self.sights.get(stage)
        return sight if sight is not None and sight.known_on <= as_of else None

    def days_between(self, anchor: Stage, stage: Stage, as_of: date) -> int | None:
        """Days from one stage to another, where both were seen as they came."""
        first, last = self.seen(anchor, as_of), self.seen(stage, as_of)
        if first is None or last is None or not (first.is_exact and last.is_exact):
            return None
        days = (last.on - first.on).days
        return days if days >= 0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRange:
    """Days from one stage to another that a source gives for a species."""

    low: float
    high: float
    source: str

    def __post_init__(self) -> None:
        if not 0 <= self.low < self.high:
            raise ForecastError(f"the days are from {self.low:g} to {self.high:g}, which is none")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeciesFacts:
    """What is known of a species: days between stages, base temperature, what does not apply.

    `base_c` is the cited or the farm's own base temperature; a fitted one lies within
    `fit_from_c` and `fit_to_c`.
    """

    name: str
    days: Mapping[tuple[Stage, Stage], DayRange] = field(default_factory=dict)
    base_c: float | None = None
    base_source: str = ""
    fit_from_c: float = 5.0
    fit_to_c: float = 18.0
    does_not_apply: Mapping[Stage, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.fit_from_c > self.fit_to_c:
            raise ForecastError(
                f"a base temperature is fitted from {self.fit_from_c:g} to {self.fit_to_c:g} C,"
                " which is no range"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """A stage's date with its 80 % interval; the day it was seen; or None, and why.

    `inputs` are what it was computed from, as plain JSON.
    """

    stage: Stage
    method: Method
    reason: str
    on: date | None = None
    low: date | None = None
    high: date | None = None
    observed_on: date | None = None
    anchor: Stage | None = None
    anchor_on: date | None = None
    inputs: Mapping[str, object] = field(default_factory=dict)
