"""One season of one block, day by day: what the list of tasks says on each day that matters."""

from datetime import date

import pytest

from planning.compute.next_tasks import (
    BlockYear,
    SeasonDays,
    StageSeen,
    TaskState,
    Work,
    next_tasks,
)
from planning.compute.next_tasks.annona import Climate, annona_rules
from tests.compute.blocks import block_year, counted, day, picked, pollinated, pruned, seen, told

NORTH = block_year(
    annona_rules("sugar-apple", Climate.NORTHERN_SUBTROPICS).rules,
    pruned(day(3, 3)),
    seen(9, day(3, 18)),
    seen(60, day(5, 12)),
    pollinated(day(5, 13), "own pollen"),
    pollinated(day(5, 13), "crossed"),
    pollinated(day(5, 16)),
    pollinated(day(5, 20)),
    pollinated(day(5, 22)),
    pollinated(day(5, 25)),
    seen(69, day(6, 10)),
    counted(day(6, 15), "initial"),
    counted(day(8, 10), "retained"),
    picked(day(9, 7)),
    picked(day(9, 11)),
    picked(day(9, 20)),
    seen(99, day(9, 25)),
)

PRUNING_DONE = "pruning 1 done, best 07.03"
VISITS_DONE = [
    "pollination 1 done, best 13.05",
    "pollination 2 done, best 16.05",
    "pollination 3 done late, best 19.05",  # the fourth day after the second visit
    "pollination 4 done, best 23.05",
    "pollination 5 done, best 25.05",
]
COUNTS_DONE = ["initial-count 1 done, best 15.06", "retained-count 1 done late, best 08.08"]
PICKS_DONE = ["picking 1 done, best 09.09", "picking 2 done, best 11.09"]


def listed(block: BlockYear, today: date) -> list[str]:
    return [
        f"{task.rule} {task.number} {told(task)}, best {task.best:%d.%m}"
        for task in next_tasks([block], today=today).tasks
    ]


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        # midwinter: the pruning is in sight, and nothing else has a date
        (day(1, 10), ["pruning 1 coming, best 07.03"]),
        # the window opens
        (day(2, 22), ["pruning 1 open, best 07.03"]),
        # the day before the pruning, and the day itself
        (day(3, 2), ["pruning 1 open, best 07.03"]),
        (day(3, 3), [PRUNING_DONE]),
        # new shoots: a window that was used in time stays done
        (day(3, 18), [PRUNING_DONE]),
        # waiting for bloom
        (day(5, 11), [PRUNING_DONE]),
        # first bloom dates the first visit and the first picking
        (
            day(5, 12),
            [PRUNING_DONE, "pollination 1 open, best 13.05", "picking 1 coming, best 09.09"],
        ),
        # two rounds are one visit; it dates the second, and the counts for now
        (
            day(5, 13),
            [
                PRUNING_DONE,
                *VISITS_DONE[:1],
                "pollination 2 coming, best 16.05",
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 03.06",
                "retained-count 1 coming, best 27.07",
            ],
        ),
        # the second visit opens
        (
            day(5, 15),
            [
                PRUNING_DONE,
                *VISITS_DONE[:1],
                "pollination 2 open, best 16.05",
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 03.06",
                "retained-count 1 coming, best 27.07",
            ],
        ),
        # made on its best day, which dates the third
        (
            day(5, 16),
            [
                PRUNING_DONE,
                *VISITS_DONE[:2],
                "pollination 3 coming, best 19.05",
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 06.06",
                "retained-count 1 coming, best 30.07",
            ],
        ),
        # the third visit is made a day late
        (
            day(5, 20),
            [
                PRUNING_DONE,
                *VISITS_DONE[:3],
                "pollination 4 coming, best 23.05",
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 10.06",
                "retained-count 1 coming, best 03.08",
            ],
        ),
        # the fourth a day early: the last counts from the day it was made
        (
            day(5, 22),
            [
                PRUNING_DONE,
                *VISITS_DONE[:4],
                "pollination 5 coming, best 25.05",
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 12.06",
                "retained-count 1 coming, best 05.08",
            ],
        ),
        # five visits are all; the counts stay where the last one put them
        (
            day(5, 25),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                "picking 1 coming, best 09.09",
                "initial-count 1 coming, best 15.06",
                "retained-count 1 coming, best 08.08",
            ],
        ),
        # the end of bloom changes nothing, and the first count is due
        (
            day(6, 10),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                "picking 1 coming, best 09.09",
                "initial-count 1 open, best 15.06",
                "retained-count 1 coming, best 08.08",
            ],
        ),
        # counted
        (
            day(6, 15),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                "picking 1 coming, best 09.09",
                COUNTS_DONE[0],
                "retained-count 1 coming, best 08.08",
            ],
        ),
        # the second count is a day over its best
        (
            day(8, 9),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                "picking 1 coming, best 09.09",
                COUNTS_DONE[0],
                "retained-count 1 overdue, best 08.08",
            ],
        ),
        # the first fruit is looked for
        (
            day(9, 1),
            [PRUNING_DONE, *VISITS_DONE, "picking 1 open, best 09.09", *COUNTS_DONE],
        ),
        # the first picking dates the second
        (
            day(9, 7),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                *PICKS_DONE[:1],
                "picking 2 coming, best 11.09",
                *COUNTS_DONE,
            ],
        ),
        # the third is not made in time, and the fourth takes its place
        (
            day(9, 19),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                *PICKS_DONE,
                "picking 3 missed, best 15.09",
                "picking 4 open, best 19.09",
                *COUNTS_DONE,
            ],
        ),
        # picked a day over its best
        (
            day(9, 20),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                *PICKS_DONE,
                "picking 3 missed, best 15.09",
                "picking 4 done late, best 19.09",
                "picking 5 coming, best 24.09",
                *COUNTS_DONE,
            ],
        ),
        # the harvest is over before the fifth closed: no sixth
        (
            day(12, 31),
            [
                PRUNING_DONE,
                *VISITS_DONE,
                *PICKS_DONE,
                "picking 3 missed, best 15.09",
                "picking 4 done late, best 19.09",
                "picking 5 missed, best 24.09",
                *COUNTS_DONE,
            ],
        ),
    ],
)
def test_a_northern_season_is_right_on_each_day(today: date, expected: list[str]) -> None:
    assert listed(NORTH, today) == expected


def test_the_second_visit_says_why_it_is_due() -> None:
    tasks = next_tasks([NORTH], today=day(5, 15)).tasks
    (visit,) = [task for task in tasks if task.state is TaskState.OPEN]
    assert visit.title == "Pollination visit 2 of 5"
    assert visit.reason == "First bloom seen 12 May. Visit 2 of 5, three days after visit 1."


@pytest.mark.parametrize(
    ("today", "waiting"),
    [
        # before bloom everything waits but the pruning
        (day(5, 11), ["pollination", "initial-count", "retained-count", "picking"]),
        # bloom leaves the counts, which wait for the first round
        (day(5, 12), ["initial-count", "retained-count"]),
        # which has been made
        (day(5, 13), []),
    ],
)
def test_what_has_no_date_yet_is_told_apart(today: date, waiting: list[str]) -> None:
    assert [each.rule for each in next_tasks([NORTH], today=today).waiting] == waiting


def southern(day_of: date, *records: Work | StageSeen) -> list[str]:
    season = SeasonDays(year=2026, starts_on=date(2026, 7, 1), ends_on=date(2027, 6, 30))
    rules = annona_rules("atemoya", Climate.SOUTHERN_SUBTROPICS).rules
    return listed(block_year(rules, *records, seasons=[season]), day_of)


SOUTHERN_RECORDS = [
    pruned(date(2026, 9, 10)),
    seen(60, date(2026, 11, 20)),
    pollinated(date(2026, 11, 21)),
    seen(69, date(2026, 11, 22)),
    counted(date(2026, 12, 12), "initial"),
    picked(date(2027, 3, 15)),
]


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        # spring is in September
        (date(2026, 9, 1), ["pruning 1 open, best 15.09"]),
        # pruned in time
        (date(2026, 9, 10), ["pruning 1 done, best 15.09"]),
        # bloom in November puts the first picking behind New Year
        (
            date(2026, 11, 20),
            [
                "pruning 1 done, best 15.09",
                "pollination 1 open, best 21.11",
                "picking 1 coming, best 20.03",
            ],
        ),
        # bloom ends at once: no second visit, and the counts are of the first
        (
            date(2026, 12, 12),
            [
                "pruning 1 done, best 15.09",
                "pollination 1 done, best 21.11",
                "picking 1 coming, best 20.03",
                "initial-count 1 done, best 12.12",
                "retained-count 1 coming, best 04.02",
            ],
        ),
        # picked in autumn, in the same season
        (
            date(2027, 3, 15),
            [
                "pruning 1 done, best 15.09",
                "pollination 1 done, best 21.11",
                "picking 1 done, best 20.03",
                "picking 2 coming, best 19.03",
                "initial-count 1 done, best 12.12",
                "retained-count 1 missed, best 04.02",
            ],
        ),
    ],
)
def test_a_southern_season_crosses_new_year(today: date, expected: list[str]) -> None:
    assert southern(today, *SOUTHERN_RECORDS) == expected
