"""Kilos as one relation: what a row is, and that its sums are those of season summaries."""

import datetime as dt
from collections import Counter
from typing import Any

import pytest

from planning.compute.bases import Basis
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.kilos import Whose, Window, kilos_of, whose_of, whose_own
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import CoOpGrade, Grade, GradeMapping
from tests.planning.ground import (
    TODAY,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    receive,
    weigh,
)
from tests.planning.mixed_co_op import Mixed, make_mixed

pytestmark = pytest.mark.django_db

YEARS = (2023, 2024, 2025, 2026)
SUMS = """
SELECT farm_id, cultivar_id, season_year, basis, sum(net_g)::bigint, sum(estimated_g)::bigint,
       nullif(sum(fruit_count), 0)::bigint
FROM {kilos} GROUP BY farm_id, cultivar_id, season_year, basis
"""
SUMMED = ("net_g", "estimated_g", "fruit_count")


@pytest.fixture(params=Basis)
def mixed(request: pytest.FixtureRequest) -> Mixed:
    return make_mixed(20260711, basis=request.param)


def sums(whose: Whose, window: Window) -> set[tuple[Any, ...]]:
    columns = ("farm_id", "cultivar_id", "season_year", "basis", *SUMMED)
    return set(kilos_of(whose, window, columns).rows(SUMS))


def test_a_members_sums_are_those_of_its_season_summaries(mixed: Mixed) -> None:
    rebuild_co_op(mixed.co_op.pk, lambda _: TODAY)
    rows = SeasonSummary.objects.filter(level=SummaryLevel.MEMBER_CULTIVAR)
    stored = {(row.member_id, row.cultivar_id, row.season_year, row.basis): row for row in rows}
    columns = ("farm_id", "cultivar_id", "season_year", "basis", "member_basis", *SUMMED)
    found = kilos_of(whose_of(mixed.co_op), Window(), columns).rows(
        SUMS.replace("GROUP BY", "WHERE basis = member_basis GROUP BY")
    )
    assert {tuple(row[:4]): tuple(row[4:]) for row in found} == {
        key: (row.net_g, row.estimated_g, row.fruit_count)
        for key, row in stored.items()
        if row.net_g or row.estimated_g or row.fruit_count
    }
    assert len(found) > 30


def test_a_farms_own_sums_are_those_of_its_season_summaries(mixed: Mixed) -> None:
    for farm in mixed.farms:
        rebuild_farm(farm.pk, TODAY)
    stored = SeasonSummary.objects.filter(level=SummaryLevel.CULTIVAR)
    assert sums(whose_own([farm.pk for farm in mixed.farms]), Window()) == {
        (row.farm_id, row.cultivar_id, row.season_year, row.basis, *summed)
        for row in stored
        if any(summed := (row.net_g, row.estimated_g, row.fruit_count))
    }


def test_seasons_one_by_one_are_all_of_them(mixed: Mixed) -> None:
    whose = whose_of(mixed.co_op)
    one_by_one = [sums(whose, Window(years=(year,))) for year in YEARS]
    assert all(one_by_one)
    assert set.union(*one_by_one) == sums(whose, Window(years=YEARS)) == sums(whose, Window())


def test_days_one_after_the_other_are_all_of_them(mixed: Mixed) -> None:
    whose, midway = whose_of(mixed.co_op), dt.date(2025, 9, 1)
    columns, total = ("net_g", "basis"), "SELECT basis, sum(net_g) FROM {kilos} GROUP BY basis"
    parts = (
        Window(last_on=midway - dt.timedelta(days=1)),
        Window(first_on=midway),
    )
    found = [dict(kilos_of(whose, part, columns).rows(total)) for part in parts]
    whole = dict(kilos_of(whose, Window(), columns).rows(total))
    assert Counter(found[0]) + Counter(found[1]) == Counter(whole)


def test_grades_are_those_of_season_summaries(mixed: Mixed) -> None:
    """By the co-op's grade of the day; culls, marketable and ungraded fruit apart."""
    rebuild_co_op(mixed.co_op.pk, lambda _: TODAY)
    stored: Counter[tuple[Any, ...]] = Counter()
    for row in SeasonSummary.objects.filter(level=SummaryLevel.MEMBER):
        for grade in row.grades:
            key = (row.member_id, row.season_year, grade["marketable"])
            stored[key] += round(grade["net_kg"] * 1000)
    columns = ("farm_id", "season_year", "marketable", "basis", "member_basis", "net_g")
    found = kilos_of(whose_of(mixed.co_op), Window(), columns).rows(
        "SELECT farm_id, season_year, marketable, sum(net_g)::bigint FROM {kilos}"
        " WHERE basis = member_basis GROUP BY 1, 2, 3"
    )
    assert +Counter({tuple(row[:3]): row[3] for row in found}) == +stored


def test_a_grade_counts_as_the_co_ops_of_the_day() -> None:
    co_op, farm = make_co_op(), make_farm()
    join_co_op(farm, co_op)
    block = make_block(farm)
    first = CoOpGrade.objects.create(co_op=co_op, code="First", is_marketable=True)
    own = Grade.objects.create(farm=farm, code="A", is_marketable=False, cull_reason="small")
    GradeMapping.objects.create(
        farm=farm, grade=own, co_op_grade=first, applies_from=dt.date(2026, 9, 10)
    )
    for day in ("2026-09-09", "2026-09-10"):
        weigh(block, day, 1, grade=own)
    rows = kilos_of(whose_of(co_op), Window(), ("day", "co_op_grade_id", "marketable")).rows(
        "SELECT co_op_grade_id, marketable FROM {kilos} ORDER BY day"
    )
    assert rows == [(None, False), (first.pk, True)]


def test_a_row_says_where_it_is_from() -> None:
    farm = make_farm()
    weight = weigh(make_block(farm), "2026-09-10", 4, fruit_count=10, docket="D1")
    intake = receive(farm, "2026-09-11", 3, sorted_kg={"bruised": 1}, docket="D1")
    columns = ("basis", "day", "docket", "net_g", "counted_g", "reject_reason", "row_id")
    rows = kilos_of(whose_own([farm.pk]), Window(), columns).rows(
        "SELECT basis, docket, net_g, counted_g, reject_reason, row_id FROM {kilos} ORDER BY basis"
    )
    assert rows == [
        ("packed", "D1", 1_000, 0, "bruised", intake.pk),
        ("picked", "D1", 4_000, 4_000, "", weight.pk),
        ("received", "D1", 3_000, 0, "", intake.pk),
    ]


def test_kilos_of_nobody_are_none() -> None:
    for window in (Window(), Window(years=(2026,))):
        relation = kilos_of(whose_of(make_co_op(code=f"C{window.years}")), window, ("net_g",))
        assert relation.rows("SELECT count(*) FROM {kilos}") == [(0,)]


def test_an_unknown_column_is_refused() -> None:
    with pytest.raises(ValueError, match="kilos have no price"):
        kilos_of(whose_own([]), Window(), ("net_g", "price"))


def test_one_season_is_found_without_joining_seasons_or_grades() -> None:
    farm = make_farm()
    window = Window(years=(2026,), bases=(Basis.PICKED,))
    relation = kilos_of(whose_own([farm.pk]), window, ("farm_id", "net_g"))
    assert "JOIN" not in relation.sql
