"""A season of one block entered in any order, corrected and partly undone, ends the same."""

import datetime as dt
import random
from collections.abc import Callable
from typing import Any

import pytest

from planning.models import Alert, NextTask, SeasonSummary, UndatedTask
from planning.services.season_summaries import rebuild_farm
from records.models import Block, Farm
from records.services import saving
from tests.planning.schedules import (
    count,
    day,
    pick,
    plant_block,
    plant_farm,
    pollinate,
    prune,
    rebuild,
    see,
)

pytestmark = pytest.mark.django_db

TODAY = day(9, 20)
# What happened, by what it is called here; each is made on its day, or on a wrong one at first.
Make = Callable[[Block, dt.date], Any]
SEASON: dict[str, tuple[Make, dt.date]] = {
    "pruning": (prune, day(3, 9)),
    "first bloom": (lambda block, on: see(block, "60", on), day(5, 12)),
    **{
        f"visit {number}": (pollinate, day(5, on))
        for number, on in enumerate((13, 16, 20, 22, 25), start=1)
    },
    "end of bloom": (lambda block, on: see(block, "69", on), day(6, 10)),
    "first count": (lambda block, on: count(block, on, "initial"), day(6, 15)),
    "second count": (lambda block, on: count(block, on, "retained"), day(8, 10)),
    **{f"picking {on}": (pick, day(9, on)) for on in (7, 11)},
}


@pytest.fixture(autouse=True)
def _at_the_end(settings: Any) -> None:
    settings.AS_OF = TODAY


def outcome(farm: Farm) -> dict[str, list[tuple[Any, ...]]]:
    """What a farm's people are told, whatever its rows are called."""
    rebuild(farm, TODAY)
    rebuild_farm(farm.pk, TODAY)
    standing = Alert.objects.filter(farm=farm).exclude(state="closed")
    return {
        "tasks": sorted(
            NextTask.objects.filter(farm=farm).values_list(
                "rule_code",
                "season_year",
                "number",
                "state",
                "opens_on",
                "best_on",
                "closes_on",
                "done_on",
                "reason",
                "title",
            ),
            key=str,
        ),
        "undated": sorted(
            UndatedTask.objects.filter(farm=farm).values_list("about", "reason"), key=str
        ),
        "alerts": sorted(standing.values_list("kind", "about_on", "state", "message"), key=str),
        "summary": sorted(
            SeasonSummary.objects.filter(farm=farm).values_list(
                "level", "season_year", "fruit_count", "first_on", "last_on"
            ),
            key=str,
        ),
    }


def enter_straight(farm: Farm) -> dict[str, list[tuple[Any, ...]]]:
    block = plant_block(farm)
    for make, on in SEASON.values():
        make(block, on)
    return outcome(farm)


def enter_somehow(farm: Farm, rng: random.Random) -> dict[str, list[tuple[Any, ...]]]:
    """In random order, some on wrong days, with strays; then corrected, and the strays undone."""
    block = plant_block(farm)
    names = [*SEASON, *(f"stray {name}" for name in rng.sample(list(SEASON), 3))]
    rng.shuffle(names)
    entered = {}
    for name in names:
        make, on = SEASON[name.removeprefix("stray ")]
        is_wrong = name.startswith("stray") or rng.random() < 0.4
        shift = dt.timedelta(days=rng.randint(-40, 0)) if is_wrong else dt.timedelta()
        entered[name] = make(block, on + shift)
        if rng.random() < 0.3:
            rebuild(farm, TODAY)
    rng.shuffle(names)
    for name in names:
        if name.startswith("stray"):
            undo(entered[name], rng)
        else:
            correct(entered[name], SEASON[name][1])
    return outcome(farm)


def undo(record: Any, rng: random.Random) -> None:
    if rng.random() < 0.5:
        saving.delete(record)
    else:
        type(record).objects.filter(pk=record.pk).update(retired_on=TODAY)


def correct(record: Any, on: dt.date) -> None:
    field = type(record).dated_by
    if getattr(record, field) != on:
        setattr(record, field, on)
        saving.save(record)


@pytest.mark.parametrize("seed", range(8))
def test_the_way_a_season_was_entered_does_not_matter(seed: int) -> None:
    straight = enter_straight(plant_farm("STRAIGHT"))
    assert len(straight["tasks"]) > 10
    assert straight["alerts"]
    assert enter_somehow(plant_farm("SOMEHOW"), random.Random(seed)) == straight
