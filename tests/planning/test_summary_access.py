"""Who sees which summaries."""

import pytest

from orchard.access import FARM_ROLES, Area, Caller, rights
from planning.models import SeasonSummary
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import CoOp, Farm
from tests.planning.ground import TODAY, join_co_op, make_block, make_co_op, make_farm, weigh

pytestmark = pytest.mark.django_db

READS = rights(reads=[Area.SUMMARY])


@pytest.fixture
def places() -> dict[str, Farm | CoOp]:
    """Two members of a co-op, and a co-op with no members."""
    co_op = make_co_op()
    empty = CoOp.objects.create(code="ELSE", name="Another")
    farms = {code: make_farm(code) for code in ("HOME", "NEXT")}
    for farm in farms.values():
        join_co_op(farm, co_op)
        weigh(make_block(farm), "2026-09-10", 10)
        rebuild_farm(farm.pk, TODAY)
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    return {**farms, "COOP": co_op, "ELSE": empty}


def seen(caller: Caller) -> set[str]:
    rows = SeasonSummary.objects.all().visible_to(caller)
    assert {row.limited for row in rows} <= {False}
    return {row.farm.code if row.farm else row.co_op.code for row in rows}


def test_a_farms_people_see_its_own_rows_only(places: dict[str, Farm]) -> None:
    assert seen(Caller(name="owner", farms={places["HOME"].pk: FARM_ROLES["owner"]})) == {"HOME"}


def test_field_workers_see_no_summaries(places: dict[str, Farm]) -> None:
    assert seen(Caller(name="worker", farms={places["HOME"].pk: FARM_ROLES["worker"]})) == set()


def test_a_co_ops_staff_see_its_rows_and_no_farms(places: dict[str, CoOp]) -> None:
    assert seen(Caller(name="staff", co_ops={places["COOP"].pk: READS})) == {"COOP"}


def test_another_co_ops_staff_see_nothing(places: dict[str, CoOp]) -> None:
    assert seen(Caller(name="staff", co_ops={places["ELSE"].pk: READS})) == set()


def test_a_token_without_the_scope_sees_nothing(places: dict[str, Farm]) -> None:
    schedule = rights(reads=[Area.PLACE, Area.SCHEDULE])
    caller = Caller(
        name="app", farms={places["HOME"].pk: schedule}, co_ops={places["COOP"].pk: schedule}
    )
    assert seen(caller) == set()


def test_a_platform_admin_sees_everything(places: dict[str, Farm]) -> None:
    assert seen(Caller(name="admin", is_platform_admin=True)) == {"HOME", "NEXT", "COOP"}
