"""One alert for one fact about a task, from the day the fact begins to the day it ends."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.alerts import (
    Alert,
    AlertError,
    AlertKind,
    AlertSettings,
    AlertState,
    DatedTask,
    Handling,
    alerts_of,
    changes,
)

NOBODY = Handling()
THREE_DAYS = AlertSettings(days_ahead=3)
PRUNING = DatedTask(
    key="N1:2026:main:pruning:1",
    title="Pruning",
    place="block N1",
    opens=date(2026, 2, 22),
    best=date(2026, 3, 7),
    closes=date(2026, 3, 21),
    is_settled=False,
    reason="Prune just before leaf-out.",
    assigned_to=("Ilda",),
)


def alerts(today: date, task: DatedTask = PRUNING, **settings: Any) -> tuple[Alert, ...]:
    return alerts_of([task], AlertSettings(**settings), NOBODY, today=today)


@pytest.mark.parametrize(
    ("today", "kind", "about"),
    [
        # four days ahead is not soon
        (date(2026, 2, 18), None, None),
        # three days are
        (date(2026, 2, 19), AlertKind.OPENING_SOON, PRUNING.opens),
        # and so is the day before
        (date(2026, 2, 21), AlertKind.OPENING_SOON, PRUNING.opens),
        # open: there is time
        (date(2026, 2, 22), None, None),
        (date(2026, 3, 6), None, None),
        # the best day
        (date(2026, 3, 7), AlertKind.DUE, PRUNING.best),
        # the day after
        (date(2026, 3, 8), AlertKind.OVERDUE, PRUNING.best),
        # the last day
        (date(2026, 3, 21), AlertKind.OVERDUE, PRUNING.best),
        # over
        (date(2026, 3, 22), AlertKind.MISSED, PRUNING.closes),
        # and it stays so
        (date(2026, 12, 31), AlertKind.MISSED, PRUNING.closes),
    ],
)
def test_each_day_has_at_most_one_fact(
    today: date, kind: AlertKind | None, about: date | None
) -> None:
    found = [(alert.kind, alert.about) for alert in alerts(today)]
    assert found == ([] if kind is None else [(kind, about)])


@pytest.mark.parametrize(
    ("days_ahead", "expected"),
    [
        # not announced at all
        (0, []),
        # announced the day before
        (1, [AlertKind.OPENING_SOON]),
        (14, [AlertKind.OPENING_SOON]),
    ],
)
def test_how_far_ahead_is_a_setting(days_ahead: int, expected: list[AlertKind]) -> None:
    found = alerts(date(2026, 2, 21), days_ahead=days_ahead)
    assert [alert.kind for alert in found] == expected


def test_negative_days_ahead_are_refused() -> None:
    with pytest.raises(AlertError, match="from nought up"):
        AlertSettings(days_ahead=-1)


@pytest.mark.parametrize("today", [date(2026, 2, 20), date(2026, 3, 7), date(2026, 4, 1)])
def test_nothing_is_told_of_a_task_that_is_done_or_skipped(today: date) -> None:
    assert len(alerts(today)) == 1
    assert alerts(today, replace(PRUNING, is_settled=True)) == ()


@pytest.mark.parametrize(
    ("today", "message"),
    [
        (
            date(2026, 2, 20),
            "Pruning in block N1 opens on 22 February, and is best done by 7 March.",
        ),
        (
            date(2026, 3, 7),
            "Pruning in block N1 is best done on 7 March; it closes on 21 March.",
        ),
        (
            date(2026, 3, 10),
            "Pruning in block N1 was best done by 7 March and closes on 21 March.",
        ),
        (
            date(2026, 4, 1),
            "Pruning in block N1 closed on 21 March, and no record says that it was done.",
        ),
    ],
)
def test_an_alert_says_what_is_the_matter_why_and_to_whom(today: date, message: str) -> None:
    (alert,) = alerts(today)
    assert alert.message == message
    assert alert.reason == "Prune just before leaf-out."
    assert (alert.task, alert.assigned_to) == (PRUNING.key, ("Ilda",))


def test_an_alert_is_the_same_on_every_day_of_its_fact() -> None:
    overdue = [alerts(date(2026, 3, 8) + timedelta(days=n))[0] for n in range(14)]
    assert len(set(overdue)) == 1


def test_a_task_that_moves_to_another_day_is_another_fact() -> None:
    (alert,) = alerts(PRUNING.best)
    (moved,) = alerts(date(2026, 3, 9), replace(PRUNING, best=date(2026, 3, 9)))
    assert alert.kind is moved.kind is AlertKind.DUE
    assert alert.key != moved.key


OVERDUE_KEY = f"{PRUNING.key}:overdue:2026-03-07"


@pytest.mark.parametrize(
    ("handling", "today", "state"),
    [
        # nobody did anything
        (NOBODY, date(2026, 3, 10), AlertState.ACTIVE),
        # snoozed until the 12th
        (
            Handling(snoozed_until={PRUNING.key: date(2026, 3, 12)}),
            date(2026, 3, 11),
            AlertState.SNOOZED,
        ),
        # which is when it is told again
        (
            Handling(snoozed_until={PRUNING.key: date(2026, 3, 12)}),
            date(2026, 3, 12),
            AlertState.ACTIVE,
        ),
        # snoozed while it was due: overdue keeps quiet too
        (
            Handling(snoozed_until={PRUNING.key: date(2026, 3, 12)}),
            date(2026, 3, 8),
            AlertState.SNOOZED,
        ),
        # another task's snooze
        (
            Handling(snoozed_until={"N2:2026:main:pruning:1": date(2026, 3, 12)}),
            date(2026, 3, 11),
            AlertState.ACTIVE,
        ),
        # acknowledged
        (Handling(acknowledged={OVERDUE_KEY}), date(2026, 3, 11), AlertState.ACKNOWLEDGED),
        # acknowledged as overdue: that it is missed is news
        (Handling(acknowledged={OVERDUE_KEY}), date(2026, 3, 22), AlertState.ACTIVE),
        # acknowledged and snoozed
        (
            Handling(snoozed_until={PRUNING.key: date(2026, 3, 12)}, acknowledged={OVERDUE_KEY}),
            date(2026, 3, 11),
            AlertState.ACKNOWLEDGED,
        ),
    ],
)
def test_alerts_may_be_snoozed_and_acknowledged(
    handling: Handling, today: date, state: AlertState
) -> None:
    (alert,) = alerts_of([PRUNING], THREE_DAYS, handling, today=today)
    assert alert.state is state


def test_an_alert_closes_itself_when_its_fact_ends() -> None:
    due = alerts(date(2026, 3, 7))
    raised = changes(set(), due)
    assert (raised.raised, raised.closed) == ({due[0].key}, frozenset())
    # the same fact again raises nothing
    assert changes(raised.raised, due).raised == frozenset()
    # the day after it is overdue, and no longer due
    next_day = changes(raised.raised, alerts(date(2026, 3, 8)))
    assert (next_day.raised, next_day.closed) == ({OVERDUE_KEY}, {due[0].key})
    # and done: nothing is left
    done = changes(next_day.raised, alerts(date(2026, 3, 9), replace(PRUNING, is_settled=True)))
    assert (done.raised, done.closed) == (frozenset(), {OVERDUE_KEY})


@st.composite
def dated_tasks(draw: st.DrawFn) -> DatedTask:
    opens, best, closes = sorted(
        draw(st.lists(st.dates(date(2026, 1, 1), date(2026, 3, 1)), min_size=3, max_size=3))
    )
    return replace(
        PRUNING,
        key=draw(st.uuids().map(str)),
        opens=opens,
        best=best,
        closes=closes,
        is_settled=draw(st.booleans()),
    )


@given(
    tasks=st.lists(dated_tasks(), max_size=8, unique_by=lambda task: task.key),
    days_ahead=st.integers(0, 20),
    first=st.dates(date(2025, 12, 1), date(2026, 4, 1)),
    second=st.dates(date(2025, 12, 1), date(2026, 4, 1)),
)
def test_changes_lead_from_any_days_alerts_to_any_others(
    tasks: list[DatedTask], days_ahead: int, first: date, second: date
) -> None:
    settings = AlertSettings(days_ahead=days_ahead)
    standing = {alert.key for alert in alerts_of(tasks, settings, NOBODY, today=first)}
    holding = alerts_of(tasks, settings, NOBODY, today=second)
    assert len({alert.task for alert in holding}) == len(holding)
    made = changes(standing, holding)
    assert (standing - made.closed) | made.raised == {alert.key for alert in holding}
    assert made.raised.isdisjoint(standing)
    assert made.closed <= standing
