"""A farm's schedule on the real database: what closes tasks, opens them again, and is kept."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.models import Alert, NextTask, TaskRule, UndatedTask
from planning.services.derived import Written
from planning.services.schedules import Rebuilt
from records.models import Block, Crop, Farm, PlantingLine, TaskLog
from records.services import saving
from tests.planning.ground import make_tree
from tests.planning.schedules import (
    alerts,
    count,
    day,
    pick,
    plant_block,
    plant_farm,
    pollinate,
    prune,
    rebuild,
    see,
    task,
    tasks,
    undated,
)

pytestmark = pytest.mark.django_db

NOTHING = Rebuilt(
    tasks=Written(added=0, changed=0, deleted=0),
    undated=Written(added=0, changed=0, deleted=0),
    alerts=Written(added=0, changed=0, deleted=0),
)


@pytest.fixture(autouse=True)
def _late_in_the_year(settings: Any) -> None:
    """No record of these tests lies in the future."""
    settings.AS_OF = dt.date(2027, 12, 31)


@pytest.fixture
def farm(db: None) -> Farm:
    return plant_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    return plant_block(farm)


def test_a_farm_with_coordinates_and_plants_gets_its_schedule(farm: Farm, block: Block) -> None:
    assert tasks(farm, day(2, 20)) == ["pruning 1 coming, best 07.03"]
    row = task(farm, "pruning")
    assert (row.opens_on, row.best_on, row.closes_on) == (day(2, 22), day(3, 7), day(3, 21))
    assert row.reason == (
        "Prune just before leaf-out. From 22 February to 21 March, best by 7 March."
    )
    assert (row.season_label, row.title, row.block) == ("2026", "Pruning", block)
    assert row.rule.source.startswith("Dates: common practice, no source; 14 days before")


def test_the_season_after_is_in_sight(farm: Farm, block: Block) -> None:
    assert tasks(farm, day(12, 1), season=2027) == ["pruning 1 coming, best 07.03"]


@pytest.mark.parametrize(
    ("rule", "today", "done_on", "record"),
    [
        # a pruning in the task log
        ("pruning", day(3, 8), day(3, 4), lambda block: prune(block, day(3, 4))),
        # a round by hand is the work done
        ("pollination", day(5, 15), day(5, 13), lambda block: pollinate(block, day(5, 13))),
        # a count of the kind asked for
        ("initial-count", day(6, 15), day(6, 12), lambda block: count(block, day(6, 12))),
        # a picking with minutes
        ("picking", day(9, 12), day(9, 8), lambda block: pick(block, day(9, 8), minutes=90)),
        # and one without: fruit does not weigh itself
        ("picking", day(9, 12), day(9, 8), lambda block: pick(block, day(9, 8))),
    ],
)
def test_recording_the_work_closes_its_task_and_removing_it_opens_it_again(
    farm: Farm, block: Block, rule: str, today: dt.date, done_on: dt.date, record: Any
) -> None:
    see(block, "60", day(5, 12))
    if rule == "initial-count":
        pollinate(block, day(5, 25))
    rebuild(farm, today)
    before = task(farm, rule)
    made = record(block)
    rebuild(farm, today)
    row = task(farm, rule)
    assert (row.state, row.done_on, row.done_by, row.pk) == ("done", done_on, made.pk, before.pk)
    saving.delete(made)
    rebuild(farm, today)
    row = task(farm, rule)
    assert (row.state, row.done_on, row.done_by) == (before.state, None, None)
    assert row.pk == before.pk


def moved(log: TaskLog, block: Block) -> None:
    TaskLog.objects.filter(pk=log.pk).update(block=plant_block(block.farm, "S1"))


@pytest.mark.parametrize(
    "undo",
    [
        lambda log, block: saving.delete(log),
        lambda log, block: TaskLog.objects.filter(pk=log.pk).update(retired_on=day(3, 6)),
        # to another block
        moved,
        # to a date that is too early to be this year's
        lambda log, block: TaskLog.objects.filter(pk=log.pk).update(done_on=day(11, 1, 2025)),
        # to another kind of work
        lambda log, block: TaskLog.objects.filter(pk=log.pk).update(kind="weeding"),
    ],
    ids=["deleted", "retired", "moved", "redated", "another kind"],
)
def test_a_record_that_no_longer_tells_of_the_work_opens_the_task_again(
    farm: Farm, block: Block, undo: Any
) -> None:
    log = prune(block, day(3, 4))
    rebuild(farm, day(3, 10))
    assert NextTask.objects.get(block=block, best_on=day(3, 7)).state == "done"
    undo(log, block)
    rebuild(farm, day(3, 10))
    assert NextTask.objects.get(block=block, best_on=day(3, 7)).state == "overdue"


def test_flowers_left_alone_are_no_visit(farm: Farm, block: Block) -> None:
    see(block, "60", day(5, 12))
    pollinate(block, day(5, 13), method="natural")
    rebuild(farm, day(5, 14))
    assert task(farm, "pollination").state == "overdue"


def test_thinned_fruit_is_no_count(farm: Farm, block: Block) -> None:
    see(block, "60", day(5, 12))
    pollinate(block, day(5, 25))
    count(block, day(6, 12), kind="thinned")
    rebuild(farm, day(6, 15))
    assert task(farm, "initial-count").state == "open"


def test_the_bloom_of_a_crop_sets_off_its_visits(farm: Farm, block: Block) -> None:
    Crop.objects.create(
        farm=farm,
        block=block,
        opened_by="pruning",
        opened_on=day(3, 3),
        bloom_began_on=day(5, 12),
    )
    rebuild(farm, day(5, 12))
    row = task(farm, "pollination")
    assert row.reason.startswith("First bloom seen 12 May. Visit 1 of 5, best one day after that.")
    assert row.crop is not None


def test_a_second_rebuild_writes_nothing(farm: Farm, block: Block) -> None:
    see(block, "60", day(5, 12))
    pollinate(block, day(5, 13))
    rebuild(farm, day(5, 20))
    before = [list(rows.objects.order_by("id").values()) for rows in (NextTask, Alert, UndatedTask)]
    assert rebuild(farm, day(5, 20)) == NOTHING
    after = [list(rows.objects.order_by("id").values()) for rows in (NextTask, Alert, UndatedTask)]
    assert before == after


def test_a_new_day_changes_what_changes_and_keeps_every_id(farm: Farm, block: Block) -> None:
    rebuild(farm, day(3, 7))
    ids = set(NextTask.objects.values_list("pk", flat=True))
    # the pruning falls overdue; the alert of its best day closes and another is raised
    assert rebuild(farm, day(3, 8)) == Rebuilt(
        tasks=Written(added=0, changed=1, deleted=0),
        undated=NOTHING.undated,
        alerts=Written(added=1, changed=1, deleted=0),
    )
    assert set(NextTask.objects.values_list("pk", flat=True)) == ids


def test_a_rebuild_costs_as_many_queries_for_ten_blocks_as_for_one(farm: Farm) -> None:
    counts = []
    for number in range(10):
        prune(plant_block(farm, f"B{number}"), day(3, 4))
        if number in {0, 9}:
            rebuild(farm, day(3, 5))
            with CaptureQueriesContext(connection) as queries:
                assert rebuild(farm, day(3, 5)) == NOTHING
            counts.append(len(queries))
    assert counts[0] == counts[1] <= 54


# Alerts ------------------------------------------------------------------------------------------


def test_a_reopened_task_gets_its_alert_again_as_one_row(farm: Farm, block: Block) -> None:
    assert alerts(farm, day(3, 10)) == ["overdue 07.03 active"]
    alert = Alert.objects.get()
    assert alert.task == task(farm, "pruning")
    log = prune(block, day(3, 9))
    assert alerts(farm, day(3, 10)) == []
    closed = Alert.objects.get()
    assert (closed.pk, closed.state, closed.closed_on) == (alert.pk, "closed", day(3, 10))
    saving.delete(log)
    assert alerts(farm, day(3, 11)) == ["overdue 07.03 active"]
    again = Alert.objects.get()
    assert (again.pk, again.closed_on) == (alert.pk, None)


def test_what_was_missed_is_told_to_the_end_of_its_season(farm: Farm, block: Block) -> None:
    assert alerts(farm, day(12, 31)) == ["missed 21.03 active"]
    assert alerts(farm, day(1, 1, 2027)) == []
    assert task(farm, "pruning").state == "missed"


# What no task is made of -------------------------------------------------------------------------


def test_retired_blocks_and_farms_produce_none(farm: Farm, block: Block) -> None:
    rebuild(farm, day(3, 10))
    assert NextTask.objects.exists()
    assert Alert.objects.exists()
    block.retired_on = day(3, 11)
    saving.save(block)
    rebuild(farm, day(3, 10))
    assert NextTask.objects.exists()  # until the day comes
    rebuild(farm, day(3, 11))
    assert not NextTask.objects.exists()
    assert not Alert.objects.exists()
    block.retired_on = None
    saving.save(block)
    farm.retired_on = day(3, 11)
    saving.save(farm)
    rebuild(farm, day(3, 12))
    assert not NextTask.objects.exists()
    assert not UndatedTask.objects.exists()


def test_nothing_was_missed_before_a_block_was_there(farm: Farm) -> None:
    young = plant_block(farm)
    late = Block.objects.create(
        farm=farm, code="L1", created_at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
    )
    PlantingLine.objects.create(
        farm=farm, block=late, cultivar=young.trees.get().cultivar, tree_count=20
    )
    rebuild(farm, day(7, 1))
    assert task(farm, "pruning").block == young
    assert not NextTask.objects.filter(block=late, season_year=2026).exists()
    # a record from before shows that records were kept then
    prune(late, day(1, 10))
    rebuild(farm, day(7, 1))
    assert NextTask.objects.filter(block=late, season_year=2026).count() == 1


# What has no date --------------------------------------------------------------------------------


def test_what_waits_says_for_what(farm: Farm, block: Block) -> None:
    assert undated(farm, day(3, 1)) == {
        "pollination": "Pollination visit has no date until first bloom is seen.",
        "picking": "Picking has no date until first bloom is seen.",
        "initial-count": "Count of fruit set has no date until pollination is recorded.",
        "retained-count": "Count of fruit retained has no date until pollination is recorded.",
    }
    see(block, "61", day(5, 12))
    assert set(undated(farm, day(5, 12))) == {"initial-count", "retained-count"}


def test_what_does_not_apply_says_why(farm: Farm) -> None:
    plant_block(farm, "E1", species="soursop")
    found = undated(farm, day(3, 1))
    assert found["pruning"].startswith("Soursop is evergreen and flowers on old wood")


def test_without_coordinates_the_climate_is_asked_for(block: Block) -> None:
    farm = block.farm
    Farm.objects.filter(pk=farm.pk).update(latitude=None, longitude=None)
    assert list(undated(farm, day(3, 1))) == ["rules"]
    assert "add its latitude" in UndatedTask.objects.get().reason
    assert not NextTask.objects.exists()


def test_without_plants_the_species_is_asked_for(farm: Farm) -> None:
    Block.objects.create(farm=farm, code="N9")
    assert list(undated(farm, day(3, 1))) == ["species"]


def test_a_mixed_block_goes_by_most_of_its_trees(farm: Farm, block: Block) -> None:
    other = plant_block(farm, "E1", species="soursop").trees.get().cultivar
    for position in (2, 3):
        make_tree(block, position, cultivar=other)
    rebuild(farm, day(3, 1))
    assert not NextTask.objects.filter(block=block, kind="pruning").exists()
    reason = UndatedTask.objects.get(block=block, about="species").reason
    assert reason.startswith("Most trees of this block are soursop, whose rules it goes by.")
    assert "sugar apple" in reason


# Hemispheres and time zones ----------------------------------------------------------------------


def test_a_southern_season_crosses_new_year() -> None:
    farm = plant_farm(
        "EAST",
        latitude="-26.5",
        longitude="152.9",
        time_zone="Australia/Brisbane",
        season_start_month=7,
    )
    block = plant_block(farm, species="atemoya")
    assert tasks(farm, day(9, 1)) == ["pruning 1 open, best 15.09"]
    prune(block, day(9, 10))
    see(block, "60", day(11, 20))
    pollinate(block, day(11, 21))
    see(block, "69", day(11, 22))
    assert tasks(farm, day(12, 31))[-2:] == [
        "retained-count 1 coming, best 04.02",
        "picking 1 coming, best 20.03",
    ]
    assert NextTask.objects.get(rule_code="picking").season_label == "2026/27"
    pick(block, day(3, 15, 2027))
    assert "picking 1 done, best 20.03" in tasks(farm, day(3, 15, 2027))
    assert TaskRule.objects.filter(farm=farm, source__contains="Sanewski").exists()


def test_rows_are_stored_in_the_order_in_which_they_were_computed(db: None) -> None:
    """Lists whose rows were stored together go by their ids."""
    farm = plant_farm()
    codes = [f"B{number:02}" for number in range(40)]
    for code in reversed(codes):
        plant_block(farm, code)
    rebuild(farm, day(3, 10))
    by_id = NextTask.objects.filter(farm=farm).order_by("created_at", "id")
    assert list(dict.fromkeys(by_id.values_list("block__code", flat=True))) == codes
