"""From a change to current summaries: jobs, and the hourly look at the calendar."""

import datetime as dt

import pytest
from django.db import transaction
from django.db.models.functions import Now

from orchard import clock
from planning import tasks
from planning.models import SeasonSummary, SummaryLevel
from planning.services.season_summaries import farms_with_ended_season, rebuild_co_op, rebuild_farm
from records.choices import JobState
from records.models import CoOp, Farm, HarvestWeight, Job, Membership
from records.services import jobs
from tests.planning.ground import TODAY, join_co_op, make_block, make_co_op, make_farm, weigh
from tests.working import do_all_jobs


def waiting(kind: str) -> list[str]:
    return list(Job.objects.filter(kind=kind, state=JobState.WAITING).values_list("key", flat=True))


@pytest.fixture
def farm(committed: None) -> Farm:
    farm = make_farm()
    weigh(make_block(farm), "2026-09-10", 10)
    return farm


@pytest.fixture
def co_op(farm: Farm) -> CoOp:
    co_op = make_co_op()
    join_co_op(farm, co_op)
    return co_op


def kilos(level: SummaryLevel) -> float:
    return SeasonSummary.objects.get(level=level).net_g / 1000


def test_a_change_on_a_farm_reaches_its_own_and_its_co_ops_figures(farm: Farm, co_op: CoOp) -> None:
    do_all_jobs()
    assert (kilos(SummaryLevel.FARM), kilos(SummaryLevel.CO_OP)) == (10, 10)
    weigh(farm.blocks.get(), "2026-09-11", 5)
    do_all_jobs()
    assert (kilos(SummaryLevel.FARM), kilos(SummaryLevel.CO_OP)) == (15, 15)


def test_many_changes_cause_one_rebuild(farm: Farm) -> None:
    do_all_jobs()
    block = farm.blocks.get()
    for day in range(1, 21):
        weigh(block, f"2026-10-{day:02}", 1)
    assert waiting("farm-changed") == [str(farm.pk)]


def test_members_that_change_together_cause_one_rebuild_of_their_co_op(
    farm: Farm, co_op: CoOp
) -> None:
    other = make_farm("NEXT")
    join_co_op(other, co_op)
    for job in Job.objects.filter(kind="farm-changed"):
        assert jobs.run(job.pk)
    assert waiting("co-op-changed") == [str(co_op.pk)]


def test_a_change_while_a_rebuild_runs_is_not_lost(farm: Farm) -> None:
    job = Job.objects.get(kind="farm-changed")
    Job.objects.filter(pk=job.pk).update(state=JobState.RUNNING, lease_until=Now())
    weigh(farm.blocks.get(), "2026-09-11", 5)
    assert waiting("farm-changed") == [str(farm.pk)]


def test_a_member_that_was_never_one_after_all_leaves_the_co_op_table(
    farm: Farm, co_op: CoOp
) -> None:
    do_all_jobs()
    Membership.objects.get(farm=farm).delete()
    do_all_jobs()
    assert not SeasonSummary.objects.filter(co_op=co_op).exists()


def test_a_job_for_a_farm_that_is_gone_is_done(committed: None) -> None:
    job_id = jobs.enqueue("farm-changed", "0192f0c1-2c11-7000-8000-000000000000")
    assert jobs.run(job_id)


def test_a_rolled_back_change_causes_no_rebuild(farm: Farm) -> None:
    do_all_jobs()
    with transaction.atomic():
        weigh(farm.blocks.get(), "2026-09-11", 5)
        transaction.set_rollback(True)
    assert waiting("farm-changed") == []
    assert HarvestWeight.objects.count() == 1


# The calendar ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("brisbane", "madeira", "ended"),
    [
        # the last day of the season, everywhere
        ((2026, 12, 31), (2026, 12, 31), set()),
        # New Year in Brisbane only
        ((2027, 1, 1), (2026, 12, 31), {"EAST"}),
        # New Year everywhere
        ((2027, 1, 1), (2027, 1, 1), {"EAST", "HOME"}),
    ],
)
@pytest.mark.django_db
def test_a_season_ends_at_the_farms_own_midnight(
    brisbane: tuple[int, int, int], madeira: tuple[int, int, int], ended: set[str]
) -> None:
    for code, zone in (("HOME", "Atlantic/Madeira"), ("EAST", "Australia/Brisbane")):
        farm = make_farm(code, time_zone=zone)
        weigh(make_block(farm), "2026-09-10", 10)
        weigh(make_block(farm, "S"), "2020-09-10", 10)  # closed long ago
        rebuild_farm(farm.pk, TODAY)
    dates = {"Atlantic/Madeira": dt.date(*madeira), "Australia/Brisbane": dt.date(*brisbane)}
    found = farms_with_ended_season(dates.__getitem__)
    codes = Farm.objects.filter(pk__in=found).values_list("code", flat=True)
    assert (set(codes), len(found)) == (ended, len(ended))


def test_the_hourly_look_queues_farms_whose_season_ended_and_nothing_else(
    farm: Farm, co_op: CoOp, monkeypatch: pytest.MonkeyPatch
) -> None:
    south = make_farm("SOUTH", season_start_month=7)
    weigh(make_block(south), "2026-09-10", 10)
    monkeypatch.setattr(clock, "today", lambda _: TODAY)
    do_all_jobs()
    tasks.queue_hourly()
    assert not Job.objects.filter(state=JobState.WAITING).exists()
    monkeypatch.setattr(clock, "today", lambda _: dt.date(2027, 1, 1))
    tasks.queue_hourly()
    assert waiting("farm-changed") == [str(farm.pk)]
    do_all_jobs()
    assert SeasonSummary.objects.get(level=SummaryLevel.CO_OP).is_closed
    tasks.queue_hourly()
    assert not Job.objects.filter(state=JobState.WAITING).exists()


def test_a_rebuilt_co_op_is_no_farms_business(farm: Farm, co_op: CoOp) -> None:
    do_all_jobs()
    weigh(farm.blocks.get(), "2026-09-11", 5)
    Job.objects.all().delete()
    assert rebuild_co_op(co_op.pk, lambda _: TODAY).changed > 0
    assert not Job.objects.exists()
