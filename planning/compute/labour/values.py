"""The plain values of a pollination plan: what goes in, and what comes out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import isfinite

# What arithmetic loses must not call another person, or leave a tree out.
TOLERANCE = 1e-6


class LabourError(ValueError):
    """The values cannot belong to one bloom, crew or plan."""


def require(is_right: bool, text: str) -> None:
    if not is_right:
        raise LabourError(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class ByTree:
    """Time by the tree: so many minutes a tree and visit, flowers and walking together."""

    minutes_per_tree: float

    def __post_init__(self) -> None:
        require(_is_positive(self.minutes_per_tree), "the minutes a tree are more than nought")

    def minutes(self, trees: float, flowers: float) -> float:
        return trees * self.minutes_per_tree

    @property
    def method(self) -> str:
        return f"{self.minutes_per_tree:g} min a tree and visit"


@dataclass(frozen=True, slots=True, kw_only=True)
class ByFlower:
    """Time by the flower: so many flowers an hour, and walking from tree to tree."""

    flowers_per_hour: float
    walk_minutes_per_tree: float = 0.0

    def __post_init__(self) -> None:
        require(_is_positive(self.flowers_per_hour), "the flowers an hour are more than nought")
        require(_is_number(self.walk_minutes_per_tree), "walking takes no less than no time")

    def minutes(self, trees: float, flowers: float) -> float:
        return flowers * 60 / self.flowers_per_hour + trees * self.walk_minutes_per_tree

    @property
    def method(self) -> str:
        walk = f"a walk of {self.walk_minutes_per_tree:g} min a tree"
        return f"{self.flowers_per_hour:g} flowers an hour and {walk}"


Pace = ByTree | ByFlower


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One stretch of a day's working hours, in minutes from local midnight."""

    from_minute: float
    to_minute: float

    def __post_init__(self) -> None:
        require(self.from_minute < self.to_minute, "a session ends after it begins")

    @property
    def minutes(self) -> float:
        return self.to_minute - self.from_minute


Hours = Mapping[date, Sequence[Session]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The fruit a tree is to carry, of flowers of which these shares set and stay."""

    fruit_per_tree: float
    expected_set: float
    expected_retention: float

    def __post_init__(self) -> None:
        require(_is_number(self.fruit_per_tree), "the target of fruit a tree is no less than 0")
        for share in (self.expected_set, self.expected_retention):
            require(0 < share <= 1, "set and retention are shares above 0 and up to 1")

    @property
    def flowers_per_tree(self) -> float:
        """Flowers to pollinate for it: fruit / (set x retention)."""
        return self.fruit_per_tree / (self.expected_set * self.expected_retention)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """Work beside brushing; minutes that are None are not known.

    `donors_per_flower` are pollen flowers gathered for one pollinated, `bag_share` the share of
    the pollinated flowers that is bagged.
    """

    donors_per_flower: float | None = None
    gather_minutes_per_donor: float | None = None
    bag_minutes_per_flower: float | None = None
    bag_share: float = 0.0

    def __post_init__(self) -> None:
        require(0 <= self.bag_share <= 1, "the share bagged is from 0 to 1")
        for value in (
            self.donors_per_flower,
            self.gather_minutes_per_donor,
            self.bag_minutes_per_flower,
        ):
            require(value is None or _is_number(value), "rates are numbers from nought up")


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneVisit:
    """A visit that was made, and the flowers pollinated in it."""

    on: date
    flowers: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One visit of a whole block. People and sessions are None where its hours are not known.

    `flowers_in_reach` are receptive on the day; `flowers` are those to pollinate. Minutes are of
    all people together. `people` finish it within the day's sessions, in `worker_sessions`
    sessions of one worker.
    """

    number: int
    on: date
    flowers_in_reach: float
    flowers: float
    donor_flowers: float | None
    minutes: float
    gather_minutes: float | None
    bag_minutes: float | None
    session_minutes: float | None
    worker_sessions: int | None
    people: int | None

    @property
    def worker_hours(self) -> float:
        """Hours of pollinating; gathering and bagging are apart."""
        return self.minutes / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockPlan:
    """The visits of one block still to be made, and what they come to.

    `fruit` is what their flowers are expected to leave on the trees; None without set and
    retention. `reasons` tells of what is None or cut short.
    """

    block: str
    visits: Sequence[Visit]
    flowers_in_bloom: float
    flowers_wanted: float | None
    fruit: float | None
    reasons: Mapping[str, str] = field(default_factory=dict)

    @property
    def flowers(self) -> float:
        return sum(visit.flowers for visit in self.visits)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWork:
    """What the crew does on one block on one day: so many trees on, in the order of the rows."""

    block: str
    on: date
    visit: int
    trees: int
    flowers: float
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
    """What a crew that is too small leaves undone on a block.

    `visits_made` may end in a part of a visit; `share` is that of the flowers planned. Flowers
    and fruit are None where they were never counted.
    """

    block: str
    visits_planned: int
    visits_made: float
    share: float
    flowers: float | None
    fruit: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewFit:
    """Whether a crew can do what is planned; `add` people would let it, where it cannot."""

    crew: int | None
    fits: bool | None
    people_needed: int | None
    add: int | None
    work: Sequence[DayWork]
    shortfalls: Sequence[Shortfall]
    reason: str


def _is_number(value: float) -> bool:
    return isfinite(value) and value >= 0


def _is_positive(value: float) -> bool:
    return isfinite(value) and value > 0
