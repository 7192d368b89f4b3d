"""Each rule of next tasks by itself: windows, triggers, repeats, states and what ends a rule."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from planning.compute.next_tasks import (
    AfterStage,
    AfterWork,
    BlockYear,
    Choice,
    DateWindow,
    Days,
    MonthDay,
    NextTask,
    Repeat,
    Stages,
    StageSeen,
    TaskError,
    TaskRule,
    TaskState,
    Which,
    Work,
    WorkKind,
    next_tasks,
)
from tests.compute.blocks import (
    block_year,
    counted,
    day,
    picked,
    pollinated,
    pruned,
    seen,
    tasks,
    told,
)

BLOOM = Stages(first=60, last=67, name="first bloom")
BLOOM_ENDS = Stages(first=69, last=69, name="end of bloom")
FIVE_TIMES = Repeat(days=Days(opens=2, best=3, closes=4), times=5)
YEAR_END = day(12, 31)


def month_day(month: int, day_of_month: int) -> MonthDay:
    return MonthDay(month=month, day=day_of_month)


def yearly(opens: tuple[int, int], best: tuple[int, int], closes: tuple[int, int]) -> DateWindow:
    first, middle, last = (month_day(*each) for each in (opens, best, closes))
    return DateWindow(opens=first, best=middle, closes=last, because="Prune before leaf-out.")


MARCH = yearly((2, 22), (3, 7), (3, 21))


def rule(**changes: Any) -> TaskRule:
    values: dict[str, Any] = {
        "code": "pruning",
        "kind": WorkKind.PRUNING,
        "title": "Pruning",
        "noun": "pruning",
        "trigger": MARCH,
    }
    return TaskRule(**(values | changes))


def visits(**changes: Any) -> TaskRule:
    values: dict[str, Any] = {
        "code": "visits",
        "kind": WorkKind.POLLINATION,
        "title": "Pollination visit",
        "noun": "visit",
        "trigger": AfterStage(stages=BLOOM, days=Days(opens=0, best=1, closes=3)),
        "repeat": FIVE_TIMES,
    }
    return TaskRule(**(values | changes))


def count(which: Which = Which.LAST, **changes: Any) -> TaskRule:
    values: dict[str, Any] = {
        "code": "count",
        "kind": WorkKind.COUNTING,
        "title": "Count of fruit set",
        "noun": "count",
        "trigger": AfterWork(
            kind=WorkKind.POLLINATION, which=which, days=Days(opens=14, best=21, closes=35)
        ),
    }
    return TaskRule(**(values | changes))


def only_task(block: BlockYear, today: date) -> NextTask:
    (task,) = tasks(block, today)
    return task


def dates(task: NextTask) -> tuple[date, date, date]:
    return task.opens, task.best, task.closes


@pytest.mark.parametrize(
    ("today", "state"),
    [
        # the day before it opens
        (day(2, 21), TaskState.COMING),
        # the day it opens is inside
        (day(2, 22), TaskState.OPEN),
        # so is the best day
        (day(3, 7), TaskState.OPEN),
        # the day after the best one
        (day(3, 8), TaskState.OVERDUE),
        # the day it closes is inside
        (day(3, 21), TaskState.OVERDUE),
        # the day after
        (day(3, 22), TaskState.MISSED),
    ],
)
def test_an_undone_task_goes_by_its_dates_inclusive(today: date, state: TaskState) -> None:
    assert only_task(block_year([rule()]), today).state is state


@pytest.mark.parametrize(
    ("done_on", "state", "days_late"),
    [
        # before it opens, by as many days as count as early
        (day(2, 12), TaskState.DONE, 0),
        # on the best day
        (day(3, 7), TaskState.DONE, 0),
        # a day later
        (day(3, 8), TaskState.DONE, 1),
        # long after it closed
        (day(6, 1), TaskState.DONE, 86),
        # too early to be this window's work
        (day(2, 11), TaskState.MISSED, None),
    ],
)
def test_work_does_a_task_by_the_day_of_the_work(
    done_on: date, state: TaskState, days_late: int | None
) -> None:
    task = only_task(block_year([rule(early_days=10)], pruned(done_on, "log")), YEAR_END)
    assert (task.state, task.days_late) == (state, days_late)
    did = ("log", done_on) if state is TaskState.DONE else (None, None)
    assert (task.done_by, task.done_on) == did


def test_the_first_of_several_records_did_it() -> None:
    logs = [pruned(day(3, 9), "c"), pruned(day(3, 4), "b"), pruned(day(3, 4), "a")]
    assert only_task(block_year([rule()], *logs), YEAR_END).done_by == "a"


def test_records_after_today_are_not_known_yet() -> None:
    block = block_year([rule(), visits()], pruned(day(3, 4)), seen(60, day(5, 12)))
    assert [task.state for task in tasks(block, day(3, 3))] == [TaskState.OPEN]
    assert [task.state for task in tasks(block, day(3, 4))] == [TaskState.DONE]


def test_a_removed_record_reopens_its_task() -> None:
    block = block_year([rule()], pruned(day(3, 4)))
    assert only_task(block, day(3, 10)).state is TaskState.DONE
    reopened = only_task(replace(block, work=[]), day(3, 10))
    assert reopened.state is TaskState.OVERDUE
    assert reopened.key == only_task(block, day(3, 10)).key


KEY = "N1:2026:main:pruning:1"


@pytest.mark.parametrize(
    ("records", "state"),
    [
        # nobody did it
        ([], TaskState.SKIPPED),
        # somebody did it all the same
        ([pruned(day(3, 1))], TaskState.DONE),
    ],
)
def test_a_skipped_task_keeps_its_reason_and_may_still_be_done(
    records: list[Work], state: TaskState
) -> None:
    choice = Choice(skipped_because="Trees too young.", assigned_to=("Ilda",))
    task = only_task(block_year([rule()], *records, choices={KEY: choice}), YEAR_END)
    assert (task.key, task.state) == (KEY, state)
    assert (task.skipped_because, task.assigned_to) == ("Trees too young.", ("Ilda",))


@pytest.mark.parametrize(
    ("window", "year", "expected"),
    [
        # within one year
        (MARCH, 2026, (day(2, 22), day(3, 7), day(3, 21))),
        # 29 February, in a year that has it
        (
            yearly((2, 1), (2, 15), (2, 29)),
            2028,
            (date(2028, 2, 1), date(2028, 2, 15), date(2028, 2, 29)),
        ),
        # and in one that has not, where the window keeps to the end of the month
        (
            yearly((2, 1), (2, 15), (2, 29)),
            2026,
            (day(2, 1), day(2, 15), day(2, 28)),
        ),
        # opening on it
        (
            yearly((2, 29), (3, 7), (3, 21)),
            2027,
            (day(2, 28, 2027), day(3, 7, 2027), day(3, 21, 2027)),
        ),
        # best in January, open since December
        (
            yearly((12, 20), (1, 5), (1, 20)),
            2026,
            (day(12, 20, 2025), day(1, 5), day(1, 20)),
        ),
        # best in December, closing in January
        (
            yearly((12, 1), (12, 20), (1, 10)),
            2026,
            (day(12, 1), day(12, 20), day(1, 10, 2027)),
        ),
    ],
)
def test_a_yearly_window_lies_around_its_best_day(
    window: DateWindow, year: int, expected: tuple[date, date, date]
) -> None:
    found = window.around(year)
    assert (found.opens, found.best, found.closes) == expected


def test_work_of_last_year_does_not_do_this_years() -> None:
    block = block_year([rule(early_days=60)], pruned(day(3, 5, 2025)))
    assert only_task(block, YEAR_END).state is TaskState.MISSED


@pytest.mark.parametrize(
    ("bbch", "sentence"),
    [
        # the stage itself
        (60, "First bloom seen 12 May."),
        # somebody looked late: the grower is told what was seen
        (65, "First bloom: BBCH 65 seen 12 May, nothing before."),
    ],
)
def test_a_stage_counts_from_the_day_it_was_first_seen(bbch: int, sentence: str) -> None:
    block = block_year([visits()], seen(bbch, day(5, 12)), seen(61, day(5, 20)))
    task = only_task(block, day(5, 12))
    assert dates(task) == (day(5, 12), day(5, 13), day(5, 15))
    assert task.reason == f"{sentence} Visit 1 of 5, best one day after that."


@pytest.mark.parametrize("bbch", [59, 68, 69])
def test_other_stages_are_not_first_bloom(bbch: int) -> None:
    assert tasks(block_year([visits()], seen(bbch, day(5, 12))), YEAR_END) == []


def test_pollination_shows_bloom_that_nobody_wrote_down() -> None:
    trigger = AfterStage(
        stages=BLOOM, days=Days(opens=0, best=1, closes=3), shown_by=WorkKind.POLLINATION
    )
    block = block_year([visits(trigger=trigger)], pollinated(day(5, 11)), seen(60, day(5, 12)))
    first, second = tasks(block, day(5, 12))
    assert (first.opens, first.state) == (day(5, 11), TaskState.DONE)
    assert first.reason.startswith("First bloom shown by pollination on 11 May. Visit 1 of 5")
    assert second.opens == day(5, 13)


@pytest.mark.parametrize(
    ("which", "opens", "sentence"),
    [
        # two weeks after the first round
        (Which.FIRST, day(5, 27), "First pollination on 13 May."),
        # and after the last one up to today
        (Which.LAST, day(6, 3), "Last pollination so far on 20 May."),
    ],
)
def test_work_counts_from_the_first_or_last_day(which: Which, opens: date, sentence: str) -> None:
    rounds = [pollinated(day(5, 20)), pollinated(day(5, 13)), pollinated(day(5, 16))]
    task = only_task(block_year([count(which)], *rounds), day(5, 21))
    assert task.opens == opens
    assert task.reason == f"{sentence} Count of fruit set, best 21 days after that."


def test_a_round_after_the_count_asks_for_another() -> None:
    block = block_year([count()], pollinated(day(5, 20)), counted(day(6, 8), "initial"))
    assert only_task(block, day(6, 20)).state is TaskState.DONE
    later = replace(block, work=[*block.work, pollinated(day(6, 18))])
    assert only_task(later, day(6, 20)).state is TaskState.COMING
    assert only_task(later, day(6, 20)).opens == day(7, 2)


def test_counts_are_told_apart_by_what_they_count() -> None:
    rules = [
        count(code="initial", detail="initial"),
        count(
            code="retained",
            detail="retained",
            trigger=AfterWork(
                kind=WorkKind.POLLINATION, which=Which.LAST, days=Days(opens=60, best=75, closes=90)
            ),
        ),
    ]
    rounds = [pollinated(day(5, 20))]
    states = {
        # a count of retained fruit leaves the first count missed
        "retained": [TaskState.MISSED, TaskState.DONE],
        # a thinning is neither
        "thinned": [TaskState.MISSED, TaskState.MISSED],
        # a first count, late, is one all the same
        "initial": [TaskState.DONE, TaskState.MISSED],
        # a log that does not say does the one whose time it is
        None: [TaskState.MISSED, TaskState.DONE],
    }
    for detail, expected in states.items():
        block = block_year(rules, *rounds, counted(day(7, 25), detail))
        assert [task.state for task in tasks(block, YEAR_END)] == expected


@pytest.mark.parametrize(
    ("done_on", "states"),
    [
        # in the first window
        (day(4, 5), [TaskState.DONE, TaskState.MISSED]),
        # after it, before the second opens: the first, late
        (day(6, 1), [TaskState.DONE, TaskState.MISSED]),
        # in the second window: the first stays missed
        (day(9, 5), [TaskState.MISSED, TaskState.DONE]),
    ],
)
def test_the_same_work_twice_a_year_is_done_by_the_record_of_its_time(
    done_on: date, states: list[TaskState]
) -> None:
    rules = [
        rule(code="b-spring", trigger=yearly((4, 1), (4, 10), (4, 30))),
        rule(code="a-autumn", trigger=yearly((9, 1), (9, 10), (9, 30))),
    ]
    block = block_year(rules, pruned(done_on))
    assert [task.state for task in tasks(block, YEAR_END)] == states


def visit_dates(*records: Work | StageSeen, today: date = YEAR_END, **changes: Any) -> list[str]:
    """Each visit as number, best day and state."""
    block = block_year([visits()], seen(60, day(5, 12)), *records, **changes)
    return [f"{task.number} {task.best:%d.%m} {told(task)}" for task in tasks(block, today)]


@pytest.mark.parametrize(
    ("today", "rounds", "expected"),
    [
        # nothing is dated after a visit that is still to be made
        (day(5, 13), [], ["1 13.05 open"]),
        # the second counts from the day of the first, made late
        (day(5, 15), [day(5, 15)], ["1 13.05 done late", "2 18.05 coming"]),
        # two rounds on one day are one visit
        (day(5, 14), [day(5, 13), day(5, 13)], ["1 13.05 done", "2 16.05 coming"]),
        # and so is the rest of the block on the next day
        (day(5, 14), [day(5, 13), day(5, 14)], ["1 13.05 done", "2 16.05 coming"]),
        # two days on is the second visit
        (day(5, 15), [day(5, 13), day(5, 15)], ["1 13.05 done", "2 16.05 done", "3 18.05 coming"]),
        # a missed visit is followed from its best day, and not before it closed
        (day(5, 16), [], ["1 13.05 missed", "2 16.05 open"]),
        # work after a missed visit closed is the next visit
        (day(5, 17), [day(5, 17)], ["1 13.05 missed", "2 16.05 done late", "3 20.05 coming"]),
    ],
)
def test_visits_follow_from_the_actual_day_of_the_last(
    today: date, rounds: list[date], expected: list[str]
) -> None:
    records = [pollinated(done_on, f"round {n}") for n, done_on in enumerate(rounds)]
    assert visit_dates(*records, today=today) == expected


def test_five_visits_are_all() -> None:
    rounds = [pollinated(day(5, 13) + timedelta(days=3 * n)) for n in range(6)]
    assert visit_dates(*rounds) == [
        "1 13.05 done",
        "2 16.05 done",
        "3 19.05 done",
        "4 22.05 done",
        "5 25.05 done",
    ]


def test_the_last_visit_may_be_made_late() -> None:
    rounds = [pollinated(day(5, 13) + timedelta(days=3 * n)) for n in range(4)]
    assert visit_dates(*rounds, pollinated(day(6, 20)))[-1] == "5 25.05 done late"


def test_reasons_name_the_visit_before_and_what_became_of_it() -> None:
    block = block_year(
        [visits()],
        seen(60, day(5, 12)),
        pollinated(day(5, 13)),
        choices={"N1:2026:main:visits:2": Choice(skipped_because="Rain.")},
    )
    reasons = [task.reason for task in tasks(block, day(5, 25))]
    assert reasons == [
        "First bloom seen 12 May. Visit 1 of 5, best one day after that.",
        "First bloom seen 12 May. Visit 2 of 5, three days after visit 1.",
        "First bloom seen 12 May. Visit 3 of 5, three days after visit 2 was due and skipped.",
        "First bloom seen 12 May. Visit 4 of 5, three days after visit 3 was due.",
        "First bloom seen 12 May. Visit 5 of 5, three days after visit 4 was due.",
    ]


def test_a_task_is_headed_by_its_place_in_the_repeat() -> None:
    picking = visits(
        code="picking",
        kind=WorkKind.PICKING,
        title="Picking",
        noun="picking",
        repeat=Repeat(days=Days(opens=2, best=4, closes=7), for_days=70),
    )
    block = block_year([rule(), visits(), picking], seen(60, day(5, 12)))
    headings = [(task.title, task.number, task.of) for task in tasks(block, day(5, 12))]
    assert headings == [
        ("Pruning", 1, None),
        ("Picking 1", 1, None),
        ("Pollination visit 1 of 5", 1, 5),
    ]


@pytest.mark.parametrize(
    ("ended_on", "expected"),
    [
        # before the second visit opens: there is none
        (day(5, 14), ["1 13.05 done"]),
        # while it is open: it closes that day
        (day(5, 15), ["1 13.05 done", "2 15.05 missed"]),
        # after it closed
        (day(5, 18), ["1 13.05 done", "2 16.05 missed", "3 18.05 missed"]),
    ],
)
def test_nothing_is_due_once_the_ending_stage_is_seen(ended_on: date, expected: list[str]) -> None:
    block = block_year(
        [visits(until=BLOOM_ENDS)],
        seen(60, day(5, 12)),
        pollinated(day(5, 13)),
        seen(69, ended_on),
    )
    found = [f"{task.number} {task.best:%d.%m} {task.state}" for task in tasks(block, YEAR_END)]
    assert found == expected


SHOOTS = Stages(first=7, last=11, name="new shoots")


@pytest.mark.parametrize(
    ("seen_on", "expected"),
    [
        # within the window: it closes that day
        (day(3, 10), (day(2, 22), day(3, 7), day(3, 10))),
        # before it opens: it was due by then
        (day(2, 15), (day(2, 15), day(2, 15), day(2, 15))),
        # after it closed: too late to matter
        (day(4, 10), (day(2, 22), day(3, 7), day(3, 21))),
        # the flush of last autumn
        (day(1, 2), (day(2, 22), day(3, 7), day(3, 21))),
    ],
)
def test_a_window_ends_with_the_stage_that_ends_it(
    seen_on: date, expected: tuple[date, date, date]
) -> None:
    block = block_year([rule(until=SHOOTS, early_days=30)], seen(9, seen_on))
    assert dates(only_task(block, YEAR_END)) == expected


@pytest.mark.parametrize(
    ("ending", "reason"),
    [
        ([], "Prune before leaf-out. From 22 February to 21 March, best by 7 March."),
        # cut short, and why
        (
            [seen(9, day(3, 10))],
            "Prune before leaf-out. From 22 February to 10 March, best by 7 March."
            " New shoots seen on 10 March, so nothing is due after that.",
        ),
        # nothing left of it but the day
        (
            [seen(9, day(2, 15))],
            "Prune before leaf-out. Due on 15 February."
            " New shoots seen on 15 February, so nothing is due after that.",
        ),
    ],
)
def test_a_windows_reason_gives_its_days_and_what_cut_it(
    ending: list[StageSeen], reason: str
) -> None:
    block = block_year([rule(until=SHOOTS, early_days=30)], *ending)
    assert only_task(block, YEAR_END).reason == reason


def picking(**changes: Any) -> TaskRule:
    return visits(
        code="picking",
        kind=WorkKind.PICKING,
        title="Picking",
        noun="picking",
        trigger=AfterStage(stages=BLOOM, days=Days(opens=110, best=120, closes=140)),
        repeat=Repeat(days=Days(opens=5, best=7, closes=10), for_days=15),
        **changes,
    )


def test_a_repeat_ends_so_many_days_after_the_first() -> None:
    picks = [picked(day(9, 1)), picked(day(9, 8)), picked(day(9, 15)), picked(day(9, 22))]
    block = block_year([picking()], seen(60, day(5, 12)), *picks)
    # The fourth would open on 20 September, and 15 days after the first is the 16th.
    assert [task.done_on for task in tasks(block, YEAR_END)] == [
        day(9, 1),
        day(9, 8),
        day(9, 15),
    ]


def test_picking_ends_when_the_crop_says_so() -> None:
    block = block_year([picking()], seen(60, day(5, 12)), picked(day(9, 1)))
    (cycle,) = block.cycles
    ended = replace(block, cycles=[replace(cycle, picking_ends_on=day(9, 7))])
    first, second = tasks(ended, day(9, 6))
    assert (first.state, dates(second)) == (TaskState.DONE, (day(9, 6), day(9, 7), day(9, 7)))
    assert second.reason.endswith("End of picking on 7 September, so nothing is due after that.")


def test_what_is_not_known_gives_no_date_but_says_what_it_waits_for() -> None:
    schedule = next_tasks([block_year([rule(), visits(), count()])], today=day(5, 1))
    assert [task.rule for task in schedule.tasks] == ["pruning"]
    assert {waiting.rule: waiting.reason for waiting in schedule.waiting} == {
        "visits": "Pollination visit has no date until first bloom is seen.",
        "count": "Count of fruit set has no date until pollination is recorded.",
    }


@pytest.mark.parametrize(
    ("today", "changes"),
    [
        # a season not yet begun
        (day(12, 31, 2025), {}),
        # one that is over
        (day(1, 1, 2027), {}),
        # a block that was given up
        (day(5, 1), {"retired_on": day(4, 1)}),
    ],
)
def test_nothing_waits_outside_the_season_and_the_blocks_life(
    today: date, changes: dict[str, Any]
) -> None:
    assert next_tasks([block_year([visits()], **changes)], today=today).waiting == ()


@pytest.mark.parametrize(
    ("changes", "records", "is_listed"),
    [
        # closed before the records of the farm begin
        ({"kept_from": day(3, 22)}, [], False),
        # but done
        ({"kept_from": day(3, 22)}, [pruned(day(3, 1))], True),
        # the records begin while it is still open
        ({"kept_from": day(3, 21)}, [], True),
        # the block was given up before it closed
        ({"retired_on": day(3, 21)}, [], False),
        # and after
        ({"retired_on": day(3, 22)}, [], True),
    ],
)
def test_nothing_is_missed_before_the_records_begin_or_after_the_block_ends(
    changes: dict[str, Any], records: list[Work], is_listed: bool
) -> None:
    found = tasks(block_year([rule()], *records, **changes), YEAR_END)
    assert [task.rule for task in found] == (["pruning"] if is_listed else [])


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: month_day(2, 30), "month 2 has no day 30"),
        (lambda: month_day(13, 1), "month 13 has no day 1"),
        # the best day before the window opens
        (lambda: yearly((3, 10), (3, 1), (3, 21)), "within a year"),
        (lambda: Days(opens=3, best=2, closes=4), "in this order"),
        # due before its cause
        (lambda: Days(opens=-1, best=2, closes=4), "in this order"),
        (lambda: Stages(first=60, last=100, name="bloom"), "BBCH stages run from 0 to 99"),
        (lambda: Stages(first=67, last=60, name="bloom"), "BBCH stages run from 0 to 99"),
        (lambda: seen(100, day(5, 1)), "a BBCH stage is 0 to 99, not 100"),
        # twice on one day
        (lambda: Repeat(days=Days(opens=0, best=1, closes=2), times=2), "a day after the last"),
        # for ever
        (lambda: Repeat(days=Days(opens=1, best=1, closes=2)), "so many times or so many days"),
        (lambda: Repeat(days=Days(opens=1, best=1, closes=2), times=0), "at least once"),
        (lambda: rule(early_days=-1), "from nought up"),
        (lambda: block_year([rule(), rule()]), "the same code"),
    ],
)
def test_what_contradicts_itself_is_refused(make: Any, message: str) -> None:
    with pytest.raises(TaskError, match=message):
        make()
