"""Task rules: what triggers a piece of work, how it repeats, and while what is missing it holds."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from planning.compute.next_tasks.terms import TaskError, WorkKind
from planning.compute.next_tasks.triggers import Stages, Trigger
from planning.compute.next_tasks.windows import Days


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
class NoneYet:
    """The crop has no work of a kind on record yet (of a detail, where one is named)."""

    kind: WorkKind
    detail: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UncountedRound:
    """A round by hand, at least `days` old, has no count of its own (of a detail, if named)."""

    days: int
    detail: str | None = None

    def __post_init__(self) -> None:
        if self.days < 0:
            raise TaskError("the age of a round is counted from nought up")


Condition = NoneYet | UncountedRound


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskRule:
    """One rule of a block; `code` is its lasting name among the block's rules.

    `title` heads the task ("Pollination visit"), `noun` stands in its reason ("visit"). Work of
    the kind does the task if it has the rule's `detail`, or none. Work up to `early_days` before
    a window opens counts as done early. Once a stage of `until` is seen nothing more is due.
    What is still to be done is listed only while the condition `only_while` holds.
    `sources` names the source of each figure: trigger, early_days, repeat, end, until, only_while.
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
    only_while: Condition | None = None
    sources: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.early_days < 0:
            raise TaskError(f"{self.code}: early days are counted from nought up")
