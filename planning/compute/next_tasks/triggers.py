"""What sets off a piece of work. A further trigger is a value here and a case in `starts`."""

from dataclasses import dataclass
from datetime import timedelta

from planning.compute.next_tasks.terms import SeasonEvent, TaskError, Which, WorkKind
from planning.compute.next_tasks.windows import LEAP_YEAR, Days, DaysAround, MonthDay, Window


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
class BeforeStage:
    """Due just before a growth stage, as it is forecast or was seen; else in a yearly window."""

    stages: Stages
    days: DaysAround
    otherwise: DateWindow


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterWork:
    """Due so many days after the crop's first or last work of a kind; a round is such work."""

    kind: WorkKind
    which: Which
    days: Days


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterStage:
    """Due so many days after a growth stage was first seen on the crop; until then, is forecast.

    Work of the kind `shown_by` shows the stage too: whoever pollinates has seen flowers.
    """

    stages: Stages
    days: Days
    shown_by: WorkKind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterEvent:
    """Due so many days after an event of the crop's season."""

    event: SeasonEvent
    days: Days


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterHeat:
    """Due so many days after so many degree days above `base_c` (C) have gathered.

    They are counted from the day after the crop's first or last work of a kind, or the first
    sight of a stage.
    """

    anchor: WorkKind | Stages
    degree_days: float
    base_c: float
    days: Days
    which: Which = Which.FIRST

    def __post_init__(self) -> None:
        if self.degree_days <= 0:
            raise TaskError("degree days are counted from nought up")


Trigger = DateWindow | BeforeStage | AfterWork | AfterStage | AfterEvent | AfterHeat
