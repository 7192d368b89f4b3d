"""Measured and estimated kilos, grades, counts and the spread between trees."""

from typing import Any

import pytest

from planning.models import SummaryLevel
from records.models import Block, Farm, Grade
from tests.cast import make_cultivar
from tests.planning.ground import make_block, make_farm, make_tree, summary, weigh

pytestmark = pytest.mark.django_db


@pytest.fixture
def block() -> Block:
    return make_block(make_farm())


def test_containers_without_a_scale_weight_are_estimated_apart(block: Block) -> None:
    weigh(block, "2026-09-10", 10)
    weigh(block, "2026-09-11", containers=2, estimated_from_containers_g=24_000)
    row = summary(block.farm)
    assert (row.net_g, row.estimated_g) == (10_000, 24_000)
    assert (row.inputs["weighed"], row.inputs["estimated"]) == (1, 1)
    assert row.last_on.isoformat() == "2026-09-11"


def test_a_scale_weight_goes_before_an_estimate(block: Block) -> None:
    weigh(block, "2026-09-10", 10, containers=2, estimated_from_containers_g=24_000)
    assert summary(block.farm).estimated_g == 0


@pytest.mark.parametrize(
    ("counted", "estimated_g"),
    [
        # the mean of the season and cultivar: 4,000 g of 10 fruit
        ({"picked_on": "2026-09-20", "cultivar": "Ondrela"}, 5 * 400),
        # no such mean in this season: the farm's, 4,000 + 6,000 g of 10 + 30 fruit
        ({"picked_on": "2025-09-20", "cultivar": "Ondrela"}, 5 * 250),
        # nor of this cultivar
        ({"picked_on": "2026-09-20", "cultivar": "Vasco Rim"}, 5 * 250),
        # containers of a usual weight go before fruit
        (
            {"picked_on": "2026-09-20", "cultivar": "Ondrela", "estimated_from_containers_g": 900},
            900,
        ),
    ],
)
def test_counted_fruit_is_estimated_by_the_farms_own_mean(
    block: Block, counted: dict[str, Any], estimated_g: int
) -> None:
    first, second = make_cultivar("Ondrela"), make_cultivar("Tamisca")
    weigh(block, "2026-09-10", 4, cultivar=first, fruit_count=10)
    weigh(block, "2026-09-10", 6, cultivar=second, fruit_count=30)
    cultivar = make_cultivar(counted.pop("cultivar"))
    weigh(block, fruit_count=5, cultivar=cultivar, **counted)
    assert summary(block.farm, season_year=int(counted["picked_on"][:4])).estimated_g == (
        estimated_g
    )


def test_another_farms_fruit_is_no_measure(block: Block) -> None:
    weigh(make_block(make_farm("NEXT")), "2026-09-10", 4, fruit_count=10)
    weigh(block, "2026-09-10", fruit_count=5)
    row = summary(block.farm)
    assert (row.estimated_g, row.fruit_count, row.inputs["estimated"]) == (0, 5, 0)


def test_grades_carry_the_farms_own_codes(block: Block) -> None:
    farm: Farm = block.farm
    first = Grade.objects.create(farm=farm, code="A", is_marketable=True)
    cull = Grade.objects.create(farm=farm, code="C", is_marketable=False, cull_reason="split")
    weigh(block, "2026-09-10", 6, grade=first)
    weigh(block, "2026-09-10", 2, grade=cull)
    weigh(block, "2026-09-10", 2)
    row = summary(farm)
    assert [(grade["grade"], grade["net_kg"]) for grade in row.grades] == [
        ("A", 6.0),
        ("C", 2.0),
        (None, 2.0),
    ]
    assert (row.marketable_share, row.ungraded_share) == (0.75, 0.2)


def test_mean_fruit_weight_takes_weighings_with_weight_and_count(block: Block) -> None:
    weigh(block, "2026-09-10", 4, fruit_count=10)
    weigh(block, "2026-09-10", 4)
    weigh(block, "2026-09-10", fruit_count=7)
    row = summary(block.farm)
    assert (row.mean_fruit_g, row.fruit_count) == (400.0, 17)


def test_spread_is_of_weighings_of_exactly_one_tree(block: Block) -> None:
    trees = [make_tree(block, position) for position in (1, 2, 3)]
    weigh(block, "2026-09-10", 10, trees=[trees[0]])
    weigh(block, "2026-09-20", 4, trees=[trees[0]])
    weigh(block, "2026-09-10", 20, trees=[trees[1]])
    weigh(block, "2026-09-10", 50, trees=[trees[1], trees[2]])  # two trees in one weighing
    weigh(block, "2026-09-10", fruit_count=3, trees=[trees[2]])  # no scale
    row = summary(block.farm, SummaryLevel.BLOCK)
    assert (row.spread["n"], row.spread["net_kg"], row.spread["mean_kg"]) == (2, 34.0, 17.0)
    assert row.inputs["of_one_tree"] == 3


def test_the_weekly_curve_is_stored_week_by_week(block: Block) -> None:
    weigh(block, "2026-09-07", 10)
    weigh(block, "2026-09-21", 5)
    assert [
        (week["week_starts_on"], week["net_kg"], week["cumulative_kg"])
        for week in summary(block.farm).weeks
    ] == [("2026-09-07", 10.0, 10.0), ("2026-09-14", 0.0, 10.0), ("2026-09-21", 5.0, 15.0)]
