"""Why a task is due, in sentences that a grower can follow and argue with."""

from datetime import date
from functools import lru_cache

from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.terms import SeasonEvent, Which, WorkKind
from planning.compute.next_tasks.triggers import AfterHeat, Stages
from planning.compute.next_tasks.values import StageForecast, StageSeen
from planning.compute.next_tasks.windows import Window

_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
_EVENTS = {
    SeasonEvent.SEASON_START: "The season starts on",
    SeasonEvent.SEASON_END: "The season ends on",
    SeasonEvent.LAST_PICKING: "Picking ends on",
}
# Many blocks are seen and worked on the same days.
_remembered = lru_cache(maxsize=20_000)


def seen(stages: Stages, stage: StageSeen) -> str:
    return _seen(stages.name, stages.first, stage.bbch, stage.seen_on)


@_remembered
def _seen(name: str, first: int, bbch: int, day: date) -> str:
    if bbch == first:
        return f"{_capital(name)} seen {on(day)}."
    return f"{_capital(name)}: BBCH {bbch:02} seen {on(day)}, nothing before."


@_remembered
def shown(stages: Stages, kind: WorkKind, day: date) -> str:
    return f"{_capital(stages.name)} shown by {_plain(kind)} on {on(day)}."


@_remembered
def after_work(kind: WorkKind, which: Which, day: date) -> str:
    so_far = " so far" if which is Which.LAST else ""
    return f"{_capital(which)} {_plain(kind)}{so_far} on {on(day)}."


def forecast(stages: Stages, stage: StageForecast) -> str:
    """The day, its interval, and why."""
    said = f"{_capital(stages.name)} is forecast for {on(stage.on)}"
    interval = f"{on(stage.low)} to {on(stage.high)}"
    return f"{said} (80 % interval: {interval}). {stage.reason}".rstrip()


def event(event: SeasonEvent, day: date) -> str:
    return f"{_EVENTS[event]} {on(day)}."


def heat(trigger: AfterHeat, day: date, *, is_expected: bool) -> str:
    total = f"{trigger.degree_days:g} degree days above {trigger.base_c:g} C"
    if is_expected:
        return f"{total} are expected by {on(day)}, by the days ahead."
    return f"{total} had gathered by {on(day)}."


def window(window: Window) -> str:
    if window.opens == window.closes:
        return f"Due on {on(window.closes)}."
    return f"From {on(window.opens)} to {on(window.closes)}, best by {on(window.best)}."


def title(rule: TaskRule, number: int) -> str:
    """What heads a task: "Pollination visit 2 of 5"."""
    return f"{rule.title} {_place(rule, number)}" if rule.repeat else rule.title


def counted(rule: TaskRule, number: int, best: date, counted_from: date) -> str:
    """How the first task of a rule follows from what set it off."""
    what = f"{_capital(rule.noun)} {_place(rule, number)}" if rule.repeat else rule.title
    days = (best - counted_from).days
    return f"{what}, best {_days(days)} after that." if days else f"{what}, best on that day."


def follows(rule: TaskRule, number: int, best: date, counted_from: date, fate: str) -> str:
    """How a repeat follows the one before; `fate` says what became of that, if not done."""
    days = _days((best - counted_from).days)
    place = f"{_capital(rule.noun)} {_place(rule, number)}"
    return f"{place}, {days} after {rule.noun} {number - 1}{fate}."


def ended(what: str, day: date) -> str:
    return f"{_capital(what)} on {on(day)}, so nothing is due after that."


def none_yet(kind: WorkKind, detail: str | None) -> str:
    what = f"{_plain(kind)} ({detail})" if detail else _plain(kind)
    return f"No {what} is on record yet."


@_remembered
def uncounted(day: date) -> str:
    return f"The round of {on(day)} has no count yet."


@_remembered
def on(day: date) -> str:
    return f"{day.day} {day:%B}"


def _place(rule: TaskRule, number: int) -> str:
    times = rule.repeat.times if rule.repeat else None
    return f"{number} of {times}" if times else f"{number}"


def _days(days: int) -> str:
    number = _NUMBERS[days] if days < len(_NUMBERS) else str(days)
    return f"{number} day" if days == 1 else f"{number} days"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _plain(kind: str) -> str:
    return kind.replace("-", " ")
