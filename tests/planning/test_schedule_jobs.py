"""From a change or a new day to a current schedule, by the jobs that a worker does."""

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.utils import timezone

from orchard import clock
from planning import tasks as planning_tasks
from planning.models import Alert, NextTask, ScheduleRun, TaskChoice, TaskRule
from planning.services.schedules import farms_on_another_day
from records.models import Block, Farm, FarmTick, Job, Tombstone
from records.services.history import history_of
from tests.planning.schedules import day, plant_block, plant_farm, prune, rebuild, task
from tests.planning.test_summary_jobs import waiting
from tests.working import do_all_jobs


@pytest.fixture
def farm(committed: None, settings: Any) -> Farm:
    settings.AS_OF = day(3, 10)
    farm = plant_farm()
    plant_block(farm)
    do_all_jobs()
    return farm


def test_a_record_closes_its_task_by_the_job_that_it_leaves(farm: Farm) -> None:
    assert task(farm, "pruning").state == "overdue"
    prune(farm.blocks.get(), day(3, 9))
    assert waiting("farm-changed") == [str(farm.pk)]
    do_all_jobs()
    done = task(farm, "pruning")
    assert (done.state, done.days_late) == ("done", 2)
    assert Alert.objects.get(farm=farm).state == "closed"


def test_changed_rows_carry_one_tick_and_cause_no_further_rebuild(farm: Farm) -> None:
    tick = FarmTick.objects.get(farm=farm).tick
    rebuild(farm, day(3, 22))
    row = task(farm, "pruning")
    assert (row.state, row.tick) == ("missed", tick + 1)
    assert set(Alert.objects.values_list("tick", flat=True)) == {tick + 1}
    assert waiting("farm-changed") == []
    rebuild(farm, day(3, 22))
    assert FarmTick.objects.get(farm=farm).tick == tick + 1


def test_derived_rows_that_go_cause_no_further_rebuild(farm: Farm) -> None:
    gone = NextTask.objects.filter(farm=farm, rule_code="pruning", season_year=2026)
    row_id = gone.get().pk
    gone.delete()
    assert Tombstone.objects.get(row_id=row_id).tick == FarmTick.objects.get(farm=farm).tick
    assert waiting("farm-changed") == []


def test_records_that_go_cause_a_rebuild_also_with_derived_rows_beside_them(farm: Farm) -> None:
    log = prune(farm.blocks.get(), day(3, 9))
    do_all_jobs()
    with transaction.atomic():
        NextTask.objects.filter(farm=farm, rule_code="pruning").delete()
        log.delete()
    assert waiting("farm-changed") == [str(farm.pk)]
    do_all_jobs()
    assert task(farm, "pruning").state == "overdue"


def test_defaults_are_written_once(farm: Farm) -> None:
    versions = set(TaskRule.objects.values_list("version", flat=True))
    rebuild(farm, day(3, 11))
    assert (TaskRule.objects.count(), versions) == (8, {1})


def test_a_persons_choice_is_audited_and_derived_rows_are_not(farm: Farm) -> None:
    TaskChoice.objects.create(
        farm=farm,
        block=farm.blocks.get(),
        task_key=task(farm, "pruning").key,
        skipped_because="Hail.",
    )
    do_all_jobs()
    assert task(farm, "pruning").state == "skipped"
    assert history_of(TaskChoice)._default_manager.count() == 1
    assert not hasattr(NextTask, "events")
    assert not hasattr(Alert, "events")


def test_a_block_may_go_although_work_was_due_there(farm: Farm) -> None:
    block = farm.blocks.get()
    TaskChoice.objects.create(farm=farm, block=block, task_key="x", skipped_because="Hail.")
    block.trees.all().delete()
    block.delete()
    do_all_jobs()
    assert not NextTask.objects.exists()
    assert not Block.objects.exists()


def test_the_hourly_look_queues_farms_on_a_new_day_and_no_others(
    farm: Farm, monkeypatch: pytest.MonkeyPatch
) -> None:
    Job.objects.all().delete()
    planning_tasks.queue_hourly()
    assert waiting("new-day") == []
    monkeypatch.setattr(clock, "today", lambda _: day(3, 22))
    planning_tasks.queue_hourly()
    assert waiting("new-day") == [str(farm.pk)]
    do_all_jobs()
    assert task(farm, "pruning").state == "missed"
    assert ScheduleRun.objects.get(farm=farm).computed_for == day(3, 22)
    planning_tasks.queue_hourly()
    assert waiting("new-day") == []


@pytest.mark.parametrize(
    ("instant", "brisbane", "madeira"),
    [
        # 00:30 of 22 September in Brisbane, 15:30 of the 21st on Madeira
        (dt.datetime(2026, 9, 21, 14, 30, tzinfo=dt.UTC), day(9, 22), day(9, 21)),
        # both on the 22nd
        (dt.datetime(2026, 9, 22, 8, 0, tzinfo=dt.UTC), day(9, 22), day(9, 22)),
    ],
)
@pytest.mark.django_db
def test_each_farm_goes_by_its_own_date(
    instant: dt.datetime, brisbane: dt.date, madeira: dt.date, settings: Any, monkeypatch: Any
) -> None:
    """The same rule on two farms, best done on 21 September, at one instant."""
    settings.AS_OF = None
    expected = {"EAST": brisbane, "HOME": madeira}
    for code, zone in (("HOME", "Atlantic/Madeira"), ("EAST", "Australia/Brisbane")):
        farm = plant_farm(code, time_zone=zone)
        TaskRule.objects.create(
            farm=farm,
            block=plant_block(farm),
            code="weeding",
            kind="weeding",
            title="Weeding",
            noun="weeding",
            trigger="dates",
            opens_on_day="09-01",
            best_on_day="09-21",
            closes_on_day="09-30",
            because="Before the weeds seed.",
        )
    monkeypatch.setattr(timezone, "now", lambda: instant)
    assert len(farms_on_another_day(clock.today)) == 2
    for farm in Farm.objects.all():
        rebuild(farm, clock.today(farm.time_zone))
        assert instant.astimezone(ZoneInfo(farm.time_zone)).date() == expected[farm.code]
        state = "open" if expected[farm.code] == day(9, 21) else "overdue"
        assert task(farm, "weeding").state == state
    assert farms_on_another_day(clock.today) == []
