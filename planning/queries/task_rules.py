"""Task rules as the computation takes them, and which of them hold on a block."""

from collections.abc import Iterable
from uuid import UUID

from planning.choices import RuleTrigger
from planning.compute.next_tasks import (
    AfterStage,
    AfterWork,
    DateWindow,
    Days,
    MonthDay,
    Repeat,
    Stages,
    TaskRule,
    Which,
    WorkKind,
)
from planning.compute.next_tasks.rules import Trigger
from planning.models import TaskRule as TaskRuleRow


def rules_on(
    rows: Iterable[TaskRuleRow], block_id: UUID, species_id: UUID | None
) -> list[TaskRuleRow]:
    """The rules that hold on a block, switched off or not: of each code the nearest."""
    near = [
        row
        for row in rows
        if row.block_id in (None, block_id)
        and (row.species_id is None or row.species_id == species_id)
    ]
    near.sort(key=lambda row: (row.block_id is not None, row.species_id is not None))
    return list({row.code: row for row in near}.values())


def as_rule(row: TaskRuleRow) -> TaskRule:
    """A stored rule as a plain value; TaskError where it contradicts itself."""
    return TaskRule(
        code=row.code,
        kind=WorkKind(row.kind),
        title=row.title,
        noun=row.noun,
        trigger=_trigger(row),
        repeat=_repeat(row),
        until=_until(row),
        early_days=row.early_days,
        detail=row.detail or None,
        sources={"rule": row.source},
    )


def month_day(text: str) -> MonthDay:
    """A day of the year from "03-07"; TaskError where the month has no such day."""
    month, day = text.split("-")
    return MonthDay(month=int(month), day=int(day))


def _trigger(row: TaskRuleRow) -> Trigger:
    if row.trigger == RuleTrigger.DATES:
        return DateWindow(
            opens=month_day(row.opens_on_day),
            best=month_day(row.best_on_day),
            closes=month_day(row.closes_on_day),
            because=row.because,
        )
    days = Days(opens=row.opens_days or 0, best=row.best_days or 0, closes=row.closes_days or 0)
    if row.trigger == RuleTrigger.AFTER_WORK:
        return AfterWork(kind=WorkKind(row.after_kind), which=Which(row.after_which), days=days)
    return AfterStage(
        stages=_stages(row.after_bbch_from, row.after_bbch_to, row.after_stage),
        days=days,
        shown_by=WorkKind(row.shown_by) if row.shown_by else None,
    )


def _repeat(row: TaskRuleRow) -> Repeat | None:
    if row.repeat_opens_days is None:
        return None
    return Repeat(
        days=Days(
            opens=row.repeat_opens_days,
            best=row.repeat_best_days or 0,
            closes=row.repeat_closes_days or 0,
        ),
        times=row.repeat_times,
        for_days=row.repeat_for_days,
    )


def _until(row: TaskRuleRow) -> Stages | None:
    if not row.until_stage:
        return None
    return _stages(row.until_bbch_from, row.until_bbch_to, row.until_stage)


def _stages(first: str, last: str, name: str) -> Stages:
    return Stages(first=int(first), last=int(last), name=name)
