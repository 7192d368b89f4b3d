"""Which kilos: weighings, intakes and sorted intakes, each by itself and never added together."""

import datetime as dt
from typing import Any

import pytest

from planning.models import SeasonSummary, SummaryLevel
from planning.services.derived import Written
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.choices import Basis
from records.models import CoOpGrade, Farm, Grade, GradeMapping
from tests.cast import make_cultivar
from tests.planning.ground import (
    TODAY,
    co_op_summary,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    make_tree,
    receive,
    summaries,
    summary,
    weigh,
)

pytestmark = pytest.mark.django_db

DAY = "2026-09-10"


@pytest.fixture
def farm() -> Farm:
    return make_farm()


def graded(farm: Farm, code: str = "A", *, marketable: bool = True) -> Grade:
    return Grade.objects.create(farm=farm, code=code, name=code, is_marketable=marketable)


def by_basis(farm: Farm, level: SummaryLevel = SummaryLevel.FARM) -> dict[str, int]:
    return {row.basis: row.net_g for row in summaries(farm, level)}


def test_a_farms_weighings_and_intakes_stand_in_rows_of_their_own(farm: Farm) -> None:
    weigh(make_block(farm), DAY, 10)
    receive(farm, "2026-09-11", 9.5, sorted_kg={graded(farm): 8, "bruised": 1})
    assert by_basis(farm) == {"picked": 10_000, "received": 9_500, "packed": 9_000}


def test_a_farm_without_intakes_has_weighings_alone(farm: Farm) -> None:
    weigh(make_block(farm), DAY, 10)
    assert by_basis(farm) == {"picked": 10_000}


def test_a_farm_that_weighs_nothing_is_summed_up_by_its_intakes(farm: Farm) -> None:
    receive(farm, DAY, 9.5)
    assert by_basis(farm) == {"received": 9_500}
    row = summary(farm, basis=Basis.RECEIVED)
    assert row.kg_per_tree is None
    assert row.reasons["kg_per_tree"] == "kg per tree: the farm has no block that bore or worked"


def test_intakes_stand_by_block_and_cultivar_as_far_as_the_shed_knew(farm: Farm) -> None:
    cultivar, block = make_cultivar(), make_block(farm, area_m2=1_000)
    make_tree(block, cultivar=cultivar)
    receive(farm, DAY, 4, block=block, cultivar=cultivar)
    receive(farm, DAY, 2)
    received: dict[str, Any] = {"basis": Basis.RECEIVED}
    assert summary(farm, **received).net_g == 6_000
    assert summary(farm, SummaryLevel.BLOCK, **received).kg_per_tree == 4.0
    rows = summaries(farm, SummaryLevel.CULTIVAR, **received)
    assert {row.cultivar_id: row.net_g for row in rows} == {cultivar.pk: 4_000, None: 2_000}


def test_yields_by_intakes_are_over_the_same_trees_and_area(farm: Farm) -> None:
    block = make_block(farm, area_m2=1_000)
    make_tree(block)
    weigh(block, DAY, 10)
    receive(farm, DAY, 8)
    row = summary(farm, basis=Basis.RECEIVED)
    assert (row.bearing_trees, row.kg_per_tree, row.t_per_ha) == (1, 8.0, 0.08)
    assert row.first_on == row.p50_on == dt.date(2026, 9, 10)
    assert row.spread is None


def test_rejects_are_culls_and_what_is_not_sorted_is_left_out(farm: Farm) -> None:
    receive(farm, DAY, 10, sorted_kg={graded(farm): 6, "split": 2})
    receive(farm, DAY, 5)
    row = summary(farm, basis=Basis.PACKED)
    assert row.net_g == 8_000
    assert row.marketable_share == 0.75
    assert {grade["grade"] for grade in row.grades} == {"A", "rejects: split"}
    assert row.reasons["net_g"] == "net kilos: only the 1 of 2 intakes that have been sorted"
    assert row.inputs["intakes"] == 2


def test_received_fruit_is_not_graded_yet(farm: Farm) -> None:
    receive(farm, DAY, 10)
    row = summary(farm, basis=Basis.RECEIVED)
    assert row.marketable_share is None
    assert row.reasons["marketable_share"].endswith("fruit is graded after it is received")


def test_retired_intakes_do_not_count(farm: Farm) -> None:
    receive(farm, DAY, 10)
    receive(farm, DAY, 5, retired_on=DAY)
    assert by_basis(farm) == {"received": 10_000}


def test_an_intake_belongs_to_the_season_of_the_day_on_which_it_came_in() -> None:
    farm = make_farm(season_start_month=7)
    receive(farm, "2026-06-30", 1)
    receive(farm, "2026-07-01", 2)
    assert [row.net_g for row in summaries(farm, SummaryLevel.FARM)] == [1_000, 2_000]


@pytest.mark.parametrize(
    ("chosen", "used", "says"),
    [
        # what the co-op chose, where the farm has it
        (Basis.PICKED, Basis.PICKED, None),
        (Basis.RECEIVED, Basis.RECEIVED, None),
        # nothing is sorted yet
        (Basis.PACKED, Basis.RECEIVED, "no sorted intakes this season, so intakes are used"),
    ],
)
def test_a_co_op_chooses_the_basis_of_its_table(
    farm: Farm, chosen: Basis, used: Basis, says: str | None
) -> None:
    co_op = make_co_op(basis=chosen)
    join_co_op(farm, co_op)
    weigh(make_block(farm), DAY, 10)
    receive(farm, DAY, 9)
    row = co_op_summary(co_op, SummaryLevel.MEMBER)
    assert row.basis == used
    assert (says or "") in row.reasons.get("basis", "")
    assert ("basis" in row.reasons) is bool(says)


def test_kilos_of_different_bases_are_never_added(farm: Farm) -> None:
    co_op, other = make_co_op(basis=Basis.RECEIVED), make_farm("NEXT")
    for place in (farm, other):
        join_co_op(place, co_op)
        weigh(make_block(place), DAY, 10)
    receive(farm, DAY, 9)
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    rows = SeasonSummary.objects.filter(co_op=co_op)
    totals = rows.filter(level=SummaryLevel.CO_OP)
    assert {row.basis: row.net_g for row in totals} == {"received": 9_000, "picked": 10_000}
    members = rows.filter(level=SummaryLevel.MEMBER).values_list("member__code", "basis", "net_g")
    assert set(members) == {("HOME", "received", 9_000), ("NEXT", "picked", 10_000)}
    assert all("1 of 2 members" in row.reasons["basis"] for row in totals)


def test_a_co_op_sees_intakes_of_the_days_of_membership_and_not_of_other_co_ops(
    farm: Farm,
) -> None:
    co_op, other = make_co_op(basis=Basis.RECEIVED), make_co_op(code="ELSE", name="Elsewhere")
    join_co_op(farm, co_op, "2026-09-10")
    receive(farm, "2026-09-09", 1, co_op=co_op)
    receive(farm, "2026-09-10", 2, co_op=co_op)
    receive(farm, "2026-09-11", 4, co_op=other)
    receive(farm, "2026-09-12", 8)
    assert co_op_summary(co_op, SummaryLevel.MEMBER).net_g == 10_000


def test_sorted_fruit_goes_by_the_co_ops_grades_on_that_day(farm: Farm) -> None:
    co_op = make_co_op(basis=Basis.PACKED)
    join_co_op(farm, co_op)
    extra = CoOpGrade.objects.create(co_op=co_op, code="EXTRA", name="Extra", is_marketable=True)
    own, strange = graded(farm), graded(farm, "Z")
    GradeMapping.objects.create(farm=farm, grade=own, co_op_grade=extra, applies_from="2026-01-01")
    receive(farm, DAY, 10, co_op=co_op, sorted_kg={own: 3, extra: 2, strange: 1})
    row = co_op_summary(co_op, SummaryLevel.MEMBER)
    assert {grade["grade"]: grade["net_kg"] for grade in row.grades} == {"EXTRA": 5, "HOME Z": 1}
    assert "HOME Z" in row.reasons["grades"]


def test_a_second_rebuild_writes_nothing(farm: Farm) -> None:
    weigh(make_block(farm), DAY, 10)
    receive(farm, DAY, 9, sorted_kg={graded(farm): 8})
    assert rebuild_farm(farm.pk, TODAY).added
    assert rebuild_farm(farm.pk, TODAY) == Written(added=0, changed=0, deleted=0)


def test_kilos_of_one_basis_do_not_move_when_another_is_recorded(farm: Farm) -> None:
    weigh(make_block(farm), DAY, 10)
    before = summary(farm).net_g
    receive(farm, DAY, 9, sorted_kg={graded(farm): 8})
    assert summary(farm, basis=Basis.PICKED).net_g == before
