"""What sets work off beside dates and records: forecasts, season events, heat, missing records."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from planning.compute.next_tasks import (
    AfterEvent,
    AfterHeat,
    AfterStage,
    AfterWork,
    BeforeStage,
    BlockYear,
    Days,
    DaysAround,
    Effort,
    Heat,
    Hours,
    NoneYet,
    Repeat,
    SeasonEvent,
    Session,
    StageForecast,
    Stages,
    TaskError,
    TaskRule,
    TaskState,
    UncountedRound,
    Which,
    WorkKind,
    next_tasks,
)
from planning.compute.next_tasks.annona import Climate, annona_rules
from tests.compute.blocks import block_year, counted, day, picked, pollinated, pruned, seen, tasks

BLOOM = Stages(first=60, last=67, name="first bloom")
YEAR_END = day(12, 31)
AT_ONCE = Days(opens=0, best=1, closes=3)
PRUNING, VISITS = annona_rules("sugar-apple", Climate.NORTHERN_SUBTROPICS).rules[:2]


def rule(trigger: Any, **changes: Any) -> TaskRule:
    values: dict[str, Any] = {
        "code": "weeding",
        "kind": WorkKind.WEEDING,
        "title": "Weeding",
        "noun": "weeding",
        "trigger": trigger,
    }
    return TaskRule(**(values | changes))


def bloom(on: date, days: int = 6, bbch: int = 60, **changes: Any) -> StageForecast:
    values: dict[str, Any] = {
        "season_year": 2026,
        "crop": "main",
        "bbch": bbch,
        "on": on,
        "low": on - timedelta(days=days),
        "high": on + timedelta(days=days),
        "reason": "68 days after leaf-out.",
    }
    return StageForecast(**(values | changes))


def only(block: BlockYear, today: date) -> Any:
    (task,) = tasks(block, today)
    return task


def waiting(block: BlockYear, today: date) -> list[str]:
    return [each.reason for each in next_tasks([block], today=today).waiting]


# Stages ahead ------------------------------------------------------------------------------------


def test_a_forecast_dates_a_task_that_moves_when_the_stage_is_seen() -> None:
    ahead = only(block_year([VISITS], forecasts=[bloom(day(5, 14))]), day(4, 1))
    assert (ahead.state, ahead.opens, ahead.best) == (TaskState.COMING, day(5, 14), day(5, 15))
    assert ahead.reason == (
        "First bloom is forecast for 14 May (80 % interval: 8 May to 20 May). 68 days after"
        " leaf-out. Visit 1 of 5, best one day after that."
    )
    known = only(
        block_year([VISITS], seen(60, day(5, 12)), forecasts=[bloom(day(5, 14))]), day(5, 12)
    )
    assert (known.key, known.opens) == (ahead.key, day(5, 12))
    assert known.reason == "First bloom seen 12 May. Visit 1 of 5, best one day after that."


@pytest.mark.parametrize(
    ("today", "opens"),
    [
        # the forecast day itself
        (day(5, 14), day(5, 14)),
        # nothing seen yet: no visit can be due before bloom, so it moves with the days
        (day(5, 17), day(5, 17)),
        # the last day of the interval
        (day(5, 20), day(5, 20)),
    ],
)
def test_work_at_a_late_stage_is_never_overdue(today: date, opens: date) -> None:
    task = only(block_year([VISITS], forecasts=[bloom(day(5, 14))]), today)
    assert (task.state, task.opens) == (TaskState.OPEN, opens)


def test_after_the_interval_no_day_is_made_up() -> None:
    block = block_year([VISITS], forecasts=[bloom(day(5, 14))])
    assert tasks(block, day(5, 21)) == []
    assert waiting(block, day(5, 21)) == [
        "Pollination visit has no date until first bloom is seen. It was forecast for 8 May to"
        " 20 May, and nobody has recorded it."
    ]


@pytest.mark.parametrize(
    "forecast",
    [
        # of another crop
        bloom(day(5, 14), crop="second"),
        # of another season
        bloom(day(5, 14), season_year=2025),
        # of another stage
        bloom(day(5, 14), bbch=69),
    ],
)
def test_only_the_forecast_of_the_crops_own_stage_counts(forecast: StageForecast) -> None:
    assert tasks(block_year([VISITS], forecasts=[forecast]), day(4, 1)) == []


def test_the_earliest_of_the_stages_that_set_it_off_counts() -> None:
    forecasts = [bloom(day(5, 24), bbch=65), bloom(day(5, 14))]
    assert only(block_year([VISITS], forecasts=forecasts), day(4, 1)).opens == day(5, 14)


@pytest.mark.parametrize(
    ("records", "forecasts", "window"),
    [
        # nothing else is known: the window of the year
        ([], [], (day(2, 22), day(3, 7), day(3, 21))),
        # 14 days before the forecast day, 3 before it, a week after it or its interval's end
        ([], [bloom(day(3, 20), bbch=10)], (day(3, 6), day(3, 17), day(3, 27))),
        ([], [bloom(day(3, 20), bbch=10, days=10)], (day(3, 6), day(3, 17), day(3, 30))),
        # but no pruning is dated by the leaves that it brings out itself
        (
            [],
            [bloom(day(3, 20), bbch=10, follows_work=True)],
            (day(2, 22), day(3, 7), day(3, 21)),
        ),
        # seen: by what happened
        (
            [seen(9, day(3, 12))],
            [bloom(day(3, 20), bbch=10)],
            (day(2, 26), day(3, 9), day(3, 19)),
        ),
        # leaves of a flush in July say nothing of the pruning in March
        ([seen(10, day(7, 2))], [], (day(2, 22), day(3, 7), day(3, 21))),
    ],
)
def test_pruning_goes_by_leaf_out_where_it_is_known(
    records: Sequence[Any], forecasts: Sequence[StageForecast], window: tuple[date, date, date]
) -> None:
    task = only(block_year([PRUNING], *records, forecasts=forecasts), day(7, 2))
    assert (task.opens, task.best, task.closes) == window
    assert task.key == "N1:2026:main:pruning:1"


def test_a_pruning_of_winter_is_done_although_leaf_out_moved_the_window() -> None:
    block = block_year([PRUNING], pruned(day(2, 20)), forecasts=[bloom(day(4, 20), bbch=10)])
    task = only(block, day(2, 20))
    assert (task.state, task.days_late) == (TaskState.DONE, 0)


# Season events -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("event", "records", "opens", "sentence"),
    [
        (SeasonEvent.SEASON_START, [], day(1, 11), "The season starts on 1 January."),
        (SeasonEvent.SEASON_END, [], date(2027, 1, 10), "The season ends on 31 December."),
        (
            SeasonEvent.FIRST_PICKING,
            [picked(day(9, 1)), picked(day(9, 5))],
            day(9, 11),
            "First picking on 1 September.",
        ),
        # the last so far, as long as nobody says that picking has ended
        (
            SeasonEvent.LAST_PICKING,
            [picked(day(9, 1)), picked(day(9, 5))],
            day(9, 15),
            "Last picking so far on 5 September.",
        ),
    ],
)
def test_days_are_counted_from_events_of_the_season(
    event: SeasonEvent, records: Sequence[Any], opens: date, sentence: str
) -> None:
    after = AfterEvent(event=event, days=Days(opens=10, best=12, closes=20))
    task = only(block_year([rule(after)], *records), day(12, 31))
    assert task.opens == opens
    assert task.reason == f"{sentence} Weeding, best twelve days after that."


def test_the_end_of_picking_is_the_day_that_the_crop_says() -> None:
    after = AfterEvent(event=SeasonEvent.LAST_PICKING, days=Days(opens=10, best=12, closes=20))
    block = block_year([rule(after)], picked(day(9, 5)))
    (cycle,) = block.cycles
    ended = replace(block, cycles=[replace(cycle, picking_ends_on=day(10, 1))])
    task = only(ended, day(10, 2))
    assert (task.opens, task.reason.split(".")[0]) == (day(10, 11), "Picking ends on 1 October")


def test_an_event_that_has_not_come_is_waited_for() -> None:
    after = AfterEvent(event=SeasonEvent.FIRST_PICKING, days=AT_ONCE)
    assert waiting(block_year([rule(after)]), day(5, 1)) == [
        "Weeding has no date until picking is recorded."
    ]


# Heat --------------------------------------------------------------------------------------------

HUNDRED = AfterHeat(anchor=BLOOM, degree_days=100, base_c=10, days=AT_ONCE)


def heat(*daily: float | None, observed_until: date = YEAR_END) -> dict[float, Heat]:
    return {10: Heat(first_on=day(5, 1), daily=daily, observed_until=observed_until)}


def test_heat_dates_a_task_from_the_day_on_which_it_has_gathered() -> None:
    # ten a day from 13 May on make a hundred on the 22nd
    block = block_year([rule(HUNDRED)], seen(60, day(5, 12)), heat=heat(*[10.0] * 60))
    task = only(block, day(6, 1))
    assert (task.opens, task.best) == (day(5, 22), day(5, 23))
    assert task.reason == (
        "First bloom seen 12 May. 100 degree days above 10 C had gathered by 22 May. Weeding,"
        " best one day after that."
    )


def test_heat_of_days_ahead_is_said_to_be_expected() -> None:
    values = heat(*[10.0] * 60, observed_until=day(5, 15))
    task = only(block_year([rule(HUNDRED)], seen(60, day(5, 12)), heat=values), day(5, 15))
    assert "100 degree days above 10 C are expected by 22 May, by the days ahead." in task.reason
    assert task.state is TaskState.COMING


def test_heat_may_be_counted_from_work() -> None:
    after = replace(HUNDRED, anchor=WorkKind.POLLINATION, which=Which.LAST)
    records = [pollinated(day(5, 13)), pollinated(day(5, 20))]
    task = only(block_year([rule(after)], *records, heat=heat(*[10.0] * 60)), day(6, 10))
    assert task.opens == day(5, 30)


@pytest.mark.parametrize(
    ("records", "values", "reason"),
    [
        ([], heat(*[10.0] * 60), "Weeding has no date until first bloom is seen."),
        (
            [seen(60, day(5, 12))],
            {},
            "Weeding has no date without weather of the farm's station to count heat from.",
        ),
        # a missing day makes the sum unknown from there
        (
            [seen(60, day(5, 12))],
            heat(*[10.0] * 15, None, *[10.0] * 40),
            "Weeding has no date: the temperatures of 16 May are missing, after 30 of 100 degree"
            " days.",
        ),
        # nor is anything known of the days before the first
        (
            [seen(60, day(4, 12))],
            heat(*[10.0] * 60),
            "Weeding has no date: the temperatures of 13 April are missing, after 0 of 100 degree"
            " days.",
        ),
        # not so warm yet
        (
            [seen(60, day(5, 12))],
            heat(*[10.0] * 20),
            "Weeding has no date yet: 80 of 100 degree days have gathered, the days ahead"
            " included.",
        ),
    ],
)
def test_heat_that_is_not_known_gives_no_date(
    records: Sequence[Any], values: dict[float, Heat], reason: str
) -> None:
    block = block_year([rule(HUNDRED)], *records, heat=values)
    assert tasks(block, day(5, 25)) == []
    assert waiting(block, day(5, 25)) == [reason]


# Conditions on records ---------------------------------------------------------------------------

COUNT = rule(
    AfterWork(kind=WorkKind.POLLINATION, which=Which.FIRST, days=Days(opens=5, best=9, closes=30)),
    code="count",
    kind=WorkKind.COUNTING,
    detail="initial",
    only_while=UncountedRound(days=14, detail="initial"),
)
NOTED = frozenset({"initial"})


@pytest.mark.parametrize(
    ("records", "today", "expected"),
    [
        # no round is a fortnight old
        ([pollinated(day(5, 13))], day(5, 26), []),
        # one is, and has no count
        ([pollinated(day(5, 13))], day(5, 27), [TaskState.OVERDUE]),
        # of this kind
        (
            [pollinated(day(5, 13), counted=frozenset({"retained"}))],
            day(5, 27),
            [TaskState.OVERDUE],
        ),
        # it has one
        ([pollinated(day(5, 13), counted=NOTED)], day(5, 27), []),
        # an older one has, the younger is not old enough
        ([pollinated(day(5, 13), counted=NOTED), pollinated(day(5, 20))], day(5, 27), []),
        # done work stays listed
        (
            [pollinated(day(5, 13), counted=NOTED), counted(day(5, 22), "initial")],
            day(5, 27),
            [TaskState.DONE],
        ),
    ],
)
def test_a_task_is_listed_only_while_a_round_is_not_counted(
    records: Sequence[Any], today: date, expected: list[TaskState]
) -> None:
    assert [task.state for task in tasks(block_year([COUNT], *records), today)] == expected


def test_a_count_made_and_removed_brings_the_task_back() -> None:
    reason = only(block_year([COUNT], pollinated(day(5, 13))), day(5, 27)).reason
    assert reason.endswith("The round of 13 May has no count yet.")


@pytest.mark.parametrize(
    ("records", "expected"),
    [
        (
            [],
            [
                "The season starts on 1 January. Weeding, best one day after that. No pruning is on"
                " record yet."
            ],
        ),
        ([pruned(day(1, 2))], []),
    ],
)
def test_a_task_is_listed_only_while_no_work_of_a_kind_is_on_record(
    records: Sequence[Any], expected: list[str]
) -> None:
    check = rule(
        AfterEvent(event=SeasonEvent.SEASON_START, days=AT_ONCE),
        only_while=NoneYet(kind=WorkKind.PRUNING),
    )
    found = tasks(block_year([check], *records), day(1, 3))
    assert [task.reason for task in found] == expected
    assert waiting(block_year([check], *records), day(1, 3)) == []


# Hours and effort --------------------------------------------------------------------------------


def test_a_task_to_be_done_has_its_hours_and_what_it_takes() -> None:
    session = Session(
        work="brushing", starts_at="2026-05-16T06:45+01:00", ends_at="2026-05-16T10:30+01:00"
    )
    hours = Hours(sessions=(session,), sentence="Brush from sunrise to 10:30.")
    effort = Effort(minutes=600, people=2, sentence="Ten minutes a tree.")
    block = block_year([VISITS], seen(60, day(5, 12)), pollinated(day(5, 13)))
    _, due = tasks(block, day(5, 14))
    told = due.expecting(hours, effort)
    assert (told.key, told.hours, told.effort) == (due.key, hours, effort)
    assert told.reason == (
        "First bloom seen 12 May. Visit 2 of 5, three days after visit 1. Brush from sunrise to"
        " 10:30. Ten minutes a tree."
    )
    assert due.expecting(None, None) == due


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: DaysAround(opens_before=2, best_before=3, closes_after=0), "no fewer days ahead"),
        (lambda: DaysAround(opens_before=3, best_before=1, closes_after=-1), "on that day, or"),
        (lambda: replace(HUNDRED, degree_days=0), "from nought up"),
        (lambda: UncountedRound(days=-1), "the age of a round"),
        (lambda: bloom(day(5, 14), low=day(5, 15)), "outside its interval"),
        (lambda: heat(-1.0), "never negative"),
    ],
)
def test_what_contradicts_itself_is_refused(make: Any, message: str) -> None:
    with pytest.raises(TaskError, match=message):
        make()


def test_a_repeat_starts_from_a_forecast_but_follows_only_what_was_done() -> None:
    again = rule(
        AfterStage(stages=BLOOM, days=AT_ONCE),
        repeat=Repeat(days=Days(opens=5, best=7, closes=9), times=3),
    )
    block = block_year([again], forecasts=[bloom(day(5, 14))])
    assert [task.number for task in tasks(block, day(4, 1))] == [1]
    assert isinstance(PRUNING.trigger, BeforeStage)
