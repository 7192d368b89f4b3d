"""When a rule's work is first due: its trigger, met with what is known of a crop.

A stage that is forecast dates work ahead. It is never due before the stage: while nobody has seen
it, the days are counted from today once the forecast day is past, and no day is known after the
end of the interval.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.heat import Reached
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import SeasonEvent, Which, WorkKind
from planning.compute.next_tasks.triggers import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    DateWindow,
    Stages,
)
from planning.compute.next_tasks.values import Cycle, StageForecast
from planning.compute.next_tasks.windows import Days, Window

# A stage seen further than this from the window of the year is of another flush: common
# practice, no source.
SAME_FLUSH = timedelta(days=60)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """The first window of a rule's work, why, and the days on which work counts for it.

    `counted_from` is the day that the window's days are counted from, if they are.
    """

    window: Window
    counted_from: date | None
    earliest: date
    latest: date
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What a rule's days are counted from, and the sentence that says so."""

    day: date
    sentence: str


Known = dict[Hashable, Sequence[Start]]  # starts found before, on this block or another


def starts_of(rule: TaskRule, cycle: Cycle, ledger: Ledger, known: Known) -> Sequence[Start]:
    """Every start of a rule in a cycle: of a yearly window, one a year; nothing if not known."""
    match rule.trigger:
        case DateWindow() as trigger:
            return _yearly(rule, trigger, cycle, known)
        case BeforeStage() as trigger:
            return _before_stage(rule, trigger, cycle, ledger, known)
        case AfterWork(days=days) as trigger:
            cause = _work(trigger.kind, trigger.which, cycle, ledger)
        case AfterStage(days=days) as trigger:
            cause = _stage(trigger, cycle, ledger)
        case AfterEvent(days=days) as trigger:
            cause = _event(trigger.event, cycle, ledger)
        case AfterHeat(days=days) as trigger:
            cause = _heat(trigger, cycle, ledger)
    return _counted(rule, days, cause, cycle, known) if cause else ()


# Windows of the year -----------------------------------------------------------------------------


def _yearly(rule: TaskRule, trigger: DateWindow, cycle: Cycle, known: Known) -> Sequence[Start]:
    """One, as a rule; none or two where a changed start makes a season short or long."""
    until = cycle.windows_until
    if until is None:
        return ()
    key = (id(rule), cycle.starts_on, until, cycle.ends_on)
    if key not in known:
        years = range(cycle.starts_on.year, until.year + 1)
        known[key] = [
            _of_year(rule, trigger, year, cycle)
            for year in years
            if cycle.starts_on <= trigger.around(year).best <= until
        ]
    return known[key]


def _of_year(rule: TaskRule, trigger: DateWindow, year: int, cycle: Cycle) -> Start:
    window, early = trigger.around(year), timedelta(days=rule.early_days)
    next_year = trigger.around(year + 1).opens - early
    return Start(
        window=window,
        counted_from=None,
        earliest=window.opens - early,
        latest=max(window.closes, min(cycle.ends_on, next_year - timedelta(days=1))),
        sentence=trigger.because,
    )


def _before_stage(
    rule: TaskRule, trigger: BeforeStage, cycle: Cycle, ledger: Ledger, known: Known
) -> Sequence[Start]:
    """From the stage where one day of it is seen or forecast, else the window of the year."""
    yearly = _yearly(rule, trigger.otherwise, cycle, known)
    if len(yearly) != 1:
        return yearly
    of_year = yearly[0]
    seen = ledger.first_seen(trigger.stages, cycle)
    if seen is not None and _is_near(seen.seen_on, of_year.window):
        window = trigger.days.around(seen.seen_on)
        return _ahead(rule, of_year, window, reasons.seen(trigger.stages, seen), known)
    forecast = ledger.forecast(trigger.stages, cycle)
    if forecast is None or forecast.follows_work:
        return yearly  # work is not dated by what it brings about itself
    window = trigger.days.around(forecast.on)
    window = Window(opens=window.opens, best=window.best, closes=max(window.closes, forecast.high))
    return _ahead(rule, of_year, window, reasons.forecast(trigger.stages, forecast), known)


def _is_near(day: date, window: Window) -> bool:
    return window.opens - SAME_FLUSH <= day <= window.closes + SAME_FLUSH


def _ahead(
    rule: TaskRule, of_year: Start, window: Window, sentence: str, known: Known
) -> Sequence[Start]:
    key = (id(rule), of_year.latest, window.best, window.closes, sentence)
    if key not in known:
        start = Start(
            window=window,
            counted_from=None,
            earliest=min(of_year.earliest, window.opens - timedelta(days=rule.early_days)),
            latest=max(window.closes, of_year.latest),
            sentence=f"{sentence} {of_year.sentence}",
        )
        known[key] = [start]
    return known[key]


# Days counted from something ---------------------------------------------------------------------


def _counted(
    rule: TaskRule, days: Days, cause: Cause, cycle: Cycle, known: Known
) -> Sequence[Start]:
    key = (id(rule), cycle.ends_on, cause.day, cause.sentence)
    if key not in known:
        window = days.after(cause.day)
        start = Start(
            window=window,
            counted_from=cause.day,
            earliest=max(cause.day, window.opens - timedelta(days=rule.early_days)),
            latest=max(window.closes, cycle.ends_on),
            sentence=cause.sentence,
        )
        known[key] = [start]
    return known[key]


def _work(kind: WorkKind, which: Which, cycle: Cycle, ledger: Ledger) -> Cause | None:
    done = ledger.work_of(kind, cycle)
    if not done:
        return None
    day = done[0 if which is Which.FIRST else -1].done_on
    return Cause(day=day, sentence=reasons.after_work(kind, which, day))


def _stage(trigger: AfterStage, cycle: Cycle, ledger: Ledger) -> Cause | None:
    """As it was seen or shown by work, else as it is forecast."""
    seen = ledger.first_seen(trigger.stages, cycle)
    shown = ledger.work_of(trigger.shown_by, cycle) if trigger.shown_by else None
    if shown and (seen is None or shown[0].done_on < seen.seen_on):
        day = shown[0].done_on
        return Cause(day=day, sentence=reasons.shown(trigger.stages, shown[0].kind, day))
    if seen is not None:
        return Cause(day=seen.seen_on, sentence=reasons.seen(trigger.stages, seen))
    forecast = ledger.forecast(trigger.stages, cycle)
    return _expected(trigger.stages, forecast, ledger.today) if forecast else None


def _expected(stages: Stages, forecast: StageForecast, today: date) -> Cause | None:
    if today > forecast.high:
        return None
    return Cause(day=max(forecast.on, today), sentence=reasons.forecast(stages, forecast))


def _event(event: SeasonEvent, cycle: Cycle, ledger: Ledger) -> Cause | None:
    match event:
        case SeasonEvent.FIRST_PICKING:
            return _work(WorkKind.PICKING, Which.FIRST, cycle, ledger)
        case SeasonEvent.LAST_PICKING if cycle.picking_ends_on is None:
            return _work(WorkKind.PICKING, Which.LAST, cycle, ledger)
        case SeasonEvent.LAST_PICKING:
            day = cycle.picking_ends_on
        case SeasonEvent.SEASON_START:
            day = cycle.starts_on if cycle.windows_until else None
        case SeasonEvent.SEASON_END:
            day = cycle.windows_until
    return Cause(day=day, sentence=reasons.event(event, day)) if day else None


def _heat(trigger: AfterHeat, cycle: Cycle, ledger: Ledger) -> Cause | None:
    anchor, heat = anchor_of(trigger, cycle, ledger), ledger.heat(trigger.base_c)
    if anchor is None or heat is None:
        return None
    found = heat.reached(trigger.degree_days, anchor.day)
    if not isinstance(found, Reached):
        return None
    sentence = reasons.heat(trigger, found.on, is_expected=found.is_expected)
    return Cause(day=found.on, sentence=f"{anchor.sentence} {sentence}")


def anchor_of(trigger: AfterHeat, cycle: Cycle, ledger: Ledger) -> Cause | None:
    """What degree days are counted from, if it has happened."""
    if isinstance(trigger.anchor, WorkKind):
        return _work(trigger.anchor, trigger.which, cycle, ledger)
    seen = ledger.first_seen(trigger.anchor, cycle)
    if seen is None:
        return None
    return Cause(day=seen.seen_on, sentence=reasons.seen(trigger.anchor, seen))
