"""Seasons against each other: year on year, alternate bearing, and yield by trunk section."""

import math
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.seasons_compared import (
    ComparisonError,
    Girth,
    SeasonRow,
    alternate_bearing,
    block_efficiency,
    compare,
    sections,
    tree_efficiency,
    yield_efficiency,
)


def season(year: int, kg: float, **values: Any) -> SeasonRow:
    """Over, twelve months from January."""
    return SeasonRow(
        **{
            "year": year,
            "label": str(year),
            "starts_on": date(year, 1, 1),
            "ends_on": date(year, 12, 31),
            "is_closed": True,
            "net_g": round(kg * 1000),
            **values,
        }
    )


# Alternate bearing -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kilos", "intensity"),
    [
        # Recomputed from the formula of Hoblyn and others 1936 (from memory).
        ([100, 0, 100, 0], 1),  # every other year
        ([50, 50, 50], 0),  # even
        ([100, 50, 100, 50], 1 / 3),
        # The mean of the pairs' ratios; the ratio of their sums would be 0.405405.
        ([30, 60, 20, 70, 40], 0.415404),
    ],
)
def test_intensity_is_the_mean_of_the_pairs_ratios(kilos: list[float], intensity: float) -> None:
    found = alternate_bearing(dict(enumerate(kilos, start=2020)))
    assert found.intensity == pytest.approx(intensity, abs=5e-7)
    assert found.pairs == len(kilos) - 1


def test_two_years_without_a_crop_have_no_ratio() -> None:
    found = alternate_bearing({2020: 0, 2021: 0, 2022: 80, 2023: 40})
    assert found.intensity == pytest.approx((1 + 1 / 3) / 2)
    assert found.pairs == 2
    assert alternate_bearing({2020: 0, 2021: 0}).intensity is None


def test_a_missing_year_breaks_the_pair_and_is_not_bridged() -> None:
    found = alternate_bearing({2020: 100, 2022: 0, 2023: 50})
    assert (found.intensity, found.pairs) == (1, 1)
    assert alternate_bearing({2020: 100, 2022: 0}).intensity is None


@given(st.dictionaries(st.integers(2000, 2030), st.floats(0, 1e6)))
def test_intensity_lies_between_even_and_every_other_year(kilos: dict[int, float]) -> None:
    found = alternate_bearing(kilos).intensity
    assert found is None or 0 <= found <= 1


@given(st.lists(st.floats(1, 1e5), min_size=2, max_size=8), st.floats(0.01, 100))
def test_intensity_does_not_depend_on_the_unit(kilos: list[float], factor: float) -> None:
    one, other = (
        alternate_bearing({year: kg * by for year, kg in enumerate(kilos)}) for by in (1, factor)
    )
    assert one.intensity == pytest.approx(other.intensity, abs=1e-9)


# Year on year ------------------------------------------------------------------------------------


def test_a_season_is_held_against_the_one_before_and_the_mean_of_earlier_ones() -> None:
    first, second, third = compare([season(2024, 150), season(2023, 100), season(2025, 200)])
    assert [each.row.year for each in (first, second, third)] == [2023, 2024, 2025]
    assert first.reasons == {
        "before": "Of the season before 2023 nothing is recorded.",
        "mean": "There is no complete season before this one.",
    }
    assert second.before.net_kg_percent == pytest.approx(50)
    assert third.before.net_kg_percent == pytest.approx(100 / 3)
    assert third.mean.net_kg_percent == pytest.approx(60)  # against 125
    assert third.mean_seasons == 2


def test_a_missing_season_breaks_the_pair() -> None:
    *_, last = compare([season(2022, 100), season(2024, 150)])
    assert last.before.net_kg_percent is None
    assert last.reasons["before"] == "Of the season before 2024 nothing is recorded."
    assert last.mean.net_kg_percent == pytest.approx(50)  # against 2022, which is complete


def test_an_open_season_is_compared_with_none_and_none_with_it() -> None:
    rows = [season(2023, 100), season(2024, 20, is_closed=False), season(2025, 120)]
    _, opened, later = compare(rows)
    assert opened.before.net_kg_percent is None
    assert opened.reasons["season"] == "Season 2024 is not over: it is compared with none."
    assert later.reasons["before"] == "Season 2024 is not complete."
    assert later.mean_seasons == 1


@pytest.mark.parametrize(
    ("days", "counts"),
    [
        (365, True),
        (366, True),
        (184, False),  # half a year, as the start of seasons moved
        (540, False),
    ],
)
def test_seasons_of_another_length_are_not_compared(days: int, counts: bool) -> None:
    ends_on = date(2024, 1, 1) + timedelta(days=days - 1)
    *_, last = compare([season(2023, 100), season(2024, 60, ends_on=ends_on)])
    assert (last.before.net_kg_percent is not None) is counts
    assert ("season" in last.reasons) is not counts


def test_nothing_weighed_before_leaves_no_per_cent() -> None:
    *_, last = compare([season(2023, 0), season(2024, 60)])
    assert last.before.net_kg_percent is None
    assert last.reasons["before"] == "Nothing was weighed in 2023, so there is no per cent."


def test_shares_differ_in_points_and_days_by_their_place_in_the_season() -> None:
    across = season(
        2023,
        100,
        starts_on=date(2023, 7, 1),
        ends_on=date(2024, 6, 30),
        p50_on=date(2024, 3, 1),  # past a 29 February
        marketable_share=0.8,
    )
    later = season(
        2024,
        100,
        starts_on=date(2024, 7, 1),
        ends_on=date(2025, 6, 30),
        p50_on=date(2025, 3, 10),
        marketable_share=0.85,
    )
    *_, last = compare([across, later])
    assert last.before.marketable_share_points == pytest.approx(5)
    assert last.before.p50_days_later == 8  # the 253rd day against the 245th
    assert last.before.first_days_later is None


def test_estimated_kilos_stand_apart() -> None:
    *_, last = compare([season(2023, 100), season(2024, 100, estimated_g=5_500)])
    assert last.before.net_kg_percent == 0
    assert last.reasons["estimated"] == "5.5 kg were estimated and stand apart."


def test_a_season_that_is_there_twice_is_refused() -> None:
    with pytest.raises(ComparisonError):
        compare([season(2024, 1), season(2024, 2)])


years = st.dictionaries(st.integers(2010, 2030), st.integers(0, 10_000), min_size=1)


@given(years)
def test_every_change_leads_back_to_the_season_before(kilos: dict[int, int]) -> None:
    for each in compare([season(year, kg) for year, kg in kilos.items()]):
        change, before = each.before.net_kg_percent, kilos.get(each.row.year - 1)
        assert (change is not None) is bool(before)
        if change is not None and before:
            assert before * (1 + change / 100) == pytest.approx(each.row.net_kg)


# Trunks ------------------------------------------------------------------------------------------


def girth(cm: float, on: date, tree: str = "1", trunk: int = 1) -> Girth:
    return Girth(tree=tree, trunk=trunk, on=on, section_cm2=cm**2 / (4 * math.pi))


PICKING, END = date(2025, 9, 1), date(2025, 12, 31)


def test_yield_efficiency_is_kilos_by_section() -> None:
    # 43 kg on a girth of 50 cm, 198.9437 cm2: recomputed.
    [one] = sections([girth(50, date(2025, 8, 1))], PICKING, END)
    assert one.section_cm2 == pytest.approx(198.9437, abs=5e-5)
    assert yield_efficiency(43, one.section_cm2) == pytest.approx(0.21614, abs=5e-6)


def test_sections_of_trunks_add_up_and_diameters_do_not() -> None:
    # Two trunks of 25 cm: 2 x 49.7359 cm2, half of one of 50 cm. Recomputed.
    two = [girth(25, date(2025, 8, 1), trunk=number) for number in (1, 2)]
    [tree] = sections(two, PICKING, END)
    assert tree.section_cm2 == pytest.approx(2 * 49.7359, abs=1e-4)
    assert tree.trunks == 2


@pytest.mark.parametrize(
    ("days", "used"),
    [
        ([(2024, 9, 1), (2025, 8, 1)], (2025, 8, 1)),  # the last before picking
        ([(2025, 8, 1), (2025, 9, 2)], (2025, 8, 1)),  # before, although the other is nearer
        ([(2025, 10, 1), (2025, 12, 1)], (2025, 10, 1)),  # else the first within the season
        ([(2026, 1, 1)], None),  # the season is over
        ([(2025, 9, 1)], (2025, 9, 1)),  # the first picking day itself
    ],
)
def test_the_girth_that_counts_is_the_last_before_picking(
    days: list[tuple[int, int, int]], used: tuple[int, int, int] | None
) -> None:
    found = sections([girth(50, date(*day)) for day in days], PICKING, END)
    assert [each.last_on for each in found] == ([date(*used)] if used else [])


def test_a_blocks_efficiency_says_how_many_trees_it_rests_on() -> None:
    measured = sections(
        [girth(40, date(2025, 3, 1)), girth(60, date(2025, 4, 1), tree="2")], PICKING, END
    )
    found = block_efficiency(30, measured, 12)
    assert found.kg_per_cm2 == pytest.approx(30 / ((40**2 + 60**2) / (8 * math.pi)))
    assert found.reason == "By 2 of 12 bearing trees."
    assert (found.girths_from, found.girths_to) == (date(2025, 3, 1), date(2025, 4, 1))
    assert block_efficiency(30, measured, 2).reason is None


@pytest.mark.parametrize(
    ("kg", "day", "expected", "reason"),
    [
        (43, (2025, 8, 1), 0.21614, None),
        (0, (2025, 8, 1), 0, None),  # a tree that bore nothing was weighed too
        (43, (2025, 10, 1), 0.21614, "A girth was measured only after picking began."),
        (None, (2025, 8, 1), None, "It was not weighed by itself."),
        (43, (2026, 1, 1), None, "Its trunk was not measured in time."),
    ],
)
def test_a_trees_efficiency_says_what_it_rests_on(
    kg: float | None, day: tuple[int, int, int], expected: float | None, reason: str | None
) -> None:
    section = next(iter(sections([girth(50, date(*day))], PICKING, END)), None)
    found = tree_efficiency(kg, section)
    assert found.kg_per_cm2 == (None if expected is None else pytest.approx(expected, abs=5e-6))
    assert found.reason == reason


def test_without_girths_or_kilos_efficiency_is_not_known_and_says_why() -> None:
    assert block_efficiency(30, [], 12).reason == "No trunk of the block was measured in time."
    measured = sections([girth(40, date(2025, 3, 1))], PICKING, END)
    unknown = block_efficiency(None, measured, 12)
    assert (unknown.kg_per_cm2, unknown.reason) == (None, "Kilograms a tree are not known.")
