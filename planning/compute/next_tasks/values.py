"""What next tasks are computed from, and the tasks themselves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from planning.compute.next_tasks.rules import TaskError, TaskRule, WorkKind


class TaskState(StrEnum):
    COMING = "coming"
    OPEN = "open"
    OVERDUE = "overdue"
    MISSED = "missed"
    DONE = "done"
    DONE_LATE = "done-late"
    SKIPPED = "skipped"

    @property
    def is_done(self) -> bool:
        return self in (TaskState.DONE, TaskState.DONE_LATE)

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to be done about it; a missed task may still be done late."""
        return self.is_done or self is TaskState.SKIPPED


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A record of work on the block: a task log, hand pollination, a fruit count or a weighing.

    `detail` tells works of a kind apart where the record knows ("initial", "retained").
    `crop` is the id of the crop that the record names; None leaves it to the date.
    """

    record: str
    kind: WorkKind
    done_on: date
    detail: str | None = None
    crop: str | None = None


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
class BlockYear:
    """One block: its rules, its crops and what was recorded of it.

    `choices` are by task key. A task that closed before `kept_from`, the first day whose records
    are kept, is left out unless it was done; so is one that a retired block no longer needs.
    """

    block: str
    rules: Sequence[TaskRule]
    cycles: Sequence[Cycle]
    work: Sequence[Work]
    stages: Sequence[StageSeen]
    choices: Mapping[str, Choice] = field(default_factory=dict)
    kept_from: date | None = None
    retired_on: date | None = None

    def __post_init__(self) -> None:
        if len({rule.code for rule in self.rules}) < len(self.rules):
            raise TaskError("two rules of a block have the same code")
        if len({(cycle.season_year, cycle.crop) for cycle in self.cycles}) < len(self.cycles):
            raise TaskError("two crops of a season have the same name")


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTask:
    """A dated piece of work; `key` stays the same whatever is recorded.

    `number` of `of` counts a repeat ("visit 2 of 5"); `of` is None where nobody knows how many.
    """

    key: str
    block: str
    season_year: int
    crop: str
    crop_id: str | None
    rule: str
    kind: WorkKind
    title: str
    number: int
    of: int | None
    opens: date
    best: date
    closes: date
    state: TaskState
    done_by: str | None
    done_on: date | None
    skipped_because: str | None
    assigned_to: tuple[str, ...]
    reason: str


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
