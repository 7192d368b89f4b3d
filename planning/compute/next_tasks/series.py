"""A rule's tasks in one crop: the first, and those that follow from the actual day of the last.

Work on days before the next one opens belongs to the one before: a visit to a large block may
take more than a day. One that was missed or skipped is followed from the day it was best done,
for want of an actual one. Nothing follows one that is still to be done: its day is not known.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.lines import Line
from planning.compute.next_tasks.rules import Window
from planning.compute.next_tasks.values import Choice, NextTask, TaskState, Work

A_DAY = timedelta(days=1)
NO_CHOICE = Choice()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One task of a line, before it is known whether it was done.

    Work counts for it from `earliest` on; a further one opens by `last_opening`, if at all.
    """

    number: int
    window: Window
    earliest: date
    last_opening: date | None
    sentence: str


def tasks_of(line: Line, ledger: Ledger, today: date) -> Iterator[NextTask]:
    """The tasks of one line, in order of number."""
    step: Step | None = _first(line)
    while step is not None:
        undone = _following(line, step, counted_from=step.window.best, fate=" was due")
        work = _take(line, step, undone, ledger)
        task = _task(line, step, work, today)
        yield task
        if work is not None:
            step = _following(line, step, counted_from=work.done_on, fate="")
        elif task.state is TaskState.SKIPPED:
            step = _following(line, step, counted_from=task.best, fate=" was due and skipped")
        else:
            step = undone if task.state is TaskState.MISSED else None


def _first(line: Line) -> Step:
    start, rule = line.start, line.rule
    window = _cut(line, start.window)
    if start.counted_from is None:
        sentence = reasons.window(window)
    else:
        sentence = reasons.counted(rule, line.number, window.best, start.counted_from)
    return Step(
        number=line.number,
        window=window,
        earliest=min(start.earliest, window.opens),
        last_opening=None,
        sentence=sentence,
    )


def _following(line: Line, step: Step, *, counted_from: date, fate: str) -> Step | None:
    """The next of a repeat, if there is one; it never opens before the last has closed."""
    repeat, number = line.rule.repeat, step.number + 1
    if repeat is None or (repeat.times is not None and number > repeat.times):
        return None
    window = repeat.days.after(counted_from)
    if fate:
        window = window.not_before(step.window.closes + A_DAY)
    last_opening = step.last_opening
    if last_opening is None and repeat.for_days is not None:
        last_opening = counted_from + timedelta(days=repeat.for_days)
    limits = [last_opening, line.end.day if line.end else None]
    if any(limit is not None and window.opens > limit for limit in limits):
        return None
    window = _cut(line, window)
    return Step(
        number=number,
        window=window,
        earliest=window.opens,
        last_opening=last_opening,
        sentence=reasons.follows(line.rule, number, window.best, counted_from, fate),
    )


def _cut(line: Line, window: Window) -> Window:
    return window.cut(line.end.day) if line.end else window


def _take(line: Line, step: Step, undone: Step | None, ledger: Ledger) -> Work | None:
    """The work that did the step, and with it all that belongs to the same step."""
    late = max(step.window.closes, line.start.latest)
    latest = undone.earliest - A_DAY if undone else late
    kind, cycle = line.rule.kind, line.cycle
    work = ledger.take(kind, cycle, lambda work: _counts(line, step, latest, work))
    if work is not None:
        days = line.rule.repeat.days.opens if line.rule.repeat else 1
        until = work.done_on + timedelta(days=days - 1)
        ledger.take_all(kind, cycle, lambda work: _counts(line, step, until, work))
    return work


def _counts(line: Line, step: Step, latest: date, work: Work) -> bool:
    """Whether work may do a step: once it has closed, only what no later rule asks for."""
    is_late = work.done_on > step.window.closes
    return (
        step.earliest <= work.done_on <= latest
        and _is_asked_for(line.rule.detail, work)
        and not (is_late and _is_a_rivals(line, work))
    )


def _is_a_rivals(line: Line, work: Work) -> bool:
    return any(
        rival.opens <= work.done_on and _is_asked_for(rival.detail, work) for rival in line.rivals
    )


def _is_asked_for(detail: str | None, work: Work) -> bool:
    return detail is None or work.detail in (None, detail)


def _task(line: Line, step: Step, work: Work | None, today: date) -> NextTask:
    cycle, rule, window = line.cycle, line.rule, step.window
    key = f"{line.block.block}:{cycle.season_year}:{cycle.crop}:{rule.code}:{step.number}"
    choice = line.block.choices.get(key, NO_CHOICE)
    return NextTask(
        key=key,
        block=line.block.block,
        season_year=cycle.season_year,
        crop=cycle.crop,
        crop_id=cycle.crop_id,
        rule=rule.code,
        kind=rule.kind,
        title=reasons.title(rule, step.number),
        number=step.number,
        of=rule.repeat.times if rule.repeat else None,
        opens=window.opens,
        best=window.best,
        closes=window.closes,
        state=_state(window, work, choice, today),
        done_by=work.record if work else None,
        done_on=work.done_on if work else None,
        skipped_because=choice.skipped_because,
        assigned_to=choice.assigned_to,
        reason=_reason(line, step),
    )


def _state(window: Window, work: Work | None, choice: Choice, today: date) -> TaskState:
    if work is not None:
        return TaskState.DONE if work.done_on <= window.best else TaskState.DONE_LATE
    if choice.skipped_because:
        return TaskState.SKIPPED
    if today < window.opens:
        return TaskState.COMING
    if today <= window.best:
        return TaskState.OPEN
    return TaskState.OVERDUE if today <= window.closes else TaskState.MISSED


def _reason(line: Line, step: Step) -> str:
    sentences = [line.start.sentence, step.sentence]
    if line.end is not None and step.window.closes == line.end.day:
        sentences.append(reasons.ended(line.end.what, line.end.day))
    return " ".join(sentences)
