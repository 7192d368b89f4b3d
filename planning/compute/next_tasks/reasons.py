"""Why a task is due, in sentences that a grower can follow and argue with."""

from datetime import date

from planning.compute.next_tasks.rules import (
    AfterStage,
    AfterWork,
    DateWindow,
    Stages,
    TaskRule,
    Which,
    Window,
)
from planning.compute.next_tasks.values import StageSeen

_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


def seen(stages: Stages, stage: StageSeen) -> str:
    if stage.bbch == stages.first:
        return f"{_capital(stages.name)} seen {_on(stage.seen_on)}."
    return (
        f"{_capital(stages.name)}: BBCH {stage.bbch:02} seen {_on(stage.seen_on)}, nothing before."
    )


def shown(trigger: AfterStage, day: date) -> str:
    return f"{_capital(trigger.stages.name)} shown by {trigger.shown_by} on {_on(day)}."


def after_work(trigger: AfterWork, day: date) -> str:
    so_far = " so far" if trigger.which is Which.LAST else ""
    return f"{_capital(trigger.which)} {_plain(trigger.kind)}{so_far} on {_on(day)}."


def window(window: Window) -> str:
    if window.opens == window.closes:
        return f"Due on {_on(window.closes)}."
    return f"From {_on(window.opens)} to {_on(window.closes)}, best by {_on(window.best)}."


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
    return f"{_capital(what)} on {_on(day)}, so nothing is due after that."


def waits(rule: TaskRule) -> str | None:
    """What a rule without a date waits for; None if it waits for nothing."""
    match rule.trigger:
        case AfterStage(stages=stages):
            return f"{rule.title} has no date until {stages.name} is seen."
        case AfterWork(kind=kind):
            return f"{rule.title} has no date until {_plain(kind)} is recorded."
        case DateWindow():
            return None


def _on(day: date) -> str:
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
