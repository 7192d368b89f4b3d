"""A co-op's rows: what its members share, for the days of their membership."""

import datetime as dt

import pytest

from planning.models import SeasonSummary, SummaryLevel
from planning.services.derived import Written
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import CoOp, CoOpGrade, Farm, Grade, GradeMapping
from tests.cast import make_cultivar
from tests.planning.ground import (
    TODAY,
    co_op_summary,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    make_tree,
    weigh,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def co_op() -> CoOp:
    return make_co_op()


@pytest.fixture
def farm(co_op: CoOp) -> Farm:
    """A member since ever."""
    farm = make_farm()
    join_co_op(farm, co_op)
    return farm


def today_in(_: str) -> dt.date:
    return TODAY


def test_members_and_their_cultivars_add_up_to_the_co_ops(co_op: CoOp, farm: Farm) -> None:
    shared, own = make_cultivar(), make_cultivar("Tamisca", farm)
    other = make_farm("NEXT")
    join_co_op(other, co_op)
    for place, cultivar, kg in ((farm, shared, 10), (other, shared, 5), (farm, own, 2)):
        block = make_block(place, f"B{kg}", area_m2=1_000)
        make_tree(block, cultivar=cultivar)
        weigh(block, "2026-09-10", kg, cultivar=cultivar)
    rebuild_co_op(co_op.pk, today_in)
    rows = SeasonSummary.objects.filter(co_op=co_op)
    found = rows.values_list("level", "member__code", "cultivar__name", "net_g", "bearing_trees")
    assert set(found) == {
        ("member", "HOME", None, 12_000, 2),
        ("member", "NEXT", None, 5_000, 1),
        ("member-cultivar", "HOME", "Ondrela", 10_000, 1),
        ("member-cultivar", "HOME", "Tamisca", 2_000, 1),
        ("member-cultivar", "NEXT", "Ondrela", 5_000, 1),
        ("co-op", None, None, 17_000, 3),
        ("co-op-cultivar", None, "Ondrela", 15_000, 2),
        ("co-op-cultivar", None, "Tamisca", 2_000, 1),
    }
    assert co_op_summary(co_op, SummaryLevel.CO_OP).area_m2 == 3_000


def test_a_second_rebuild_writes_nothing(co_op: CoOp, farm: Farm) -> None:
    weigh(make_block(farm), "2026-09-10", 10, cultivar=make_cultivar())
    assert rebuild_co_op(co_op.pk, today_in).added == 4
    assert rebuild_co_op(co_op.pk, today_in) == Written(added=0, changed=0, deleted=0)


@pytest.mark.parametrize(
    ("starts_on", "ends_on", "net_g", "is_cut"),
    [
        # the whole season
        ("2026-01-01", None, 7_000, False),
        ("2026-01-01", "2026-12-31", 7_000, False),
        # joined on the second picking day, which counts
        ("2026-09-20", None, 6_000, True),
        # joined the day after it
        ("2026-09-21", None, 4_000, True),
        # left on the second picking day, which counts
        ("2020-01-01", "2026-09-20", 3_000, True),
        # left the day before it
        ("2020-01-01", "2026-09-19", 1_000, True),
    ],
)
def test_only_weighings_of_the_days_of_membership_count(
    co_op: CoOp, starts_on: str, ends_on: str | None, net_g: int, is_cut: bool
) -> None:
    farm = make_farm()
    join_co_op(farm, co_op, starts_on, ends_on=ends_on)
    block = make_block(farm)
    for day, kg in (("2026-09-10", 1), ("2026-09-20", 2), ("2026-09-30", 4)):
        weigh(block, day, kg)
    member = co_op_summary(co_op, SummaryLevel.MEMBER)
    assert member.net_g == co_op_summary(co_op, SummaryLevel.CO_OP).net_g == net_g
    assert ("net_g" in member.reasons) is is_cut


def test_a_farm_that_came_back_counts_for_both_its_times(co_op: CoOp) -> None:
    farm = make_farm()
    join_co_op(farm, co_op, "2026-01-01", ends_on="2026-09-15")
    join_co_op(farm, co_op, "2026-09-25")
    block = make_block(farm)
    for day, kg in (("2026-09-10", 1), ("2026-09-20", 2), ("2026-09-30", 4)):
        weigh(block, day, kg)
    assert co_op_summary(co_op, SummaryLevel.CO_OP).net_g == 5_000


def test_one_members_days_are_not_anothers(co_op: CoOp, farm: Farm) -> None:
    former = make_farm("NEXT")
    join_co_op(former, co_op, ends_on="2026-09-15")
    for place in (farm, former):
        block = make_block(place)
        weigh(block, "2026-09-10", 1)
        weigh(block, "2026-09-20", 2)
    whole = co_op_summary(co_op, SummaryLevel.MEMBER, member=farm)
    cut = co_op_summary(co_op, SummaryLevel.MEMBER, member=former)
    assert (whole.net_g, "net_g" in whole.reasons) == (3_000, False)
    assert (cut.net_g, "net_g" in cut.reasons) == (1_000, True)


def test_weighings_from_before_a_membership_show_in_no_figure(co_op: CoOp) -> None:
    """Not in the mean fruit weight that estimates rest on, nor in the trees' own day."""
    farm = make_farm()
    join_co_op(farm, co_op, "2026-09-15")
    block = make_block(farm)
    make_tree(block, cultivar=make_cultivar(), planted_on="2023-09-12")
    weigh(block, "2026-09-10", 1, fruit_count=10)
    weigh(block, "2026-09-20", fruit_count=5)
    member = co_op_summary(co_op, SummaryLevel.MEMBER)
    assert (member.net_g, member.estimated_g, member.fruit_count) == (0, 0, 5)
    assert member.bearing_trees == 1  # three full years by the first picking day that counts
    assert member.first_on.isoformat() == "2026-09-20"


def test_a_farm_outside_the_co_op_is_not_in_it(co_op: CoOp, farm: Farm) -> None:
    stranger = make_farm("NEXT")
    join_co_op(stranger, CoOp.objects.create(code="ELSE", name="Another"))
    weigh(make_block(stranger), "2026-09-10", 10)
    weigh(make_block(farm), "2026-09-10", 1)
    assert co_op_summary(co_op, SummaryLevel.CO_OP).net_g == 1_000


def test_seasons_that_start_in_one_year_are_joined(co_op: CoOp, farm: Farm) -> None:
    south = make_farm("SOUTH", season_start_month=7, time_zone="Australia/Brisbane")
    join_co_op(south, co_op)
    weigh(make_block(farm), "2026-09-10", 10)
    weigh(make_block(south), "2027-02-10", 5)
    rebuild_co_op(co_op.pk, lambda _: dt.date(2027, 3, 1))
    row = SeasonSummary.objects.get(level=SummaryLevel.CO_OP)
    assert (row.season_year, row.season_label, row.net_g) == (2026, "2026", 15_000)
    assert row.inputs["seasons"] == {"2026": 1, "2026/27": 1}
    assert "start in different months" in row.reasons["season_label"]
    assert not row.is_closed  # one member's is over, the other's is not
    labels = SeasonSummary.objects.filter(level=SummaryLevel.MEMBER)
    assert dict(labels.values_list("season_label", "is_closed")) == {"2026": True, "2026/27": False}


def test_each_members_season_closes_by_its_own_date(co_op: CoOp, farm: Farm) -> None:
    """At one moment it is New Year in Brisbane and still the old year on Madeira."""
    east = make_farm("EAST", time_zone="Australia/Brisbane")
    join_co_op(east, co_op)
    weigh(make_block(farm), "2026-09-10", 1)
    weigh(make_block(east), "2026-09-10", 1)
    dates = {"Australia/Brisbane": dt.date(2027, 1, 1), "Atlantic/Madeira": dt.date(2026, 12, 31)}
    rebuild_co_op(co_op.pk, dates.__getitem__)
    closed = SeasonSummary.objects.values_list("member__code", "is_closed")
    assert set(closed.filter(level=SummaryLevel.MEMBER)) == {("HOME", False), ("EAST", True)}
    assert not SeasonSummary.objects.get(level=SummaryLevel.CO_OP).is_closed


def test_co_op_rows_are_in_no_farms_change_feed(co_op: CoOp, farm: Farm) -> None:
    weigh(make_block(farm), "2026-09-10", 1)
    rebuild_farm(farm.pk, TODAY)
    rebuild_co_op(co_op.pk, today_in)
    for row in SeasonSummary.objects.filter(co_op=co_op):
        assert (row.farm_id, row.tick) == (None, None)


# Grades ------------------------------------------------------------------------------------------


@pytest.fixture
def first(co_op: CoOp) -> CoOpGrade:
    return CoOpGrade.objects.create(co_op=co_op, code="First", is_marketable=True)


def grade_map(farm: Farm, grade: Grade, to: CoOpGrade, applies_from: str = "2000-01-01") -> None:
    GradeMapping.objects.create(farm=farm, grade=grade, co_op_grade=to, applies_from=applies_from)


def grades(co_op: CoOp) -> dict[str | None, float]:
    row = co_op_summary(co_op, SummaryLevel.CO_OP)
    return {grade["grade"]: grade["net_kg"] for grade in row.grades}


def test_members_grades_are_added_up_as_the_co_ops(
    co_op: CoOp, farm: Farm, first: CoOpGrade
) -> None:
    other = make_farm("NEXT")
    join_co_op(other, co_op)
    for place, code in ((farm, "A"), (other, "extra")):
        grade = Grade.objects.create(farm=place, code=code, is_marketable=True)
        grade_map(place, grade, first)
        weigh(make_block(place), "2026-09-10", 10, grade=grade)
    assert grades(co_op) == {"First": 20.0}


@pytest.mark.parametrize(
    ("picked_on", "grade"),
    [
        ("2026-08-31", "First"),  # the day before the change
        ("2026-09-01", "Second"),  # from that day on
    ],
)
def test_a_mapping_counts_from_its_date_on(
    co_op: CoOp, farm: Farm, first: CoOpGrade, picked_on: str, grade: str
) -> None:
    second = CoOpGrade.objects.create(co_op=co_op, code="Second", is_marketable=True)
    own = Grade.objects.create(farm=farm, code="A", is_marketable=True)
    grade_map(farm, own, first)
    grade_map(farm, own, second, "2026-09-01")
    weigh(make_block(farm), picked_on, 10, grade=own)
    assert grades(co_op) == {grade: 10.0}


def test_a_grade_that_is_not_mapped_shows_as_such(co_op: CoOp, farm: Farm) -> None:
    own = Grade.objects.create(farm=farm, code="B", is_marketable=True)
    weigh(make_block(farm), "2026-09-10", 10, grade=own)
    assert grades(co_op) == {"HOME B": 10.0}
    row = co_op_summary(co_op, SummaryLevel.CO_OP)
    assert row.reasons["grades"] == "grades: not mapped to the co-op's grades: HOME B"


def test_another_co_ops_mapping_is_of_no_account(co_op: CoOp, farm: Farm, first: CoOpGrade) -> None:
    elsewhere = CoOp.objects.create(code="ELSE", name="Another")
    strange = CoOpGrade.objects.create(co_op=elsewhere, code="Top", is_marketable=True)
    own = Grade.objects.create(farm=farm, code="A", is_marketable=True)
    grade_map(farm, own, first)
    grade_map(farm, own, strange, "2020-01-01")
    weigh(make_block(farm), "2026-09-10", 10, grade=own)
    assert grades(co_op) == {"First": 10.0}


def test_what_the_co_op_calls_marketable_counts_in_its_rows(co_op: CoOp, farm: Farm) -> None:
    juice = CoOpGrade.objects.create(co_op=co_op, code="Juice", is_marketable=False)
    own = Grade.objects.create(farm=farm, code="C", is_marketable=True)
    grade_map(farm, own, juice)
    weigh(make_block(farm), "2026-09-10", 10, grade=own)
    assert co_op_summary(co_op, SummaryLevel.MEMBER).marketable_share == 0.0
