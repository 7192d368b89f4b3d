"""Which days' records are whose, when a block has several crops and seasons."""

from dataclasses import replace
from datetime import date

import pytest

from planning.compute.next_tasks import (
    CropFacts,
    SeasonDays,
    StageSeen,
    TaskError,
    TaskState,
    Work,
    cycles_of,
)
from planning.compute.next_tasks.annona import Climate, annona_rules
from tests.compute.blocks import SEASON, block_year, day, picked, pollinated, pruned, seen, tasks

NEXT_SEASON = SeasonDays(year=2027, starts_on=date(2027, 1, 1), ends_on=date(2027, 12, 31))
RULES = annona_rules("sugar-apple", Climate.NORTHERN_SUBTROPICS).rules


def crop(name: str, opened_on: date, season_year: int = 2026) -> CropFacts:
    return CropFacts(
        crop=f"id of {name} {opened_on}", name=name, season_year=season_year, opened_on=opened_on
    )


YEAR_END = day(12, 31)
MAIN, SECOND = crop("main", day(3, 3)), crop("second", day(6, 15))


def states(*records: Work | StageSeen, today: date = YEAR_END) -> dict[str, TaskState]:
    """State by crop, rule and number, of a block with two crops."""
    block = block_year(RULES, *records, cycles=cycles_of([SEASON], [MAIN, SECOND]))
    return {f"{task.crop} {task.rule} {task.number}": task.state for task in tasks(block, today)}


def test_a_season_without_a_crop_on_record_has_its_main_crop() -> None:
    (cycle,) = cycles_of([SEASON], [])
    assert (cycle.crop, cycle.crop_id, cycle.season_year) == ("main", None, 2026)
    assert (cycle.starts_on, cycle.ends_on) == (day(1, 1), day(12, 31))


def test_a_further_crop_takes_over_on_the_day_it_is_opened() -> None:
    main, second, next_main = cycles_of([NEXT_SEASON, SEASON], [SECOND, MAIN])
    assert (main.crop_id, main.starts_on, main.ends_on) == (MAIN.crop, day(1, 1), day(6, 14))
    assert (second.crop_id, second.starts_on) == (SECOND.crop, day(6, 15))
    assert second.ends_on == day(12, 31)
    assert (next_main.crop, next_main.starts_on) == ("main", date(2027, 1, 1))


def test_crops_of_other_seasons_are_left_to_them() -> None:
    assert [cycle.crop for cycle in cycles_of([SEASON], [crop("second", day(7, 1), 2025)])] == [
        "main"
    ]


def test_two_crops_of_one_name_are_named_apart() -> None:
    again = crop("main", day(5, 1))
    assert [cycle.crop for cycle in cycles_of([SEASON], [again, MAIN])] == [
        "main",
        "main of 2026-05-01",
    ]


def test_two_cycles_of_one_name_are_refused() -> None:
    with pytest.raises(TaskError, match="two crops of a season have the same name"):
        block_year(RULES, cycles=[*cycles_of([SEASON], []), *cycles_of([SEASON], [])])


def test_each_bloom_is_the_crops_that_was_opened_before_it() -> None:
    found = states(seen(60, day(5, 12)), seen(60, day(7, 20)), today=day(7, 20))
    assert found["main pollination 1"] is TaskState.MISSED
    assert found["second pollination 1"] is TaskState.OPEN


def test_rounds_of_the_second_bloom_are_not_late_visits_of_the_first() -> None:
    found = states(seen(60, day(5, 12)), seen(60, day(7, 20)), pollinated(day(7, 21)))
    assert found["main pollination 5"] is TaskState.MISSED
    assert found["second pollination 1"] is TaskState.DONE


def test_yearly_windows_are_the_main_crops() -> None:
    assert [key for key in states() if "pruning" in key] == ["main pruning 1"]


def test_a_pruning_that_opens_the_second_crop_leaves_the_first_missed() -> None:
    assert states(pruned(day(6, 15)))["main pruning 1"] is TaskState.MISSED


def test_work_in_the_main_crops_window_is_its_own_after_the_second_was_opened() -> None:
    found = states(seen(60, day(5, 12)), picked(day(9, 7)))
    assert found["main picking 1"] is TaskState.DONE


def test_a_record_that_names_its_crop_is_that_crops() -> None:
    bloom = [seen(60, day(5, 12)), seen(60, day(7, 20))]
    main = states(*bloom, picked(day(11, 20), crop=MAIN.crop))
    second = states(*bloom, picked(day(11, 20), crop=SECOND.crop))
    assert TaskState.DONE not in [state for key, state in main.items() if "second" in key]
    assert second["second picking 1"] is TaskState.DONE
    assert TaskState.DONE not in [state for key, state in second.items() if "main" in key]


def test_bloom_said_of_a_crop_is_that_crops_whatever_its_day() -> None:
    found = states(seen(60, day(6, 20), crop=MAIN.crop), today=day(6, 20))
    assert found["main pollination 1"] is TaskState.OPEN
    assert "second pollination 1" not in found


def test_the_end_of_one_crops_bloom_is_not_the_others() -> None:
    bloom = [seen(60, day(5, 12)), pollinated(day(5, 13))]
    ended = states(*bloom, seen(69, day(5, 14), crop=MAIN.crop), today=day(5, 14))
    going_on = states(*bloom, seen(69, day(5, 14), crop=SECOND.crop), today=day(5, 14))
    assert "main pollination 2" not in ended
    assert going_on["main pollination 2"] is TaskState.COMING


def test_picking_goes_on_past_the_end_of_the_season() -> None:
    rules = annona_rules("cherimoya", Climate.NORTHERN_SUBTROPICS).rules
    block = block_year(
        rules,
        seen(60, day(7, 10)),
        picked(day(12, 28)),
        picked(date(2027, 1, 1)),
        picked(date(2027, 1, 5)),
        seasons=[SEASON, NEXT_SEASON],
    )
    picks = [task for task in tasks(block, date(2027, 1, 6)) if task.rule == "picking"]
    assert [(task.season_year, task.done_on) for task in picks] == [
        (2026, day(12, 28)),
        (2026, date(2027, 1, 1)),
        (2026, date(2027, 1, 5)),
        (2026, None),
    ]


def test_a_visit_after_the_season_ended_is_no_sign_of_the_next_bloom() -> None:
    block = block_year(
        RULES,
        seen(60, day(12, 29)),
        pollinated(day(12, 30)),
        pollinated(date(2027, 1, 2)),
        seasons=[SEASON, NEXT_SEASON],
    )
    visits = [task for task in tasks(block, date(2027, 1, 3)) if task.rule == "pollination"]
    assert [(task.season_year, task.number, task.done_on) for task in visits] == [
        (2026, 1, day(12, 30)),
        (2026, 2, date(2027, 1, 2)),
        (2026, 3, None),
    ]
    counts = [task for task in tasks(block, date(2027, 1, 3)) if task.rule == "initial-count"]
    assert [(task.season_year, task.opens) for task in counts] == [(2026, date(2027, 1, 16))]


def test_work_before_the_season_starts_may_be_early_work_of_it() -> None:
    march = SeasonDays(year=2026, starts_on=day(3, 1), ends_on=date(2027, 2, 28))
    block = block_year(RULES, pruned(day(2, 25)), seasons=[march])
    (pruning,) = [task for task in tasks(block, day(3, 1)) if task.rule == "pruning"]
    assert pruning.state is TaskState.DONE


@pytest.mark.parametrize(
    ("ends_on", "best_days"),
    [
        # a season shortened by a changed start, without a March in it
        (date(2026, 2, 28), []),
        # an ordinary one
        (date(2026, 12, 31), [day(3, 7)]),
        # one lengthened past the next March
        (date(2027, 6, 30), [day(3, 7), date(2027, 3, 7)]),
    ],
)
def test_a_season_has_as_many_windows_as_it_has_best_days(
    ends_on: date, best_days: list[date]
) -> None:
    block = block_year(RULES, seasons=[replace(SEASON, ends_on=ends_on)])
    prunings = [task for task in tasks(block, day(1, 1)) if task.rule == "pruning"]
    assert [task.best for task in prunings] == best_days
    assert [task.number for task in prunings] == list(range(1, len(best_days) + 1))
