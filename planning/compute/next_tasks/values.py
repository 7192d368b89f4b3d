"""What next tasks are computed from, and the tasks themselves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from planning.compute.next_tasks.heat import Heat
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import TaskError, WorkKind


class TaskState(StrEnum):
    COMING = "coming"
    OPEN = "open"
    OVERDUE = "overdue"
    MISSED = "missed"
    DONE = "done"
    SKIPPED = "skipped"

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to be done about it; a missed task may still be done late."""
        return self in (TaskState.DONE, TaskState.SKIPPED)

    @property
    def is_due(self) -> bool:
        """Whether it can still be done in time."""
        return self in (TaskState.COMING, TaskState.OPEN, TaskState.OVERDUE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A record of work on the block: a task log, hand pollination, a fruit count or a weighing.

    `detail` tells works of a kind apart where the record knows ("initial", "retained").
    `crop` is the id of the crop that the record names; None leaves it to the date. `counted`
    has the details of the counts that were made of a round.
    """

    record: str
    kind: WorkKind
    done_on: date
    detail: str | None = None
    crop: str | None = None
    counted: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSeen:
    """A BBCH stage (0-99) seen on the block, or the bloom that its crop is said to have begun."""

    record: str
    bbch: int
    seen_on: date
    crop: str | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.bbch <= 99:
            raise TaskError(f"a BBCH stage is 0 to 99, not {self.bbch}")


@dataclass(frozen=True, slots=True, kw_only=True)
class StageForecast:
    """When a stage (BBCH 0-99) of a crop is expected, its 80 % interval, and why.

    `follows_work` of one that is counted from the pruning or stripping that opened the crop.
    """

    season_year: int
    crop: str
    bbch: int
    on: date
    low: date
    high: date
    reason: str = ""
    follows_work: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.on <= self.high:
            raise TaskError(f"{self.on} is outside its interval, {self.low} to {self.high}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """One crop of a season, and the days whose records are taken as its own.

    Yearly windows whose best day lies between `starts_on` and `windows_until` are the cycle's;
    None leaves them to the season's main crop.
    """

    season_year: int
    crop: str
    crop_id: str | None
    starts_on: date
    ends_on: date
    windows_until: date | None
    picking_ends_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What people decided about a task: to skip it, and who is to do it."""

    skipped_because: str | None = None
    assigned_to: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """Part of a day in which work is done, from and until local times with their UTC offset."""

    work: str
    starts_at: str
    ends_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """A day's sessions, and a sentence about them."""

    sessions: tuple[Session, ...] = ()
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Minutes of all people together, how many people, and a sentence that says from what."""

    minutes: float | None = None
    people: int | None = None
    sentence: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockYear:
    """One block: its rules, its crops, what was recorded of it, and what is expected.

    `choices` are by task key. `forecasts` are of stages; `heat` is by base temperature (C). A task
    that closed before `kept_from`, the first day whose records are kept, is left out unless it was
    done; so is one that a retired block no longer needs.
    """

    block: str
    rules: Sequence[TaskRule]
    cycles: Sequence[Cycle]
    work: Sequence[Work]
    stages: Sequence[StageSeen]
    forecasts: Sequence[StageForecast] = ()
    heat: Mapping[float, Heat] = field(default_factory=dict)
    choices: Mapping[str, Choice] = field(default_factory=dict)
    kept_from: date | None = None
    retired_on: date | None = None

    def __post_init__(self) -> None:
        if len({rule.code for rule in self.rules}) < len(self.rules):
            raise TaskError("two rules of a block have the same code")
        if len({(cycle.season_year, cycle.crop) for cycle in self.cycles}) < len(self.cycles):
            raise TaskError("two crops of a season have the same name")


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A task as it is on every block where the same was done on the same days.

    `number` of `of` counts a repeat ("visit 2 of 5"); `of` is None where nobody knows how many.
    `days_late` says how long after its best day it was done; None while it is not.
    """

    rule: str
    kind: WorkKind
    title: str
    number: int
    of: int | None
    opens: date
    best: date
    closes: date
    state: TaskState
    done_on: date | None
    days_late: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTask:
    """A dated piece of work; `key` stays the same whatever is recorded."""

    key: str
    block: str
    cycle: Cycle
    planned: Planned
    done_by: str | None
    choice: Choice
    sentences: tuple[str, ...] = ()
    hours: Hours | None = None
    effort: Effort | None = None

    @property
    def season_year(self) -> int:
        return self.cycle.season_year

    @property
    def crop(self) -> str:
        return self.cycle.crop

    @property
    def crop_id(self) -> str | None:
        return self.cycle.crop_id

    @property
    def rule(self) -> str:
        return self.planned.rule

    @property
    def kind(self) -> WorkKind:
        return self.planned.kind

    @property
    def title(self) -> str:
        return self.planned.title

    @property
    def number(self) -> int:
        return self.planned.number

    @property
    def of(self) -> int | None:
        return self.planned.of

    @property
    def opens(self) -> date:
        return self.planned.opens

    @property
    def best(self) -> date:
        return self.planned.best

    @property
    def closes(self) -> date:
        return self.planned.closes

    @property
    def state(self) -> TaskState:
        return self.planned.state

    @property
    def done_on(self) -> date | None:
        return self.planned.done_on

    @property
    def days_late(self) -> int | None:
        return self.planned.days_late

    @property
    def skipped_because(self) -> str | None:
        return self.choice.skipped_because

    @property
    def assigned_to(self) -> tuple[str, ...]:
        return self.choice.assigned_to

    @property
    def reason(self) -> str:
        return " ".join((self.planned.reason, *self.sentences))

    def expecting(self, hours: Hours | None, effort: Effort | None) -> "NextTask":
        """The same task with the hours of its day and what it is expected to take."""
        said = [each.sentence for each in (hours, effort) if each and each.sentence]
        sentences = (*self.sentences, *said)
        return replace(self, hours=hours, effort=effort, sentences=sentences)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A rule that gives no date yet, and what it waits for."""

    block: str
    season_year: int
    crop: str
    rule: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    tasks: tuple[NextTask, ...]
    waiting: tuple[Waiting, ...]
