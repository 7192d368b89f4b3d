"""Benchmarks between members: what a member, its neighbours and co-op staff are told."""

import datetime as dt
from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import ClosedSeason
from planning.services.closed_seasons import close_season
from planning.services.season_summaries import rebuild_co_op
from records.models import CoOp, CoOpRole, Cultivar, Farm, FarmRole, Grade, HarvestWeight
from tests.cast import client_of, client_with, make_cultivar, make_person
from tests.planning.ground import join_co_op, make_block, make_co_op, make_farm, make_tree, weigh

pytestmark = pytest.mark.django_db
PATH = "/api/v1/benchmarks"
TODAY = dt.date(2027, 3, 1)
KILOS = (10, 20, 30, 40, 50)


@pytest.fixture
def co_op() -> CoOp:
    return make_co_op()


def grow(
    co_op: CoOp, kilos: tuple[float, ...] = KILOS, cultivar: Cultivar | None = None
) -> list[Farm]:
    """Members with one bearing tree each on a tenth of a hectare, and so many kilos."""
    return [
        pick(member(co_op, f"F{number}"), kg, cultivar or make_cultivar())
        for number, kg in enumerate(kilos)
    ]


def member(co_op: CoOp, code: str, **extra: Any) -> Farm:
    farm = make_farm(code)
    join_co_op(farm, co_op, **extra)
    return farm


def pick(farm: Farm, kg: float, cultivar: Cultivar, **extra: Any) -> Farm:
    block = make_block(farm, f"B{cultivar.name}", area_m2=1_000)
    make_tree(block, cultivar=cultivar)
    weigh(block, "2026-09-10", kg, cultivar=cultivar, **extra)
    return farm


def close(co_op: CoOp, year: int = 2026) -> None:
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    season = ClosedSeason(co_op=co_op, season_year=year)
    close_season(season, despite=True, today_in=lambda _: TODAY)


def owner_of(*farms: Farm) -> APIClient:
    person = make_person(f"owner@{farms[0].code.lower()}.example")
    for farm in farms:
        FarmRole.objects.create(farm=farm, person=person, role="owner")
    return client_of(person)


def told(client: APIClient, farm: Farm, **wanted: Any) -> list[dict[str, Any]]:
    answer = client.get(PATH, {"farm": str(farm.pk)})
    assert answer.status_code == 200, answer.json()
    rows: list[dict[str, Any]] = answer.json()["results"]
    return [row for row in rows if all(row[name] == value for name, value in wanted.items())]


def only(client: APIClient, farm: Farm, measure: str = "kg-per-tree", **wanted: Any) -> Any:
    (row,) = told(client, farm, measure=measure, **wanted)
    return row


QUARTILES = ("farms", "place", "q1", "median", "q3")
NOTHING = dict.fromkeys(QUARTILES)


def group_of(row: dict[str, Any]) -> dict[str, Any]:
    return {name: row[name] for name in QUARTILES}


def test_a_member_sees_its_place_and_the_quartiles(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    row = only(owner_of(farms[3]), farms[3])
    assert (row["season_year"], row["cultivar_name"], row["basis"]) == (2026, "Ondrela", "picked")
    assert (row["value"], row["reason"]) == (40, None)
    assert group_of(row) == {"farms": 5, "place": 2, "q1": 20, "median": 30, "q3": 40}


def test_it_sees_nothing_else(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    (row, *_) = told(owner_of(farms[0]), farms[0])
    assert set(row) == {
        *("co_op", "co_op_code", "season_year", "cultivar", "cultivar_name", "basis", "measure"),
        *("value", "reason", "method", *QUARTILES),
    }


def test_measures_are_of_trees_hectares_grades_and_minutes(co_op: CoOp) -> None:
    cultivar, farms = make_cultivar(), []
    for number, kg in enumerate(KILOS):
        farm = member(co_op, f"F{number}", shares="all")
        first = Grade.objects.create(farm=farm, code="A", is_marketable=True)
        cull = Grade.objects.create(farm=farm, code="C", is_marketable=False, cull_reason="split")
        pick(farm, kg, cultivar, grade=first, minutes=60)
        weigh(farm.blocks.get(), "2026-09-11", 10, cultivar=cultivar, grade=cull)
        farms.append(farm)
    close(co_op)
    rows = {row["measure"]: row["value"] for row in told(owner_of(farms[0]), farms[0])}
    # 20 kg from one tree on 0.1 ha, 10 of them marketable, and 10 picked in an hour
    assert rows == {
        "kg-per-tree": 20,
        "t-per-ha": 0.2,
        "marketable-share": 0.5,
        "picking-minutes-per-kg": 6,
    }


def test_minutes_are_told_only_among_farms_that_share_all(co_op: CoOp) -> None:
    cultivar = make_cultivar()
    farms = [
        pick(
            member(co_op, f"F{number}", shares="harvest" if number == 5 else "all"),
            10 + number,
            cultivar,
            minutes=60,
        )
        for number in range(6)
    ]
    close(co_op)
    assert only(owner_of(farms[0]), farms[0], "picking-minutes-per-kg")["farms"] == 5
    assert not told(owner_of(farms[5]), farms[5], measure="picking-minutes-per-kg")
    assert only(client_of_owner(farms[5]), farms[5])["farms"] == 6


def client_of_owner(farm: Farm) -> APIClient:
    return client_of(FarmRole.objects.get(farm=farm).person)


@pytest.mark.parametrize(
    "kilos",
    [
        (10, 20, 30, 40),  # four farms
        (10, 20, 30, 40, 101),  # one has more than half
    ],
)
def test_small_and_uneven_groups_are_not_told(co_op: CoOp, kilos: tuple[float, ...]) -> None:
    farms = grow(co_op, kilos)
    close(co_op)
    row = only(owner_of(farms[0]), farms[0])
    assert (row["value"], group_of(row)) == (10, NOTHING)
    assert row["reason"].startswith("not told")


def test_open_seasons_are_not_told(co_op: CoOp) -> None:
    farms = grow(co_op)
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    assert told(owner_of(farms[0]), farms[0]) == []


# What could be worked out from several answers ----------------------------------------------------


def test_a_record_that_comes_after_closing_moves_nothing(co_op: CoOp) -> None:
    """Else the quartiles before and after would tell of the farm that sent it."""
    farms = grow(co_op)
    close(co_op)
    client = owner_of(farms[0])
    before = told(client, farms[0])
    pick(member(co_op, "LATE"), 25, make_cultivar())
    HarvestWeight.objects.filter(farm=farms[4]).update(net_g=35_000)
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    assert told(client, farms[0]) == before


def test_quartiles_do_not_depend_on_who_asks(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    rows = [only(owner_of(farm), farm) for farm in farms]
    assert len({(row["q1"], row["median"], row["q3"]) for row in rows}) == 1


def test_whoever_has_several_of_the_farms_is_not_told_of_the_few_others(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    assert group_of(only(owner_of(farms[0], farms[1]), farms[0])) == NOTHING


def test_a_second_co_op_with_one_farm_more_is_not_told_as_well(co_op: CoOp) -> None:
    """Quartiles of five farms, and of the same five with a sixth, would tell of the sixth."""
    farms = grow(co_op)
    second = make_co_op(code="ZWEI", name="The second")
    for farm in farms:
        join_co_op(farm, second)
    pick(member(second, "SIXTH"), 35, make_cultivar())
    close(co_op)
    close(second)
    client = owner_of(farms[0])
    rows = [only(client, farms[0], co_op_code=each.code) for each in (co_op, second)]
    assert sorted(row["q1"] is None for row in rows) == [False, True]


def test_that_second_co_op_is_told_where_it_differs_by_five(co_op: CoOp) -> None:
    farms = grow(co_op)
    second = make_co_op(code="ZWEI", name="The second")
    for farm in farms:
        join_co_op(farm, second)
    for number in range(5):
        pick(member(second, f"MORE{number}"), 35, make_cultivar())
    close(co_op)
    close(second)
    rows = told(owner_of(farms[0]), farms[0], measure="kg-per-tree")
    assert sorted(row["farms"] for row in rows) == [5, 10]


def test_cultivars_are_not_told_together_as_a_whole(co_op: CoOp) -> None:
    """No row joins cultivars, from which a small one could be had by taking away the large one."""
    farms = grow(co_op)
    pick(farms[0], 7, make_cultivar("Tamisca"))
    pick(farms[1], 9, make_cultivar("Tamisca"))
    close(co_op)
    rows = told(owner_of(farms[0]), farms[0], measure="kg-per-tree")
    assert {row["cultivar_name"]: row["farms"] for row in rows} == {"Ondrela": 5, "Tamisca": None}


@pytest.mark.parametrize("name", ["season", "cultivar", "member", "co_op", "basis"])
def test_there_is_no_other_filter(co_op: CoOp, name: str) -> None:
    farms = grow(co_op)
    answer = owner_of(farms[0]).get(PATH, {"farm": str(farms[0].pk), name: "x"})
    assert answer.status_code == 400


# Who asks -----------------------------------------------------------------------------------------


def test_a_farm_that_grew_none_of_it_is_told_nothing(co_op: CoOp) -> None:
    grow(co_op)
    other = pick(member(co_op, "OTHER"), 5, make_cultivar("Tamisca"))
    close(co_op)
    assert {row["cultivar_name"] for row in told(owner_of(other), other)} == {"Tamisca"}


def test_another_members_benchmarks_are_not_there(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    answer = owner_of(farms[0]).get(PATH, {"farm": str(farms[1].pk)})
    assert answer.status_code == 422


def test_a_farms_app_is_told_what_its_owner_is(co_op: CoOp) -> None:
    farms = grow(co_op)
    close(co_op)
    app = client_with(farms[0], "harvest:read")
    assert told(app, farms[0]) == told(owner_of(farms[0]), farms[0])


def test_staff_see_their_own_co_ops_groups_only(co_op: CoOp) -> None:
    farms = grow(co_op)
    second = make_co_op(code="ZWEI", name="The second")
    join_co_op(farms[0], second)
    close(co_op)
    close(second)
    staff = make_person("staff@second.example")
    CoOpRole.objects.create(co_op=second, person=staff)
    rows = told(client_of(staff), farms[0], measure="kg-per-tree")
    assert [(row["co_op_code"], row["farms"]) for row in rows] == [("ZWEI", None)]
