"""Task rules: what triggers a piece of work, when it is best done, and how it repeats."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

LEAP_YEAR = 2024


class TaskError(ValueError):
    """A rule, record or season that contradicts itself."""


class WorkKind(StrEnum):
    """Kinds of work; a pollination round and a weighing are records of work themselves."""

    PRUNING = "pruning"
    LEAF_STRIPPING = "leaf-stripping"
    POLLINATION = "pollination"
    BAGGING = "bagging"
    COUNTING = "counting"
    THINNING = "thinning"
    PICKING = "picking"
    SPRAYING = "spraying"
    IRRIGATION = "irrigation"
    FERTILISING = "fertilising"
    WEEDING = "weeding"
    TRAINING = "training"
    OTHER = "other"


class Which(StrEnum):
    """Which of a crop's works of one kind days are counted from."""

    FIRST = "first"
    LAST = "last"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Farm-local days, all inclusive, on which a piece of work is due."""

    opens: date
    best: date
    closes: date

    def cut(self, last_day: date) -> "Window":
        """The same window, ending on `last_day` at the latest."""
        return Window(
            opens=min(self.opens, last_day),
            best=min(self.best, last_day),
            closes=min(self.closes, last_day),
        )

    def not_before(self, first_day: date) -> "Window":
        """The same window, opening on `first_day` at the earliest."""
        return Window(
            opens=max(self.opens, first_day),
            best=max(self.best, first_day),
            closes=max(self.closes, first_day),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthDay:
    """A day of any year; 29 February is the 28th in years that lack it."""

    month: int
    day: int

    def __post_init__(self) -> None:
        try:
            date(LEAP_YEAR, self.month, self.day)
        except ValueError as error:
            raise TaskError(f"month {self.month} has no day {self.day}") from error

    def in_year(self, year: int) -> date:
        if (self.month, self.day) == (2, 29):
            return date(year, 3, 1) - timedelta(days=1)
        return date(year, self.month, self.day)

    def on_or_before(self, day: date) -> date:
        this_year = self.in_year(day.year)
        return this_year if this_year <= day else self.in_year(day.year - 1)

    def on_or_after(self, day: date) -> date:
        this_year = self.in_year(day.year)
        return this_year if this_year >= day else self.in_year(day.year + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateWindow:
    """Due between two days of every year, which may lie on both sides of New Year.

    `because` is a sentence in plain words. An occurrence is of the season of its best day.
    """

    opens: MonthDay
    best: MonthDay
    closes: MonthDay
    because: str

    def __post_init__(self) -> None:
        window = self.around(LEAP_YEAR)
        if window.closes - window.opens >= timedelta(days=365):
            raise TaskError("a window opens, then has its best day, then closes, within a year")

    def around(self, year: int) -> Window:
        """The occurrence whose best day lies in `year`."""
        best = self.best.in_year(year)
        return Window(
            opens=self.opens.on_or_before(best), best=best, closes=self.closes.on_or_after(best)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """A window in days after something that happened."""

    opens: int
    best: int
    closes: int

    def __post_init__(self) -> None:
        if not 0 <= self.opens <= self.best <= self.closes:
            raise TaskError("work opens, is best and closes in this order, no day before its cause")

    def after(self, day: date) -> Window:
        return Window(
            opens=day + timedelta(days=self.opens),
            best=day + timedelta(days=self.best),
            closes=day + timedelta(days=self.closes),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """BBCH stages `first` to `last` (0-99) that a grower calls by one name: "first bloom"."""

    first: int
    last: int
    name: str

    def __post_init__(self) -> None:
        if not 0 <= self.first <= self.last <= 99:
            raise TaskError(f"BBCH stages run from 0 to 99, not from {self.first} to {self.last}")


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterWork:
    """Due so many days after the crop's first or last work of a kind; a round is such work."""

    kind: WorkKind
    which: Which
    days: Days


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterStage:
    """Due so many days after a growth stage was first seen on the crop.

    Work of the kind `shown_by` shows the stage too: whoever pollinates has seen flowers.
    """

    stages: Stages
    days: Days
    shown_by: WorkKind | None = None


Trigger = DateWindow | AfterWork | AfterStage


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """Due again `days` after the day on which the last was done.

    It ends after `times` in all, or `for_days` after the first, whichever is given or earlier.
    """

    days: Days
    times: int | None = None
    for_days: int | None = None

    def __post_init__(self) -> None:
        if self.days.opens < 1:
            raise TaskError("a repeat opens a day after the last, or later")
        if self.times is None and self.for_days is None:
            raise TaskError("a repeat ends after so many times or so many days")
        if (self.times is not None and self.times < 1) or (self.for_days or 0) < 0:
            raise TaskError("a repeat comes at least once")


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskRule:
    """One rule of a block; `code` is its lasting name among the block's rules.

    `title` heads the task ("Pollination visit"), `noun` stands in its reason ("visit"). Work of
    the kind does the task if it has the rule's `detail`, or none. Work up to `early_days` before
    a window opens counts as done early. Once a stage of `until` is seen nothing more is due.
    `sources` names the source of each figure: trigger, early_days, repeat, end, until.
    """

    code: str
    kind: WorkKind
    title: str
    noun: str
    trigger: Trigger
    repeat: Repeat | None = None
    until: Stages | None = None
    early_days: int = 0
    detail: str | None = None
    sources: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.early_days < 0:
            raise TaskError(f"{self.code}: early days are counted from nought up")
