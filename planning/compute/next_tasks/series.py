"""A rule's tasks in one crop: the first, and those that follow from the actual day of the last.

Work on days before the next one opens belongs to the one before: a visit to a large block may
take more than a day. One that was missed or skipped is followed from the day it was best done,
for want of an actual one. Nothing follows one that is still to be done: its day is not known.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.starts import Start
from planning.compute.next_tasks.values import Planned, TaskState
from planning.compute.next_tasks.windows import Window

A_DAY = timedelta(days=1)

# The day of a piece of work, and its detail.
Done = tuple[date, str | None]
# Another rule that asks for the same kind of work later: the day it opens, and its detail.
Rival = tuple[date, str | None]


@dataclass(frozen=True, slots=True)
class End:
    """The last day on which a rule's work is due, and what ended it."""

    day: date
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A rule, started; its tasks are numbered from `number`, and `skipped` has those skipped."""

    rule: TaskRule
    start: Start
    end: End | None
    number: int
    rivals: Sequence[Rival] = ()
    skipped: Collection[int] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A task, and the places of the work that did it and of all that belongs to it."""

    planned: Planned
    done_by: int | None
    taken: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """One task of a line, before it is known whether it was done.

    Work counts for it from `earliest` on; a further one opens by `last_opening`, if at all.
    """

    number: int
    window: Window
    earliest: date
    last_opening: date | None
    sentence: str


def outcomes(line: Line, done: Sequence[Done], today: date) -> Iterator[Outcome]:
    """The tasks of one line, in order of number, by work that did no other, earliest first."""
    free = dict(enumerate(done))
    step: _Step | None = _first(line)
    while step is not None:
        undone = _following(line, step, counted_from=step.window.best, fate=" was due")
        taken = _take(line, step, undone, free)
        done_on = done[taken[0]][0] if taken else None
        planned = _planned(line, step, done_on, today)
        yield Outcome(planned=planned, done_by=taken[0] if taken else None, taken=taken)
        if done_on is not None:
            step = _following(line, step, counted_from=done_on, fate="")
        elif planned.state is TaskState.SKIPPED:
            step = _following(line, step, counted_from=planned.best, fate=" was due and skipped")
        else:
            step = undone if planned.state is TaskState.MISSED else None


def _first(line: Line) -> _Step:
    start, rule = line.start, line.rule
    window = _cut(line, start.window)
    if start.counted_from is None:
        sentence = reasons.window(window)
    else:
        sentence = reasons.counted(rule, line.number, window.best, start.counted_from)
    return _Step(
        number=line.number,
        window=window,
        earliest=min(start.earliest, window.opens),
        last_opening=None,
        sentence=sentence,
    )


def _following(line: Line, step: _Step, *, counted_from: date, fate: str) -> _Step | None:
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
    return _Step(
        number=number,
        window=window,
        earliest=window.opens,
        last_opening=last_opening,
        sentence=reasons.follows(line.rule, number, window.best, counted_from, fate),
    )


def _cut(line: Line, window: Window) -> Window:
    return window.cut(line.end.day) if line.end else window


def _take(line: Line, step: _Step, undone: _Step | None, free: dict[int, Done]) -> tuple[int, ...]:
    """The places of the work that did the step, and of all that belongs to the same step."""
    late = max(step.window.closes, line.start.latest)
    latest = undone.earliest - A_DAY if undone else late
    first = next((at for at, work in free.items() if _counts(line, step, latest, work)), None)
    if first is None:
        return ()
    days = line.rule.repeat.days.opens if line.rule.repeat else 1
    until = free[first][0] + timedelta(days=days - 1)
    more = [at for at, work in free.items() if at != first and _counts(line, step, until, work)]
    for at in (first, *more):
        del free[at]
    return (first, *more)


def _counts(line: Line, step: _Step, latest: date, work: Done) -> bool:
    """Whether work may do a step: once it has closed, only what no later rule asks for."""
    done_on, detail = work
    is_late = done_on > step.window.closes
    return (
        step.earliest <= done_on <= latest
        and _is_asked_for(line.rule.detail, detail)
        and not (is_late and _is_a_rivals(line, done_on, detail))
    )


def _is_a_rivals(line: Line, done_on: date, detail: str | None) -> bool:
    return any(opens <= done_on and _is_asked_for(asked, detail) for opens, asked in line.rivals)


def _is_asked_for(asked: str | None, detail: str | None) -> bool:
    return asked is None or detail in (None, asked)


def _planned(line: Line, step: _Step, done_on: date | None, today: date) -> Planned:
    rule, window = line.rule, step.window
    return Planned(
        rule=rule.code,
        kind=rule.kind,
        title=reasons.title(rule, step.number),
        number=step.number,
        of=rule.repeat.times if rule.repeat else None,
        opens=window.opens,
        best=window.best,
        closes=window.closes,
        state=_state(window, done_on, today, is_skipped=step.number in line.skipped),
        done_on=done_on,
        days_late=max(0, (done_on - window.best).days) if done_on else None,
        reason=_reason(line, step),
    )


def _state(window: Window, done_on: date | None, today: date, *, is_skipped: bool) -> TaskState:
    if done_on is not None:
        return TaskState.DONE
    if is_skipped:
        return TaskState.SKIPPED
    if today < window.opens:
        return TaskState.COMING
    if today <= window.best:
        return TaskState.OPEN
    return TaskState.OVERDUE if today <= window.closes else TaskState.MISSED


def _reason(line: Line, step: _Step) -> str:
    sentences = [line.start.sentence, step.sentence]
    if line.end is not None and step.window.closes == line.end.day:
        sentences.append(reasons.ended(line.end.what, line.end.day))
    return " ".join(sentences)
