"""Rows by cultivar, and the areas behind tonnes a hectare."""

import pytest

from planning.models import SeasonSummary, SummaryLevel
from records.models import Block, Cultivar, Farm, PlantingLine
from tests.cast import make_cultivar
from tests.planning.ground import make_block, make_farm, make_tree, summaries, summary, weigh

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm() -> Farm:
    return make_farm()


def plant(block: Block, cultivar: Cultivar, area_m2: int | None = None) -> None:
    PlantingLine.objects.create(
        farm=block.farm, block=block, cultivar=cultivar, tree_count=10, area_m2=area_m2
    )


def of_cultivar(farm: Farm, cultivar: Cultivar | None) -> SeasonSummary:
    return summary(farm, SummaryLevel.CULTIVAR, cultivar=cultivar)


def test_a_cultivar_is_summed_up_over_the_blocks_it_stands_on(farm: Farm) -> None:
    cultivar = make_cultivar()
    for code, kg in (("N", 10), ("S", 5)):
        block = make_block(farm, code, area_m2=1_000)
        plant(block, cultivar)
        weigh(block, "2026-09-10", kg, cultivar=cultivar)
    row = of_cultivar(farm, cultivar)
    assert (row.net_g, row.bearing_trees, row.area_m2, row.t_per_ha) == (15_000, 20, 2_000, 0.075)


def test_fruit_of_unknown_cultivar_has_a_row_of_its_own(farm: Farm) -> None:
    block = make_block(farm, area_m2=1_000)
    plant(block, make_cultivar())
    weigh(block, "2026-09-10", 10)
    row = of_cultivar(farm, None)
    assert (row.net_g, row.bearing_trees, row.t_per_ha) == (10_000, None, None)
    assert row.reasons["t_per_ha"] == "t/ha: the cultivar of this fruit is not known"


def test_a_cultivar_that_bore_nothing_has_a_row(farm: Farm) -> None:
    block, picked, idle = make_block(farm), make_cultivar(), make_cultivar("Tamisca")
    plant(block, picked)
    plant(block, idle)
    weigh(block, "2026-09-10", 10, cultivar=picked)
    row = of_cultivar(farm, idle)
    assert (row.net_g, row.bearing_trees) == (0, 10)


def test_fruit_of_a_cultivar_that_the_block_does_not_list_has_no_kilos_a_tree(farm: Farm) -> None:
    block, stray = make_block(farm), make_cultivar("Tamisca")
    plant(block, make_cultivar())
    weigh(block, "2026-09-10", 10, cultivar=stray)
    row = of_cultivar(farm, stray)
    assert (row.bearing_trees, row.kg_per_tree) == (None, None)
    assert "no tree of this cultivar is recorded" in row.reasons["kg_per_tree"]


@pytest.mark.parametrize(
    ("entered_m2", "outlined_m2", "area_m2"),
    [
        (5_000, 5_400, 5_000),  # what was entered
        (None, 5_400, 5_400),  # else what the outline covers
        (None, None, None),  # else it is not known
    ],
)
def test_a_blocks_area_is_the_entered_one_else_the_outlines(
    farm: Farm, entered_m2: int | None, outlined_m2: int | None, area_m2: int | None
) -> None:
    block = make_block(farm, area_m2=entered_m2, boundary_area_m2=outlined_m2)
    weigh(block, "2026-09-10", 1_000)
    row = summary(farm, SummaryLevel.BLOCK)
    assert row.area_m2 == area_m2
    assert row.t_per_ha == (area_m2 and pytest.approx(10_000 / area_m2))


def test_a_farms_area_is_known_only_when_every_blocks_is(farm: Farm) -> None:
    weigh(make_block(farm, "N", area_m2=1_000), "2026-09-10", 10)
    weigh(make_block(farm, "S"), "2026-09-10", 10)
    row = summary(farm)
    assert row.area_m2 is None
    assert row.reasons["area_m2"] == "area: the area is not known for 1 of 2 blocks"


@pytest.mark.parametrize(
    ("own_m2", "other_m2", "area_m2"),
    [
        # no line says how much of the block is whose
        (None, None, None),
        # each line says its own
        (600, 400, 600),
        # this line does, and that is enough for this cultivar
        (600, None, 600),
    ],
)
def test_a_cultivars_part_of_a_mixed_block_is_what_its_planting_lines_say(
    farm: Farm, own_m2: int | None, other_m2: int | None, area_m2: int | None
) -> None:
    block, own = make_block(farm, area_m2=1_000), make_cultivar()
    plant(block, own, own_m2)
    plant(block, make_cultivar("Tamisca"), other_m2)
    weigh(block, "2026-09-10", 10, cultivar=own)
    assert of_cultivar(farm, own).area_m2 == area_m2


def test_one_line_without_an_area_leaves_the_cultivars_unknown(farm: Farm) -> None:
    block, own = make_block(farm, area_m2=1_000), make_cultivar()
    plant(block, own, 600)
    plant(block, own)
    plant(block, make_cultivar("Tamisca"), 400)
    weigh(block, "2026-09-10", 10, cultivar=own)
    assert of_cultivar(farm, own).area_m2 is None


def test_a_block_with_one_cultivar_is_wholly_its(farm: Farm) -> None:
    block, own = make_block(farm, area_m2=1_000), make_cultivar()
    make_tree(block, 1, cultivar=own)
    make_tree(block, 2, cultivar=own, planted_on="2026-01-01")  # young, but of the same cultivar
    weigh(block, "2026-09-10", 10, cultivar=own)
    assert of_cultivar(farm, own).area_m2 == 1_000


def test_listed_trees_of_two_cultivars_share_an_unknown_part_each(farm: Farm) -> None:
    block, own = make_block(farm, area_m2=1_000), make_cultivar()
    make_tree(block, 1, cultivar=own)
    make_tree(block, 2, cultivar=make_cultivar("Tamisca"))
    plant(block, own, 600)  # of no account where trees are listed
    weigh(block, "2026-09-10", 10, cultivar=own)
    row = of_cultivar(farm, own)
    assert row.area_m2 is None
    assert "do not say how much of it this cultivar covers" in row.reasons["t_per_ha"]


def test_the_cultivars_add_up_to_the_farm(farm: Farm) -> None:
    block = make_block(farm)
    for cultivar in (make_cultivar(), make_cultivar("Tamisca"), None):
        weigh(block, "2026-09-10", 10, cultivar=cultivar)
    rows = summaries(farm, SummaryLevel.CULTIVAR)
    assert sum(row.net_g for row in rows) == summary(farm).net_g == 30_000
