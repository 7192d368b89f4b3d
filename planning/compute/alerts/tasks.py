"""What somebody should be told about dated tasks, and when an alert is no longer one.

A task that is neither done nor skipped gives, by the farm's local date, at most one alert:

* opening soon, in the days before it opens
* due, on its best day
* overdue, after its best day up to the day it closes
* missed, after that

An alert's key names the task, the fact and the day that the fact is about, so one fact gives one
alert, however often it is computed; a task that moves to another day gives another. An alert
whose fact has ended is not among those computed: what still stands under its key is to be closed.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.alerts.values import Alert, AlertError, AlertKind, Handling, state_of, told_on


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedTask:
    """A task with its title and place in words, and the reason for its dates."""

    key: str
    title: str
    place: str
    opens: date
    best: date
    closes: date
    is_settled: bool
    reason: str
    block: str | None = None
    season_year: int | None = None
    assigned_to: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertSettings:
    """`days_ahead`: how many days before it opens a task is announced; 0 for not at all."""

    days_ahead: int = 3

    def __post_init__(self) -> None:
        if self.days_ahead < 0:
            raise AlertError("a task is announced so many days ahead, from nought up")


@dataclass(frozen=True, slots=True, kw_only=True)
class AlertChanges:
    """Keys to raise, and to close because their fact has ended."""

    raised: frozenset[str]
    closed: frozenset[str]


def alerts_of(
    tasks: Iterable[DatedTask], settings: AlertSettings, handling: Handling, *, today: date
) -> tuple[Alert, ...]:
    """The alerts whose fact holds on `today`, the farms' local date."""
    return tuple(
        _alert(task, *fact, handling, today)
        for task in tasks
        if (fact := _fact(task, settings, today)) is not None
    )


def changes(standing: Collection[str], alerts: Iterable[Alert]) -> AlertChanges:
    """What makes the keys of alerts that stand into those of the alerts that hold."""
    holding = {alert.key for alert in alerts}
    return AlertChanges(
        raised=frozenset(holding.difference(standing)),
        closed=frozenset(set(standing) - holding),
    )


def _fact(task: DatedTask, settings: AlertSettings, today: date) -> tuple[AlertKind, date] | None:
    if task.is_settled:
        return None
    if today > task.closes:
        return AlertKind.MISSED, task.closes
    if today > task.best:
        return AlertKind.OVERDUE, task.best
    if today == task.best:
        return AlertKind.DUE, task.best
    is_soon = today < task.opens <= today + timedelta(days=settings.days_ahead)
    return (AlertKind.OPENING_SOON, task.opens) if is_soon else None


def _alert(task: DatedTask, kind: AlertKind, about: date, handling: Handling, today: date) -> Alert:
    key = f"{task.key}:{kind}:{about.isoformat()}"
    return Alert(
        key=key,
        subject=task.key,
        task=task.key,
        block=task.block,
        season_year=task.season_year,
        kind=kind,
        about=about,
        state=state_of(key, task.key, handling, today),
        message=_message(task, kind),
        reason=task.reason,
        assigned_to=task.assigned_to,
    )


def _message(task: DatedTask, kind: AlertKind) -> str:
    """No words such as "tomorrow": the sentence must stay true for as long as the alert stands."""
    what = f"{task.title} in {task.place}"
    match kind:
        case AlertKind.OPENING_SOON:
            return (
                f"{what} opens on {told_on(task.opens)}, and is best done by {told_on(task.best)}."
            )
        case AlertKind.DUE:
            return (
                f"{what} is best done on {told_on(task.best)}; it closes on {told_on(task.closes)}."
            )
        case AlertKind.OVERDUE:
            best, closes = told_on(task.best), told_on(task.closes)
            return f"{what} was best done by {best} and closes on {closes}."
        case _:
            closed = told_on(task.closes)
            return f"{what} closed on {closed}, and no record says that it was done."
