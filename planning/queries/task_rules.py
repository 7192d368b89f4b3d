"""Task rules as the computation takes them, and which of them hold on a block."""

from collections.abc import Callable, Iterable
from typing import Any
from uuid import UUID

from planning.choices import OnlyWhile, RuleOrigin, RuleTrigger
from planning.compute.next_tasks import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    Condition,
    DateWindow,
    Days,
    DaysAround,
    MonthDay,
    NoneYet,
    Repeat,
    SeasonEvent,
    Stages,
    TaskError,
    TaskRule,
    Trigger,
    UncountedRound,
    Which,
    WorkKind,
)
from planning.models import TaskRule as TaskRuleRow


def rules_on(
    rows: Iterable[TaskRuleRow], block_id: UUID, species_id: UUID | None
) -> list[TaskRuleRow]:
    """The rules that hold on a block, switched off or not: of each code the nearest.

    A default that is there switched off takes the place of none.
    """
    near = [
        row
        for row in rows
        if row.block_id in (None, block_id)
        and (row.species_id is None or row.species_id == species_id)
        and (row.is_active or row.origin != RuleOrigin.DEFAULT)
    ]
    near.sort(key=lambda row: (row.block_id is not None, row.species_id is not None))
    return list({row.code: row for row in near}.values())


# What `as_rule` reads.
CONTENT = tuple(
    field.attname
    for field in TaskRuleRow._meta.concrete_fields
    if field.name
    not in {
        *("id", "version", "created_at", "updated_at", "fingerprint", "tick"),
        *("farm", "block", "species", "origin", "is_active"),
    }
)


def rule_content(row: TaskRuleRow) -> tuple[Any, ...]:
    """What a stored rule says; rules that say the same are one plain value."""
    return tuple([getattr(row, name) for name in CONTENT])


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
        only_while=_only_while(row),
        sources={"rule": row.source},
    )


def contradiction(row: TaskRuleRow) -> tuple[str, TaskError] | None:
    """The column at which a stored rule contradicts itself, and how; None if it does not."""
    parts: dict[str, Callable[[TaskRuleRow], object]] = {
        TRIGGER_FAULTS[RuleTrigger(row.trigger)]: _trigger,
        "repeat_best_days": _repeat,
        "until_bbch_to": _until,
        "only_while_days": _only_while,
        "early_days": as_rule,
    }
    for column, part in parts.items():
        try:
            part(row)
        except TaskError as error:
            return column, error
    return None


# Where a trigger that contradicts itself is at fault.
TRIGGER_FAULTS = {
    RuleTrigger.DATES: "closes_on_day",
    RuleTrigger.BEFORE_STAGE: "best_days",
    RuleTrigger.AFTER_WORK: "best_days",
    RuleTrigger.AFTER_STAGE: "best_days",
    RuleTrigger.AFTER_EVENT: "best_days",
    RuleTrigger.AFTER_HEAT: "after_degree_days",
}


def month_day(text: str) -> MonthDay:
    """A day of the year from "03-07"; TaskError where the month has no such day."""
    month, day = text.split("-")
    return MonthDay(month=int(month), day=int(day))


def _trigger(row: TaskRuleRow) -> Trigger:
    match row.trigger:
        case RuleTrigger.DATES:
            return _dates(row)
        case RuleTrigger.BEFORE_STAGE:
            return BeforeStage(stages=_after_stages(row), days=_around(row), otherwise=_dates(row))
        case RuleTrigger.AFTER_WORK:
            return AfterWork(
                kind=WorkKind(row.after_kind), which=Which(row.after_which), days=_days(row)
            )
        case RuleTrigger.AFTER_EVENT:
            return AfterEvent(event=SeasonEvent(row.after_event), days=_days(row))
        case RuleTrigger.AFTER_HEAT:
            return _heat(row)
    return AfterStage(
        stages=_after_stages(row),
        days=_days(row),
        shown_by=WorkKind(row.shown_by) if row.shown_by else None,
    )


def _dates(row: TaskRuleRow) -> DateWindow:
    return DateWindow(
        opens=month_day(row.opens_on_day),
        best=month_day(row.best_on_day),
        closes=month_day(row.closes_on_day),
        because=row.because,
    )


def _days(row: TaskRuleRow) -> Days:
    return Days(opens=row.opens_days or 0, best=row.best_days or 0, closes=row.closes_days or 0)


def _around(row: TaskRuleRow) -> DaysAround:
    return DaysAround(
        opens_before=row.opens_days or 0,
        best_before=row.best_days or 0,
        closes_after=row.closes_days or 0,
    )


def _heat(row: TaskRuleRow) -> AfterHeat:
    return AfterHeat(
        anchor=WorkKind(row.after_kind) if row.after_kind else _after_stages(row),
        which=Which(row.after_which) if row.after_which else Which.FIRST,
        degree_days=row.after_degree_days or 0,
        base_c=row.base_c or 0,
        days=_days(row),
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


def _only_while(row: TaskRuleRow) -> Condition | None:
    detail = row.only_while_detail or None
    match row.only_while:
        case OnlyWhile.NONE_YET:
            return NoneYet(kind=WorkKind(row.only_while_kind), detail=detail)
        case OnlyWhile.UNCOUNTED_ROUND:
            return UncountedRound(days=row.only_while_days or 0, detail=detail)
    return None


def _after_stages(row: TaskRuleRow) -> Stages:
    return _stages(row.after_bbch_from, row.after_bbch_to, row.after_stage)


def _stages(first: str, last: str, name: str) -> Stages:
    return Stages(first=int(first), last=int(last), name=name)
