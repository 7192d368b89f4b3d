"""Blocks and their records, made short for the tests of next tasks."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from planning.compute.next_tasks import (
    BlockYear,
    NextTask,
    SeasonDays,
    StageSeen,
    TaskRule,
    Work,
    WorkKind,
    cycles_of,
    next_tasks,
)

SEASON = SeasonDays(year=2026, starts_on=date(2026, 1, 1), ends_on=date(2026, 12, 31))


def day(month: int, day_of_month: int, year: int = 2026) -> date:
    return date(year, month, day_of_month)


def work(kind: WorkKind, done_on: date, record: str = "", **changes: Any) -> Work:
    return Work(record=record or f"{kind} {done_on}", kind=kind, done_on=done_on, **changes)


def pruned(done_on: date, record: str = "", **changes: Any) -> Work:
    return work(WorkKind.PRUNING, done_on, record, **changes)


def pollinated(done_on: date, record: str = "", **changes: Any) -> Work:
    return work(WorkKind.POLLINATION, done_on, record, **changes)


def counted(done_on: date, detail: str | None, record: str = "") -> Work:
    return work(WorkKind.COUNTING, done_on, record, detail=detail)


def picked(done_on: date, record: str = "", **changes: Any) -> Work:
    return work(WorkKind.PICKING, done_on, record, **changes)


def seen(bbch: int, seen_on: date, **changes: Any) -> StageSeen:
    return StageSeen(record=f"stage {bbch} {seen_on}", bbch=bbch, seen_on=seen_on, **changes)


def block_year(
    rules: Sequence[TaskRule],
    *records: Work | StageSeen,
    seasons: Sequence[SeasonDays] = (SEASON,),
    **changes: Any,
) -> BlockYear:
    values: dict[str, Any] = {"block": "N1", "cycles": cycles_of(seasons, ())}
    return BlockYear(
        rules=rules,
        work=[record for record in records if isinstance(record, Work)],
        stages=[record for record in records if isinstance(record, StageSeen)],
        **(values | changes),
    )


def told(task: NextTask) -> str:
    """A task's state, and whether it was done after its best day."""
    return f"{task.state} late" if task.days_late else f"{task.state}"


def tasks(block: BlockYear, today: date) -> list[NextTask]:
    return list(next_tasks([block], today=today).tasks)
