"""A farm with a schedule: a block of sugar apple in the northern subtropics, and its records."""

import datetime as dt
from typing import Any

from planning.models import Alert, NextTask, UndatedTask
from planning.services.schedules import Rebuilt, rebuild_schedule
from records.models import (
    Block,
    Farm,
    FruitCount,
    GrowthStage,
    HarvestWeight,
    PollenBatch,
    PollinationRound,
    Species,
    TaskLog,
)
from records.services import saving
from tests.cast import make_cultivar
from tests.planning.ground import make_block, make_farm, make_tree

LONG_AGO = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)


def day(month: int, day_of_month: int, year: int = 2026) -> dt.date:
    return dt.date(year, month, day_of_month)


def plant_farm(code: str = "HOME", **extra: Any) -> Farm:
    return make_farm(code, **{"latitude": "32.7", "longitude": "-17.0", **extra})


def plant_block(farm: Farm, code: str = "N1", species: str = "sugar-apple") -> Block:
    """A block that has been in the service for years, with one tree."""
    block = make_block(farm, code, created_at=LONG_AGO)
    cultivar = make_cultivar()
    if species != "sugar-apple":
        kind = Species.objects.get(code=species)
        cultivar = type(cultivar).objects.create(name=f"Invented {species} {code}", species=kind)
    make_tree(block, cultivar=cultivar, planted_on=dt.date(2018, 3, 1))
    return block


def prune(block: Block, done_on: dt.date, **extra: Any) -> TaskLog:
    return saving.save(
        TaskLog(farm=block.farm, block=block, kind="pruning", done_on=done_on, **extra)
    )


def see(block: Block, bbch: str, observed_on: dt.date) -> GrowthStage:
    return saving.save(
        GrowthStage(
            farm=block.farm,
            block=block,
            bbch=bbch,
            observed_on=observed_on,
            trees_seen=1,
            trees_looked_at=1,
        )
    )


def pollinate(block: Block, done_on: dt.date, method: str = "brush") -> PollinationRound:
    batch = None
    if method == "brush":
        at = dt.datetime.combine(done_on, dt.time(5), tzinfo=dt.UTC)
        batch = saving.save(
            PollenBatch(farm=block.farm, collected_at=at, stage="male"),
            donor_cultivars=[make_cultivar()],
        )
    return saving.save(
        PollinationRound(
            farm=block.farm,
            block=block,
            cultivar=block.trees.get().cultivar,
            method=method,
            pollen_batch=batch,
            pollinated_on=done_on,
            flowers=40,
        ),
        trees=[block.trees.get()],
    )


def count(block: Block, counted_on: dt.date, kind: str = "initial") -> FruitCount:
    return saving.save(
        FruitCount(
            farm=block.farm,
            block=block,
            counted_on=counted_on,
            kind=kind,
            counted="whole-trees",
            trees_looked_at=1,
            fruit=30,
            thinned_because="too close together" if kind == "thinned" else "",
        )
    )


def pick(block: Block, picked_on: dt.date, **extra: Any) -> HarvestWeight:
    return saving.save(
        HarvestWeight(farm=block.farm, block=block, picked_on=picked_on, fruit_count=40, **extra)
    )


def rebuild(farm: Farm, today: dt.date) -> Rebuilt:
    return rebuild_schedule(farm.pk, today)


def tasks(farm: Farm, today: dt.date, season: int = 2026) -> list[str]:
    """The season's tasks in short, in the order in which they are best done."""
    rebuild(farm, today)
    rows = NextTask.objects.filter(farm=farm, season_year=season)
    return [
        f"{row.rule_code} {row.number} {row.state}, best {row.best_on:%d.%m}"
        for row in rows.order_by("best_on", "key")
    ]


def task(farm: Farm, rule: str, number: int = 1, season: int = 2026) -> NextTask:
    return NextTask.objects.get(farm=farm, rule_code=rule, number=number, season_year=season)


def alerts(farm: Farm, today: dt.date) -> list[str]:
    """Alerts that stand, in short."""
    rebuild(farm, today)
    rows = Alert.objects.filter(farm=farm).exclude(state="closed").order_by("about_on", "key")
    return [f"{row.kind} {row.about_on:%d.%m} {row.state}" for row in rows]


def undated(farm: Farm, today: dt.date) -> dict[str, str]:
    rebuild(farm, today)
    return dict(UndatedTask.objects.filter(farm=farm).values_list("about", "reason"))
