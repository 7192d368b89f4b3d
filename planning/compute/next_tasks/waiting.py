"""What the rules of a running crop that have no date yet wait for."""

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.heat import NotReached, Reached
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.starts import anchor_of
from planning.compute.next_tasks.terms import SeasonEvent, WorkKind
from planning.compute.next_tasks.triggers import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    DateWindow,
)
from planning.compute.next_tasks.values import Cycle


def waits_for(rule: TaskRule, cycle: Cycle, ledger: Ledger) -> str | None:
    """Why a rule has no date; None if it waits for nothing."""
    match rule.trigger:
        case AfterStage() as trigger:
            return _for_stage(rule, trigger, cycle, ledger)
        case AfterWork(kind=kind):
            return _until_recorded(rule, kind)
        case AfterEvent(event=SeasonEvent.FIRST_PICKING | SeasonEvent.LAST_PICKING):
            return _until_recorded(rule, WorkKind.PICKING)
        case AfterHeat() as trigger:
            return _for_heat(rule, trigger, cycle, ledger)
        case DateWindow() | BeforeStage() | AfterEvent():
            return None


def _until_recorded(rule: TaskRule, kind: WorkKind) -> str:
    return f"{rule.title} has no date until {kind.replace('-', ' ')} is recorded."


def _for_stage(rule: TaskRule, trigger: AfterStage, cycle: Cycle, ledger: Ledger) -> str:
    name = trigger.stages.name
    waits = f"{rule.title} has no date until {name} is seen."
    forecast = ledger.forecast(trigger.stages, cycle)
    if forecast is None:
        return waits
    interval = f"{reasons.on(forecast.low)} to {reasons.on(forecast.high)}"
    return f"{waits} It was forecast for {interval}, and nobody has recorded it."


def _for_heat(rule: TaskRule, trigger: AfterHeat, cycle: Cycle, ledger: Ledger) -> str:
    anchor = anchor_of(trigger, cycle, ledger)
    if anchor is None and isinstance(trigger.anchor, WorkKind):
        return _until_recorded(rule, trigger.anchor)
    if anchor is None:
        return f"{rule.title} has no date until {getattr(trigger.anchor, 'name', '')} is seen."
    heat = ledger.heat(trigger.base_c)
    if heat is None:
        return f"{rule.title} has no date without weather of the farm's station to count heat from."
    found = heat.reached(trigger.degree_days, anchor.day)
    return "" if isinstance(found, Reached) else _not_reached(rule, trigger, found)


def _not_reached(rule: TaskRule, trigger: AfterHeat, found: NotReached) -> str:
    so_far = f"{found.so_far:.0f} of {trigger.degree_days:g} degree days"
    if found.gap_on is not None:
        day = reasons.on(found.gap_on)
        return f"{rule.title} has no date: the temperatures of {day} are missing, after {so_far}."
    return f"{rule.title} has no date yet: {so_far} have gathered, the days ahead included."
