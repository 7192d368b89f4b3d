"""When a table is read from stored roll-ups, and when from the records."""

from typing import Any

import pytest

from planning.compute.bases import Basis
from planning.compute.harvest_table import Asked, Key
from planning.models import SeenRecords, StaleSeason
from planning.queries.harvest_table import HarvestTable, harvest_table
from planning.queries.kilos import Window, kilos_of, whose_own
from planning.queries.rolled_up_kilos import kilos_for
from records.choices import JobState
from records.models import CoOp, CoOpGrade, Farm, HarvestWeight, Job
from records.services import jobs
from records.services.saving import save
from tests.planning.ground import join_co_op, make_block, make_co_op, make_farm, receive, weigh
from tests.working import do_all_jobs

ROLLED_UP, RECORDS = "stored roll-ups", "records"


@pytest.fixture
def farm(committed: None) -> Farm:
    farm = make_farm()
    weigh(make_block(farm), "2026-09-10", 10)
    return farm


@pytest.fixture
def co_op(farm: Farm) -> CoOp:
    co_op = make_co_op()
    join_co_op(farm, co_op)
    do_all_jobs()
    return co_op


def table(co_op: CoOp, *keys: Key, **extra: Any) -> HarvestTable:
    asked = Asked(keys=keys, **{"year": 2026, **extra})
    return harvest_table(kilos_for(co_op, asked), asked)


def read(co_op: CoOp, *keys: Key, **extra: Any) -> tuple[str, float]:
    """From what, and how many kilos."""
    found = table(co_op, *keys, **extra)
    return found.source, sum(row.net_g for row in found.rows) / 1000


@pytest.mark.parametrize(
    ("keys", "extra", "source"),
    [
        ((), {}, ROLLED_UP),
        ((Key.MEMBER, Key.CULTIVAR, Key.GRADE), {"year": None}, ROLLED_UP),
        # The co-op's days know no members, and members no days.
        ((Key.WEEK, Key.GRADE), {}, ROLLED_UP),
        ((Key.MONTH, Key.MEMBER), {}, RECORDS),
        ((Key.WEEK, Key.FARM_GRADE), {}, RECORDS),
        # Neither is known by block, or by another basis than the member's own.
        ((Key.BLOCK,), {}, RECORDS),
        ((Key.MEMBER,), {"basis": Basis.PICKED}, RECORDS),
    ],
)
def test_a_question_goes_to_what_can_answer_it(
    co_op: CoOp, keys: tuple[Key, ...], extra: dict[str, Any], source: str
) -> None:
    assert read(co_op, *keys, **extra) == (source, 10)


def test_a_change_is_read_from_the_records_until_its_jobs_are_done(farm: Farm, co_op: CoOp) -> None:
    weigh(farm.blocks.get(), "2026-09-11", 5)
    assert read(co_op) == (RECORDS, 15)
    Job.objects.filter(state=JobState.WAITING).update(state=JobState.RUNNING)
    assert read(co_op) == (RECORDS, 15)
    Job.objects.filter(state=JobState.RUNNING).update(state=JobState.WAITING)
    do_all_jobs()
    assert read(co_op) == (ROLLED_UP, 15)


def test_a_deletion_is_read_from_the_records_until_its_jobs_are_done(
    farm: Farm, co_op: CoOp
) -> None:
    HarvestWeight.objects.all().delete()
    assert read(co_op) == (RECORDS, 0)
    do_all_jobs()
    assert read(co_op) == (ROLLED_UP, 0)


def test_days_wait_for_the_co_op_and_members_do_not(farm: Farm, co_op: CoOp) -> None:
    weigh(farm.blocks.get(), "2026-09-11", 5)
    for job in Job.objects.filter(kind="farm-changed", state=JobState.WAITING):
        assert jobs.run(job.pk)
    assert StaleSeason.objects.exists()
    assert read(co_op, Key.MEMBER) == (ROLLED_UP, 15)
    assert read(co_op, Key.WEEK) == (RECORDS, 15)
    do_all_jobs()
    assert read(co_op, Key.WEEK) == (ROLLED_UP, 15)


def test_a_job_that_was_given_up_counts_until_a_later_one_is_done(farm: Farm, co_op: CoOp) -> None:
    weigh(farm.blocks.get(), "2026-09-11", 5)
    given_up = Job.objects.filter(kind="farm-changed", state=JobState.WAITING)
    finished = Job.objects.filter(state=JobState.DONE).latest("finished_at").finished_at
    given_up.update(state=JobState.DEAD, finished_at=finished)
    assert read(co_op) == (RECORDS, 15)
    weigh(farm.blocks.get(), "2026-09-12", 1)
    do_all_jobs()
    assert read(co_op) == (ROLLED_UP, 16)


def test_a_member_that_was_never_added_up_is_read_from_the_records(co_op: CoOp) -> None:
    SeenRecords.objects.filter(co_op=co_op).delete()
    assert read(co_op) == (RECORDS, 10)


def test_a_change_elsewhere_is_no_reason_to_read_records(co_op: CoOp) -> None:
    weigh(make_block(make_farm("APART")), "2026-09-10", 70)
    assert read(co_op) == (ROLLED_UP, 10)


def test_a_grade_that_only_sorting_uses_moves_the_members_figures(farm: Farm, co_op: CoOp) -> None:
    co_op.basis = Basis.PACKED
    save(co_op)
    grade = CoOpGrade.objects.create(co_op=co_op, code="First", is_marketable=True)
    receive(farm, "2026-09-11", 9, sorted_kg={grade: 8})
    do_all_jobs()
    assert read(co_op) == (ROLLED_UP, 8)
    grade.is_marketable = False
    save(grade)
    assert table(co_op).rows[0].cull_g == 8_000
    do_all_jobs()
    found = table(co_op)
    assert (found.source, found.rows[0].cull_g) == (ROLLED_UP, 8_000)


@pytest.mark.django_db
def test_a_farm_without_records_has_no_kilos_of_any_season() -> None:
    whose = whose_own([make_farm().pk])
    assert kilos_of(whose, Window(), ("season_year", "net_g")).rows("SELECT * FROM {kilos}") == []
