"""When a rule's work is first due: its trigger, met with what was recorded of a crop.

A further kind of trigger is a value in `rules.Trigger` and a case in `starts_of`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import (
    AfterStage,
    AfterWork,
    DateWindow,
    TaskRule,
    Which,
    Window,
)
from planning.compute.next_tasks.values import Cycle


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The first window of a rule's work, why, and the days on which work counts for it.

    `counted_from` is the day that the window's days are counted from, if they are.
    """

    window: Window
    counted_from: date | None
    earliest: date
    latest: date
    sentence: str


def starts_of(rule: TaskRule, cycle: Cycle, ledger: Ledger) -> Sequence[Start]:
    """Every start of a rule in a cycle: of a yearly window, one a year; nothing if not known."""
    match rule.trigger:
        case DateWindow() as trigger:
            return [_yearly(rule, trigger, year, cycle) for year in _years(trigger, cycle)]
        case AfterWork() as trigger:
            start = _after_work(rule, trigger, cycle, ledger)
        case AfterStage() as trigger:
            start = _after_stage(rule, trigger, cycle, ledger)
    return [start] if start else []


def _years(trigger: DateWindow, cycle: Cycle) -> list[int]:
    """One year, as a rule; none or two where a changed start makes a season short or long."""
    until = cycle.windows_until
    if until is None:
        return []
    years = range(cycle.starts_on.year, until.year + 1)
    return [year for year in years if cycle.starts_on <= trigger.around(year).best <= until]


def _yearly(rule: TaskRule, trigger: DateWindow, year: int, cycle: Cycle) -> Start:
    window, early = trigger.around(year), timedelta(days=rule.early_days)
    next_year = trigger.around(year + 1).opens - early
    return Start(
        window=window,
        counted_from=None,
        earliest=window.opens - early,
        latest=max(window.closes, min(cycle.ends_on, next_year - timedelta(days=1))),
        sentence=trigger.because,
    )


def _after_work(rule: TaskRule, trigger: AfterWork, cycle: Cycle, ledger: Ledger) -> Start | None:
    days = ledger.work_days(trigger.kind, cycle)
    if not days:
        return None
    day = days[0] if trigger.which is Which.FIRST else days[-1]
    return _counted(rule, trigger.days.after(day), day, cycle, reasons.after_work(trigger, day))


def _after_stage(rule: TaskRule, trigger: AfterStage, cycle: Cycle, ledger: Ledger) -> Start | None:
    seen = ledger.first_seen(trigger.stages, cycle)
    shown = ledger.work_days(trigger.shown_by, cycle)[:1] if trigger.shown_by else []
    if shown and (seen is None or shown[0] < seen.seen_on):
        day, sentence = shown[0], reasons.shown(trigger, shown[0])
    elif seen is not None:
        day, sentence = seen.seen_on, reasons.seen(trigger.stages, seen)
    else:
        return None
    return _counted(rule, trigger.days.after(day), day, cycle, sentence)


def _counted(rule: TaskRule, window: Window, day: date, cycle: Cycle, sentence: str) -> Start:
    return Start(
        window=window,
        counted_from=day,
        earliest=max(day, window.opens - timedelta(days=rule.early_days)),
        latest=max(window.closes, cycle.ends_on),
        sentence=sentence,
    )
