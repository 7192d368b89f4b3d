"""One season of one block, day by day: what the list of tasks says on each day that matters."""

from datetime import date, timedelta

import pytest

from planning.compute.next_tasks import (
    BlockYear,
    CropFacts,
    SeasonDays,
    StageForecast,
    StageSeen,
    Work,
    WorkKind,
    cycles_of,
    next_tasks,
)
from planning.compute.next_tasks.annona import Climate, annona_rules
from tests.compute.blocks import (
    SEASON,
    block_year,
    counted,
    day,
    picked,
    pollinated,
    pruned,
    seen,
    told,
    work,
)

RULES = annona_rules("sugar-apple", Climate.NORTHERN_SUBTROPICS)
STRIPPING = next(rule for rule in RULES.options if rule.code == "leaf-stripping")
# The grower strips some leaves on 28 May for a second crop.
MAIN = CropFacts(crop="main crop", name="main", season_year=2026, opened_on=day(3, 3))
SECOND = CropFacts(crop="second crop", name="second", season_year=2026, opened_on=day(5, 28))
RECORDS = [
    pruned(day(3, 3)),
    seen(9, day(3, 18)),
    seen(60, day(5, 12)),
    pollinated(day(5, 13), "own pollen"),
    pollinated(day(5, 13), "crossed"),
    pollinated(day(5, 16)),
    pollinated(day(5, 20)),
    pollinated(day(5, 22)),
    pollinated(day(5, 25)),
    work(WorkKind.LEAF_STRIPPING, day(5, 28)),
    seen(69, day(6, 10)),
    counted(day(6, 15), "initial"),
    seen(60, day(7, 3)),
    pollinated(day(7, 4)),
    pollinated(day(7, 7)),
    seen(69, day(7, 8)),
    counted(day(7, 28), "initial"),
    counted(day(8, 10), "retained"),
    picked(day(9, 7), crop=MAIN.crop),
    picked(day(9, 11), crop=MAIN.crop),
    picked(day(9, 20), crop=MAIN.crop),
    seen(99, day(9, 25), crop=MAIN.crop),
    counted(day(9, 20), "retained"),
    picked(day(11, 2), crop=SECOND.crop),
    seen(99, day(11, 3), crop=SECOND.crop),
]


def expected(bbch: int, on: date, crop: str = "main") -> StageForecast:
    """A stage that is expected a week either way."""
    week = timedelta(days=7)
    return StageForecast(
        season_year=2026,
        crop=crop,
        bbch=bbch,
        on=on,
        low=on - week,
        high=on + week,
        reason="70 days after the pruning, as in three seasons.",
    )


# What was forecast, and the days on which that was known and the stage was not seen yet.
FORECASTS = [
    (expected(10, day(3, 16)), day(1, 1), day(3, 17)),
    (expected(60, day(5, 10)), day(3, 3), day(5, 11)),
    (expected(60, day(7, 6), "second"), day(5, 28), day(7, 2)),
]


def north(today: date) -> BlockYear:
    """The block as it is known on a day."""
    crops = [crop for crop in (MAIN, SECOND) if crop.opened_on <= today]
    return block_year(
        [*RULES.rules, STRIPPING],
        *RECORDS,
        cycles=cycles_of([SEASON], crops),
        forecasts=[each for each, since, until in FORECASTS if since <= today <= until],
    )


PRUNED = ["pruning 1 done, best 15.03"]
STRIP = ["leaf-stripping 1 overdue, best 17.04"]
STRIPPED = ["leaf-stripping 1 done late, best 17.04"]
VISITS = [
    "pollination 1 done, best 13.05",
    "pollination 2 done, best 16.05",
    "pollination 3 done late, best 19.05",  # the fourth day after the second visit
    "pollination 4 done, best 23.05",
    "pollination 5 done, best 25.05",
]
COUNTED = ["initial-count 1 done, best 15.06", "retained-count 1 done late, best 08.08"]
PICKED = ["picking 1 done, best 09.09", "picking 2 done, best 11.09"]
SECOND_VISITS = ["pollination 1 done, best 04.07", "pollination 2 done, best 07.07"]
SECOND_COUNTS = ["initial-count 1 done, best 28.07", "retained-count 1 done, best 20.09"]


def listed(block: BlockYear, today: date, crop: str = "main") -> list[str]:
    return [
        f"{task.rule} {task.number} {told(task)}, best {task.best:%d.%m}"
        for task in next_tasks([block], today=today).tasks
        if task.crop == crop
    ]


MAIN_DAYS: list[tuple[date, list[str]]] = [
    # midwinter: the pruning is in sight, by the leaf-out that is forecast
    (day(1, 10), ["pruning 1 coming, best 13.03"]),
    # the window opens two weeks before leaf-out
    (day(3, 2), ["pruning 1 open, best 13.03"]),
    # the pruning dates the stripping, and the bloom that is forecast from it what follows
    (
        day(3, 3),
        [
            "pruning 1 done, best 13.03",
            "pollination 1 coming, best 11.05",
            "picking 1 coming, best 07.09",
            "leaf-stripping 1 coming, best 17.04",
        ],
    ),
    # leaf-out is seen two days later than forecast: the window moves, and was used in time
    (
        day(3, 18),
        [
            *PRUNED,
            "pollination 1 coming, best 11.05",
            "picking 1 coming, best 07.09",
            "leaf-stripping 1 coming, best 17.04",
        ],
    ),
    # some leaves may be stripped from now on
    (
        day(4, 2),
        [
            *PRUNED,
            "pollination 1 coming, best 11.05",
            "picking 1 coming, best 07.09",
            "leaf-stripping 1 open, best 17.04",
        ],
    ),
    # not done by the best day
    (
        day(4, 18),
        [*PRUNED, "pollination 1 coming, best 11.05", "picking 1 coming, best 07.09", *STRIP],
    ),
    # the forecast day is past and no bloom seen: it is expected any day
    (
        day(5, 11),
        [*PRUNED, "pollination 1 open, best 12.05", "picking 1 coming, best 08.09", *STRIP],
    ),
    # first bloom is seen and dates the first visit and the first picking
    (
        day(5, 12),
        [*PRUNED, "pollination 1 open, best 13.05", "picking 1 coming, best 09.09", *STRIP],
    ),
    # two rounds are one visit; it dates the second, and the counts for now
    (
        day(5, 13),
        [
            *PRUNED,
            *VISITS[:1],
            "pollination 2 coming, best 16.05",
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 03.06",
            "retained-count 1 coming, best 27.07",
        ],
    ),
    # the second visit opens
    (
        day(5, 15),
        [
            *PRUNED,
            *VISITS[:1],
            "pollination 2 open, best 16.05",
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 03.06",
            "retained-count 1 coming, best 27.07",
        ],
    ),
    # made on its best day, which dates the third
    (
        day(5, 16),
        [
            *PRUNED,
            *VISITS[:2],
            "pollination 3 coming, best 19.05",
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 06.06",
            "retained-count 1 coming, best 30.07",
        ],
    ),
    # the third visit is made a day late
    (
        day(5, 20),
        [
            *PRUNED,
            *VISITS[:3],
            "pollination 4 coming, best 23.05",
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 10.06",
            "retained-count 1 coming, best 03.08",
        ],
    ),
    # the fourth a day early: the last counts from the day it was made
    (
        day(5, 22),
        [
            *PRUNED,
            *VISITS[:4],
            "pollination 5 coming, best 25.05",
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 12.06",
            "retained-count 1 coming, best 05.08",
        ],
    ),
    # five visits are all; the counts stay where the last one put them
    (
        day(5, 25),
        [
            *PRUNED,
            *VISITS,
            "picking 1 coming, best 09.09",
            *STRIP,
            "initial-count 1 coming, best 15.06",
            "retained-count 1 coming, best 08.08",
        ],
    ),
    # leaves are stripped, late
    (
        day(5, 28),
        [
            *PRUNED,
            *VISITS,
            "picking 1 coming, best 09.09",
            *STRIPPED,
            "initial-count 1 coming, best 15.06",
            "retained-count 1 coming, best 08.08",
        ],
    ),
    # the end of bloom changes nothing, and the first count is due
    (
        day(6, 10),
        [
            *PRUNED,
            *VISITS,
            "picking 1 coming, best 09.09",
            *STRIPPED,
            "initial-count 1 open, best 15.06",
            "retained-count 1 coming, best 08.08",
        ],
    ),
    # counted
    (
        day(6, 15),
        [
            *PRUNED,
            *VISITS,
            "picking 1 coming, best 09.09",
            *STRIPPED,
            *COUNTED[:1],
            "retained-count 1 coming, best 08.08",
        ],
    ),
    # the second count is a day over its best
    (
        day(8, 9),
        [
            *PRUNED,
            *VISITS,
            "picking 1 coming, best 09.09",
            *STRIPPED,
            *COUNTED[:1],
            "retained-count 1 overdue, best 08.08",
        ],
    ),
    # the first fruit is looked for
    (day(9, 1), [*PRUNED, *VISITS, "picking 1 open, best 09.09", *STRIPPED, *COUNTED]),
    # the first picking dates the second
    (
        day(9, 7),
        [*PRUNED, *VISITS, *PICKED[:1], "picking 2 coming, best 11.09", *STRIPPED, *COUNTED],
    ),
    # the third is not made in time, and the fourth takes its place
    (
        day(9, 19),
        [
            *PRUNED,
            *VISITS,
            *PICKED,
            "picking 3 missed, best 15.09",
            "picking 4 open, best 19.09",
            *STRIPPED,
            *COUNTED,
        ],
    ),
    # picked a day over its best
    (
        day(9, 20),
        [
            *PRUNED,
            *VISITS,
            *PICKED,
            "picking 3 missed, best 15.09",
            "picking 4 done late, best 19.09",
            "picking 5 coming, best 24.09",
            *STRIPPED,
            *COUNTED,
        ],
    ),
    # the harvest is over before the fifth closed: no sixth
    (
        day(12, 31),
        [
            *PRUNED,
            *VISITS,
            *PICKED,
            "picking 3 missed, best 15.09",
            "picking 4 done late, best 19.09",
            "picking 5 missed, best 24.09",
            *STRIPPED,
            *COUNTED,
        ],
    ),
]


@pytest.mark.parametrize(("today", "due"), MAIN_DAYS)
def test_a_northern_season_is_right_on_each_day(today: date, due: list[str]) -> None:
    assert listed(north(today), today) == due


SECOND_DAYS: list[tuple[date, list[str]]] = [
    # no second crop yet
    (day(5, 27), []),
    # stripping opens it, and its bloom is forecast
    (day(5, 28), ["pollination 1 coming, best 07.07", "picking 1 coming, best 03.11"]),
    # its first bloom is seen three days early
    (day(7, 3), ["pollination 1 open, best 04.07", "picking 1 coming, best 31.10"]),
    # the first visit dates the second and the counts
    (
        day(7, 4),
        [
            *SECOND_VISITS[:1],
            "pollination 2 coming, best 07.07",
            "picking 1 coming, best 31.10",
            "initial-count 1 coming, best 25.07",
            "retained-count 1 coming, best 17.09",
        ],
    ),
    # the second the third
    (
        day(7, 7),
        [
            *SECOND_VISITS,
            "pollination 3 coming, best 10.07",
            "picking 1 coming, best 31.10",
            "initial-count 1 coming, best 28.07",
            "retained-count 1 coming, best 20.09",
        ],
    ),
    # the end of its bloom takes the third away
    (
        day(7, 8),
        [
            *SECOND_VISITS,
            "picking 1 coming, best 31.10",
            "initial-count 1 coming, best 28.07",
            "retained-count 1 coming, best 20.09",
        ],
    ),
    # its set is counted, and the main crop's count of retained fruit is not taken for it
    (
        day(7, 28),
        [
            *SECOND_VISITS,
            "picking 1 coming, best 31.10",
            *SECOND_COUNTS[:1],
            "retained-count 1 coming, best 20.09",
        ],
    ),
    # the main crop's count
    (
        day(8, 10),
        [
            *SECOND_VISITS,
            "picking 1 coming, best 31.10",
            *SECOND_COUNTS[:1],
            "retained-count 1 coming, best 20.09",
        ],
    ),
    # its own
    (day(9, 20), [*SECOND_VISITS, "picking 1 coming, best 31.10", *SECOND_COUNTS]),
    # its first fruit is looked for while the main crop is over
    (day(10, 25), [*SECOND_VISITS, "picking 1 open, best 31.10", *SECOND_COUNTS]),
    # picked two days over the best day
    (
        day(11, 2),
        [
            *SECOND_VISITS,
            "picking 1 done late, best 31.10",
            "picking 2 coming, best 06.11",
            *SECOND_COUNTS,
        ],
    ),
    # the end of its harvest
    (day(11, 3), [*SECOND_VISITS, "picking 1 done late, best 31.10", *SECOND_COUNTS]),
    # and of the year
    (day(12, 31), [*SECOND_VISITS, "picking 1 done late, best 31.10", *SECOND_COUNTS]),
]


@pytest.mark.parametrize(("today", "due"), SECOND_DAYS)
def test_a_second_crop_is_right_on_each_day(today: date, due: list[str]) -> None:
    assert listed(north(today), today, "second") == due


# What else changes with the calendar alone or with another record: tasks as they were, and are.
BETWEEN: dict[str, dict[date, dict[str, list[str]]]] = {
    "main": {
        day(5, 10): {"pollination 1 coming, best 11.05": ["pollination 1 open, best 11.05"]},
        day(5, 18): {"pollination 3 coming, best 19.05": ["pollination 3 open, best 19.05"]},
        day(5, 24): {"pollination 5 coming, best 25.05": ["pollination 5 open, best 25.05"]},
        day(6, 8): {"initial-count 1 coming, best 15.06": ["initial-count 1 open, best 15.06"]},
        day(7, 24): {"retained-count 1 coming, best 08.08": ["retained-count 1 open, best 08.08"]},
        # the count of what is retained, two days late
        day(8, 10): {
            "retained-count 1 overdue, best 08.08": ["retained-count 1 done late, best 08.08"]
        },
        day(8, 30): {"picking 1 coming, best 09.09": ["picking 1 open, best 09.09"]},
        day(9, 9): {"picking 2 coming, best 11.09": ["picking 2 open, best 11.09"]},
        # the second picking dates the third
        day(9, 11): {
            "picking 2 open, best 11.09": [
                "picking 2 done, best 11.09",
                "picking 3 coming, best 15.09",
            ]
        },
        day(9, 13): {"picking 3 coming, best 15.09": ["picking 3 open, best 15.09"]},
        day(9, 16): {"picking 3 open, best 15.09": ["picking 3 overdue, best 15.09"]},
        day(9, 22): {"picking 5 coming, best 24.09": ["picking 5 open, best 24.09"]},
        # the day on which the harvest ends, and the day after
        day(9, 25): {"picking 5 open, best 24.09": ["picking 5 overdue, best 24.09"]},
        day(9, 26): {"picking 5 overdue, best 24.09": ["picking 5 missed, best 24.09"]},
    },
    "second": {
        day(7, 6): {"pollination 2 coming, best 07.07": ["pollination 2 open, best 07.07"]},
        day(7, 21): {"initial-count 1 coming, best 28.07": ["initial-count 1 open, best 28.07"]},
        day(9, 5): {"retained-count 1 coming, best 20.09": ["retained-count 1 open, best 20.09"]},
        day(10, 21): {"picking 1 coming, best 31.10": ["picking 1 open, best 31.10"]},
        day(11, 1): {"picking 1 open, best 31.10": ["picking 1 overdue, best 31.10"]},
    },
}


@pytest.mark.parametrize(("crop", "days"), [("main", MAIN_DAYS), ("second", SECOND_DAYS)])
def test_no_day_of_the_year_is_otherwise(crop: str, days: list[tuple[date, list[str]]]) -> None:
    """Day by day through the year: the list changes on the days of the tables, and on no other."""
    told_on, between = dict(days), BETWEEN[crop]
    today, due = days[0]
    while today <= days[-1][0]:
        changes = between.get(today, {})
        due = told_on.get(today) or [new for old in due for new in changes.get(old, [old])]
        assert sorted(listed(north(today), today, crop)) == sorted(due), today
        today += timedelta(days=1)


def reason(today: date, rule: str, crop: str = "main") -> str:
    found = next_tasks([north(today)], today=today).tasks
    (due,) = [each for each in found if (each.rule, each.crop, each.done_on) == (rule, crop, None)]
    return due.reason


@pytest.mark.parametrize(
    ("today", "rule", "sentences"),
    [
        # leaf-out is not seen yet
        (
            day(3, 2),
            "pruning",
            "Leaf-out is forecast for 16 March (80 % interval: 9 March to 23 March). 70 days after"
            " the pruning, as in three seasons. Prune just before leaf-out. From 2 March to 23"
            " March, best by 13 March.",
        ),
        # nor is bloom
        (
            day(5, 1),
            "pollination",
            "First bloom is forecast for 10 May (80 % interval: 3 May to 17 May). 70 days after the"
            " pruning, as in three seasons. Visit 1 of 5, best one day after that.",
        ),
        # it is, and a visit was made
        (
            day(5, 15),
            "pollination",
            "First bloom seen 12 May. Visit 2 of 5, three days after visit 1.",
        ),
        # the rounds of the first visit are to be counted
        (
            day(5, 15),
            "initial-count",
            "Last pollination so far on 13 May. Count of fruit set, best 21 days after that. The"
            " round of 13 May has no count yet.",
        ),
    ],
)
def test_each_task_says_why_it_is_due(today: date, rule: str, sentences: str) -> None:
    assert reason(today, rule) == sentences


@pytest.mark.parametrize(
    ("today", "waiting"),
    [
        # before the pruning everything waits but that
        (
            day(3, 2),
            ["pollination", "initial-count", "retained-count", "picking", "leaf-stripping"],
        ),
        # then bloom is forecast, which leaves the counts waiting for the first round
        (day(3, 3), ["initial-count", "retained-count"]),
        # which has been made
        (day(5, 13), []),
    ],
)
def test_what_has_no_date_yet_is_told_apart(today: date, waiting: list[str]) -> None:
    assert [each.rule for each in next_tasks([north(today)], today=today).waiting] == waiting


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
