"""Rebuilding a farm's summaries: what differs is written, and nothing else."""

import datetime as dt
import threading
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, transaction

from planning.models import SeasonSummary, SummaryLevel
from planning.services.derived import Written
from planning.services.season_summaries import rebuild_farm
from records.models import Crop, Farm, FarmTick, HarvestWeight, Job, Tombstone
from tests.cast import make_cultivar
from tests.planning.ground import TODAY, make_block, make_farm, make_tree, summary, weigh

NOTHING = Written(added=0, changed=0, deleted=0)


@pytest.fixture
def farm(db: None) -> Farm:
    """Two blocks, two cultivars, a crop, two seasons."""
    return plant_and_pick()


def plant_and_pick() -> Farm:
    farm = make_farm()
    early, late = make_cultivar("Ondrela"), make_cultivar("Tamisca")
    north, south = make_block(farm, "N", area_m2=2_000), make_block(farm, "S")
    tree = make_tree(north, cultivar=early)
    crop = Crop.objects.create(farm=farm, block=north, opened_by="pruning", opened_on="2026-03-01")
    weigh(north, "2025-09-01", 20, cultivar=early)
    weigh(north, "2026-09-01", 10, cultivar=early, crop=crop, trees=[tree], fruit_count=40)
    weigh(south, "2026-09-08", 30, cultivar=late)
    return farm


def stored(farm: Farm) -> list[dict[str, Any]]:
    return list(SeasonSummary.objects.filter(farm=farm).order_by("id").values())


def test_every_level_gets_its_rows(farm: Farm) -> None:
    written = rebuild_farm(farm.pk, TODAY)
    rows = SeasonSummary.objects.filter(farm=farm).values_list("level", "season_year", "net_g")
    assert sorted(rows) == [
        ("block", 2025, 20_000),
        ("block", 2026, 10_000),
        ("block", 2026, 30_000),
        ("crop", 2026, 10_000),
        ("cultivar", 2025, 20_000),
        ("cultivar", 2026, 10_000),
        ("cultivar", 2026, 30_000),
        ("farm", 2025, 20_000),
        ("farm", 2026, 40_000),
    ]
    assert written == Written(added=9, changed=0, deleted=0)


def test_a_second_rebuild_writes_nothing(farm: Farm) -> None:
    rebuild_farm(farm.pk, TODAY)
    before = stored(farm)
    assert rebuild_farm(farm.pk, TODAY) == NOTHING
    assert stored(farm) == before


def test_a_corrected_weighing_changes_the_rows_it_is_in_and_keeps_their_ids(farm: Farm) -> None:
    rebuild_farm(farm.pk, TODAY)
    before = {row["id"]: row for row in stored(farm)}
    HarvestWeight.objects.filter(net_g=30_000).update(net_g=33_000)
    # the southern block, its cultivar and the farm, in one season
    assert rebuild_farm(farm.pk, TODAY) == Written(added=0, changed=3, deleted=0)
    after = {row["id"]: row for row in stored(farm)}
    assert before.keys() == after.keys()
    moved = {after[key]["level"]: after[key]["net_g"] for key in after if after[key] != before[key]}
    assert moved == {"block": 33_000, "cultivar": 33_000, "farm": 43_000}


def test_a_retired_weighing_does_not_count(farm: Farm) -> None:
    HarvestWeight.objects.filter(net_g=30_000).update(retired_on="2026-10-01")
    assert summary(farm, season_year=2026).net_g == 10_000


def test_rows_of_a_season_without_weighings_go(farm: Farm) -> None:
    rebuild_farm(farm.pk, TODAY)
    HarvestWeight.objects.filter(picked_on__year=2025).delete()
    assert rebuild_farm(farm.pk, TODAY) == Written(added=0, changed=0, deleted=3)
    assert not SeasonSummary.objects.filter(season_year=2025).exists()


def test_another_farms_rows_are_left_alone(farm: Farm) -> None:
    neighbour = make_farm("NEXT")
    weigh(make_block(neighbour), "2026-09-01", 5)
    rebuild_farm(neighbour.pk, TODAY)
    before = stored(neighbour)
    rebuild_farm(farm.pk, TODAY)
    assert stored(neighbour) == before


def test_a_farm_that_is_gone_has_nothing_to_rebuild(farm: Farm) -> None:
    assert rebuild_farm(uuid4(), TODAY) == NOTHING


def test_a_season_closes_the_day_after_its_last(farm: Farm) -> None:
    rebuild_farm(farm.pk, dt.date(2026, 12, 31))
    row = SeasonSummary.objects.get(farm=farm, level=SummaryLevel.FARM, season_year=2026)
    assert not row.is_closed
    # all six rows of that season, and none of the season before
    assert rebuild_farm(farm.pk, dt.date(2027, 1, 1)).changed == 6
    row.refresh_from_db()
    assert row.is_closed


def test_a_row_says_what_it_was_computed_from(farm: Farm) -> None:
    block = summary(farm, SummaryLevel.BLOCK, season_year=2026, block__code="N")
    assert block.inputs == {
        "weighings": 1,
        "weighed": 1,
        "estimated": 0,
        "of_one_tree": 1,
        "trees_from": "trees",
        "trees_on": "2026-09-01",
    }
    assert summary(farm, season_year=2026).inputs["blocks"] == 2
    assert block.method
    assert block.reasons["spread"] == "spread between trees: one tree alone shows no spread"


def test_changed_rows_carry_one_tick_and_cause_no_further_rebuild(committed: None) -> None:
    farm = plant_and_pick()
    rebuild_farm(farm.pk, TODAY)
    tick = FarmTick.objects.get(farm=farm).tick
    assert set(SeasonSummary.objects.values_list("tick", flat=True)) == {tick}
    Job.objects.all().delete()
    rebuild_farm(farm.pk, dt.date(2027, 1, 1))
    assert set(SeasonSummary.objects.filter(season_year=2026).values_list("tick", flat=True)) == {
        tick + 1
    }
    assert set(SeasonSummary.objects.filter(season_year=2025).values_list("tick", flat=True)) == {
        tick
    }
    assert not Job.objects.exists()


def test_a_rebuild_that_writes_nothing_takes_no_tick(committed: None) -> None:
    farm = plant_and_pick()
    rebuild_farm(farm.pk, TODAY)
    tick = FarmTick.objects.get(farm=farm).tick
    rebuild_farm(farm.pk, TODAY)
    assert FarmTick.objects.get(farm=farm).tick == tick


def test_rows_that_go_leave_a_tombstone(committed: None) -> None:
    farm = plant_and_pick()
    rebuild_farm(farm.pk, TODAY)
    gone = set(SeasonSummary.objects.filter(season_year=2025).values_list("id", flat=True))
    HarvestWeight.objects.filter(picked_on__year=2025).delete()
    rebuild_farm(farm.pk, TODAY)
    left = Tombstone.objects.filter(farm=farm, kind="planning_seasonsummary")
    assert set(left.values_list("row_id", flat=True)) == gone
    assert None not in left.values_list("tick", flat=True)


def test_a_block_may_go_although_it_was_summed_up(committed: None) -> None:
    farm = plant_and_pick()
    orphan = make_block(farm, "E")
    tree = make_tree(orphan)
    rebuild_farm(farm.pk, TODAY)
    assert SeasonSummary.objects.filter(block=orphan).exists()
    tree.delete()
    orphan.delete()
    assert not SeasonSummary.objects.filter(level=SummaryLevel.BLOCK, block__code="E").exists()


def test_a_rebuild_waits_for_one_before_it_and_sees_what_came_meanwhile(committed: None) -> None:
    farm = plant_and_pick()
    second = threading.Thread(target=rebuild_and_close, args=(farm,))
    with transaction.atomic():
        rebuild_farm(farm.pk, TODAY)
        second.start()
        second.join(0.5)
        assert second.is_alive()
        HarvestWeight.objects.filter(net_g=30_000).update(net_g=33_000)
    second.join(10)
    row = SeasonSummary.objects.get(farm=farm, level=SummaryLevel.FARM, season_year=2026)
    assert row.net_g == 43_000


def rebuild_and_close(farm: Farm) -> None:
    try:
        rebuild_farm(farm.pk, TODAY)
    finally:
        connection.close()
