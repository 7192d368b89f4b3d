"""Pollination visits, counts and pickings of annonas.

* Common practice: 4-5 visits a tree over its bloom; picking for ten weeks or more. Custard apple
  is seldom pollinated by hand.
* Cherimoya in New Zealand is pollinated every 2-3 days (cherimoya hand-pollination notes, citing
  trials there).
* Flower to ripe fruit: sugar apple 110-120 days (value from memory), atemoya 100-120 (FAO
  Ecocrop 3236), cherimoya 4-7 months (Peru manual), soursop 5-6 months (value from memory),
  annonas in general 5-6 months (Pinto et al. 2005, s. 5.3).
"""

from dataclasses import dataclass

from planning.compute.next_tasks.annona.climates import (
    COMMON,
    END_OF_BLOOM,
    END_OF_HARVEST,
    FIRST_BLOOM,
)
from planning.compute.next_tasks.rules import Repeat, TaskRule, UncountedRound
from planning.compute.next_tasks.terms import Which, WorkKind
from planning.compute.next_tasks.triggers import AfterStage, AfterWork
from planning.compute.next_tasks.windows import Days


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPick:
    """Days from first bloom to the first picking."""

    days: Days
    source: str


# Months are taken as 30 days. `closes` is the last day on which the first fruit is looked for.
FIRST_PICKS = {
    "sugar-apple": FirstPick(
        days=Days(opens=110, best=120, closes=140),
        source="110-120 days: value from memory; the last day: " + COMMON,
    ),
    "atemoya": FirstPick(
        days=Days(opens=100, best=120, closes=140),
        source="100-120 days: FAO Ecocrop 3236; the last day: " + COMMON,
    ),
    "cherimoya": FirstPick(
        days=Days(opens=120, best=165, closes=210),
        source="4-7 months: practical manual, Peru; the best day: its middle",
    ),
    "soursop": FirstPick(
        days=Days(opens=150, best=165, closes=180),
        source="5-6 months: value from memory; the best day: its middle",
    ),
    "custard-apple": FirstPick(
        days=Days(opens=150, best=165, closes=180),
        source="annonas, 5-6 months: Pinto et al. 2005, s. 5.3; the best day: its middle",
    ),
}

POLLINATION = TaskRule(
    code="pollination",
    kind=WorkKind.POLLINATION,
    title="Pollination visit",
    noun="visit",
    trigger=AfterStage(
        stages=FIRST_BLOOM,
        days=Days(opens=0, best=1, closes=3),
        shown_by=WorkKind.POLLINATION,
    ),
    repeat=Repeat(days=Days(opens=2, best=3, closes=4), times=5),
    until=END_OF_BLOOM,
    sources={
        "trigger": COMMON,
        "repeat": "every 2-3 days: New Zealand cherimoya notes; the last day: " + COMMON,
        "end": "4-5 visits: " + COMMON,
        "until": "BBCH general scale, 69 (value from memory)",
    },
)

INITIAL_COUNT = TaskRule(
    code="initial-count",
    kind=WorkKind.COUNTING,
    detail="initial",
    title="Count of fruit set",
    noun="count",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION,
        which=Which.LAST,
        days=Days(opens=14, best=21, closes=35),
    ),
    early_days=7,
    only_while=UncountedRound(days=0, detail="initial"),
    sources={"trigger": COMMON, "early_days": COMMON, "only_while": COMMON},
)

RETAINED_COUNT = TaskRule(
    code="retained-count",
    kind=WorkKind.COUNTING,
    detail="retained",
    title="Count of fruit retained",
    noun="count",
    trigger=AfterWork(
        kind=WorkKind.POLLINATION,
        which=Which.LAST,
        days=Days(opens=60, best=75, closes=90),
    ),
    only_while=UncountedRound(days=0, detail="retained"),
    sources={"trigger": COMMON, "only_while": COMMON},
)


def picking(first: FirstPick) -> TaskRule:
    return TaskRule(
        code="picking",
        kind=WorkKind.PICKING,
        title="Picking",
        noun="picking",
        trigger=AfterStage(stages=FIRST_BLOOM, days=first.days, shown_by=WorkKind.POLLINATION),
        repeat=Repeat(days=Days(opens=2, best=4, closes=7), for_days=70),
        until=END_OF_HARVEST,
        early_days=30,
        sources={
            "trigger": first.source,
            "early_days": COMMON,
            "repeat": COMMON,
            "end": "ten weeks: " + COMMON,
            "until": "BBCH general scale, 99 (value from memory)",
        },
    )
