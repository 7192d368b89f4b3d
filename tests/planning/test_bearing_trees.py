"""Which trees count as bearing, and what follows for kilos a tree."""

from typing import Any

import pytest

from planning.models import SummaryLevel
from records.models import Block, Cultivar, Farm, Graft, PlantingLine
from tests.cast import make_cultivar
from tests.planning.ground import make_block, make_farm, make_tree, summary, weigh

pytestmark = pytest.mark.django_db

FIRST_PICKING = "2026-09-10"


@pytest.fixture
def farm() -> Farm:
    return make_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    """Picked twice; only the first day counts for its trees."""
    block = make_block(farm)
    weigh(block, FIRST_PICKING, 10)
    weigh(block, "2026-10-20", 10)
    return block


@pytest.fixture
def early() -> Cultivar:
    """Bears at two, where the species bears at three."""
    early = make_cultivar("Tamisca")
    early.bearing_age_years = 2
    early.save()
    return early


def bearing(block: Block) -> int | None:
    trees: int | None = summary(block.farm, SummaryLevel.BLOCK, block=block).bearing_trees
    return trees


@pytest.mark.parametrize(
    ("tree", "bears"),
    [
        # three full years on the first picking day: the species' bearing age
        ({"planted_on": "2023-09-10"}, True),
        # a day short of it, though not on the last picking day
        ({"planted_on": "2023-09-11"}, False),
        # the planting date is not known: nothing speaks against it
        ({}, True),
        # old enough, but marked as non-bearing
        ({"planted_on": "2010-01-01", "non_bearing": True}, False),
        # non-bearing without a date
        ({"non_bearing": True}, False),
        # removed on the first picking day: it no longer stood
        ({"planted_on": "2010-01-01", "removed_on": "2026-09-10"}, False),
        # removed the day after
        ({"planted_on": "2010-01-01", "removed_on": "2026-09-11"}, True),
        # planted after the first picking day
        ({"planted_on": "2026-10-01"}, False),
    ],
)
def test_a_tree_bears_by_its_dates_and_its_mark(
    block: Block, tree: dict[str, Any], bears: bool
) -> None:
    make_tree(block, cultivar=make_cultivar(), **tree)
    assert bearing(block) == int(bears)


@pytest.mark.parametrize(
    ("planted_on", "bears"),
    [
        ("2024-09-10", True),  # two full years
        ("2024-09-11", False),  # a day short
    ],
)
def test_a_cultivars_own_bearing_age_goes_before_its_species(
    block: Block, early: Cultivar, planted_on: str, bears: bool
) -> None:
    make_tree(block, cultivar=early, planted_on=planted_on)
    assert bearing(block) == int(bears)


def test_a_tree_of_unknown_cultivar_counts_as_bearing(block: Block) -> None:
    make_tree(block, planted_on="2026-01-01")
    assert bearing(block) == 1


def test_a_leap_days_tree_is_a_year_older_on_the_last_of_february(farm: Farm) -> None:
    block = make_block(farm)
    weigh(block, "2023-02-28", 1)
    make_tree(block, cultivar=make_cultivar(), planted_on="2020-02-29")
    assert bearing(block) == 1


@pytest.mark.parametrize(
    ("line", "bears"),
    [
        # three years by the calendar: a line knows only its year
        ({"planted_year": 2023}, True),
        # two
        ({"planted_year": 2024}, False),
        # not known
        ({}, True),
        # marked
        ({"planted_year": 2010, "non_bearing": True}, False),
        # ended on the first picking day
        ({"planted_year": 2010, "ended_on": "2026-09-10"}, False),
        # ended the day after
        ({"planted_year": 2010, "ended_on": "2026-09-11"}, True),
        # planted after the season
        ({"planted_year": 2027}, False),
    ],
)
def test_a_planting_line_bears_by_its_year_and_its_mark(
    block: Block, line: dict[str, Any], bears: bool
) -> None:
    PlantingLine.objects.create(
        farm=block.farm, block=block, cultivar=make_cultivar(), tree_count=50, **line
    )
    assert bearing(block) == 50 * bears


def test_a_planting_line_takes_its_cultivars_own_bearing_age(block: Block, early: Cultivar) -> None:
    for cultivar in (early, make_cultivar()):
        PlantingLine.objects.create(
            farm=block.farm, block=block, cultivar=cultivar, planted_year=2024, tree_count=5
        )
    assert bearing(block) == 5


def test_numbers_come_from_listed_trees_where_there_are_any(block: Block) -> None:
    make_tree(block, cultivar=make_cultivar())
    PlantingLine.objects.create(
        farm=block.farm, block=block, cultivar=make_cultivar(), tree_count=50
    )
    assert bearing(block) == 1


def test_without_trees_or_lines_the_number_is_not_known(block: Block) -> None:
    row = summary(block.farm, SummaryLevel.BLOCK, block=block)
    assert (row.bearing_trees, row.kg_per_tree) == (None, None)
    assert "bearing trees" in row.reasons["kg_per_tree"]


def test_when_every_listed_tree_is_gone_none_bears(block: Block) -> None:
    make_tree(block, removed_on="2020-01-01")
    row = summary(block.farm, SummaryLevel.BLOCK, block=block)
    assert (row.bearing_trees, row.kg_per_tree) == (0, None)


def test_each_season_counts_the_trees_of_its_own_first_picking_day(farm: Farm) -> None:
    block = make_block(farm)
    weigh(block, "2024-09-10", 10)
    weigh(block, "2026-09-10", 10)
    make_tree(block, 1, cultivar=make_cultivar(), planted_on="2010-01-01")
    make_tree(block, 2, cultivar=make_cultivar(), planted_on="2022-01-01")
    assert summary(farm, season_year=2024).bearing_trees == 1
    assert summary(farm, season_year=2026).bearing_trees == 2


def test_each_block_counts_its_trees_on_its_own_first_picking_day(block: Block) -> None:
    later = make_block(block.farm, "S")
    make_tree(later, cultivar=make_cultivar(), planted_on="2023-09-25")
    weigh(later, "2026-09-25", 10)  # three full years to the day, on the farm's second day
    assert bearing(later) == 1


def test_a_block_that_bore_nothing_counts_with_its_bearing_trees(block: Block) -> None:
    make_tree(block, cultivar=make_cultivar())
    idle = make_block(block.farm, "S", area_m2=1_000)
    make_tree(idle, cultivar=make_cultivar())
    row = summary(block.farm)
    assert (row.bearing_trees, row.kg_per_tree) == (2, 10.0)
    assert summary(block.farm, SummaryLevel.BLOCK, block=idle).net_g == 0


@pytest.mark.parametrize(
    "idle",
    [
        {"retired_on": "2026-09-10"},  # out of use on the farm's first picking day
        {"planted_on": "2026-01-01"},  # too young to bear
    ],
)
def test_a_block_with_nothing_to_bear_is_left_out(block: Block, idle: dict[str, str]) -> None:
    retired_on = idle.get("retired_on")
    young = make_block(block.farm, "S", retired_on=retired_on)
    make_tree(young, cultivar=make_cultivar(), planted_on=idle.get("planted_on"))
    assert summary(block.farm).inputs["blocks"] == 1


@pytest.mark.parametrize(
    ("grafts", "expected"),
    [
        # wholly top-worked before picking: a tree of the new cultivar
        ([(100, "2020-01-01", None)], {"Tamisca": 1}),
        # top-worked after the first picking day
        ([(100, "2026-10-01", None)], {"Ondrela": 1}),
        # the graft came off before
        ([(100, "2015-01-01", "2020-01-01")], {"Ondrela": 1}),
        # half of the crown: a mixture, and nobody's tree
        ([(50, "2020-01-01", None)], {}),
        # so are several grafts at once
        ([(100, "2020-01-01", None), (100, "2022-01-01", None)], {}),
    ],
)
def test_a_top_worked_tree_bears_for_the_cultivar_it_wholly_is(
    farm: Farm,
    early: Cultivar,
    grafts: list[tuple[int, str, str | None]],
    expected: dict[str, int],
) -> None:
    block, planted = make_block(farm), make_cultivar()
    weigh(block, FIRST_PICKING, 10, cultivar=planted)
    weigh(block, FIRST_PICKING, 10, cultivar=early)
    tree = make_tree(block, cultivar=planted, planted_on="2010-01-01")
    for percent, grafted_on, removed_on in grafts:
        Graft.objects.create(
            farm=farm,
            tree=tree,
            cultivar=early,
            share_percent=percent,
            grafted_on=grafted_on,
            removed_on=removed_on,
        )
    found = {
        cultivar.name: summary(farm, SummaryLevel.CULTIVAR, cultivar=cultivar).bearing_trees
        for cultivar in (planted, early)
    }
    assert {name: trees for name, trees in found.items() if trees is not None} == expected
    assert bearing(block) == 1
