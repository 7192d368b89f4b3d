"""Quartiles and places among farms, and when they may be told."""

import statistics
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.benchmarks import FarmFigure, benchmark, may_be_told, told_together


def farm(number: int) -> UUID:
    return UUID(int=number)


def group(*kilos: float, values: tuple[float, ...] | None = None) -> list[FarmFigure]:
    """Farms 1, 2, 3 ... with so many kilos each; figures of their own, else the kilos again."""
    return [
        FarmFigure(farm_id=farm(number), net_g=round(kg * 1000), value=value)
        for number, (kg, value) in enumerate(zip(kilos, values or kilos, strict=True), start=1)
    ]


# Hyndman and Fan's definition 7, worked by hand: the quartile p of n ordered values lies at
# 1 + (n - 1) p.
@pytest.mark.parametrize(
    ("values", "q1", "median", "q3"),
    [
        ((1, 2, 3, 4, 5), 2, 3, 4),  # at the second, third and fourth
        ((1, 2, 3, 4, 5, 6), 2.25, 3.5, 4.75),  # a quarter, a half, three quarters on
        ((10, 20, 30, 40, 50, 60, 70, 80), 27.5, 45, 62.5),
        ((5, 5, 5, 5, 5), 5, 5, 5),  # all alike
    ],
)
def test_quartiles_are_linear_between_the_ordered_figures(
    values: tuple[float, ...], q1: float, median: float, q3: float
) -> None:
    found = benchmark(group(*values), farm(1))
    assert (found.q1, found.median, found.q3) == (q1, median, q3)


@given(st.lists(st.floats(min_value=0, max_value=1e6), min_size=5, max_size=40))
def test_quartiles_are_those_of_the_standard_library(values: list[float]) -> None:
    found = benchmark(group(*values), farm(1))
    assert (found.q1, found.median, found.q3) == pytest.approx(
        tuple(statistics.quantiles(values, n=4, method="inclusive"))
    )


@pytest.mark.parametrize(
    ("number", "place"),
    [
        (1, 5),  # the lowest
        (5, 1),  # the highest
        (3, 2),  # shares its place with the next
        (4, 2),
    ],
)
def test_place_one_is_the_highest_figure(number: int, place: int) -> None:
    found = benchmark(group(1, 2, 3, 3, 5), farm(number))
    assert (found.place, found.farms, found.value) == (place, 5, (1, 2, 3, 3, 5)[number - 1])


@pytest.mark.parametrize(
    ("kilos", "askers", "is_told"),
    [
        ((10, 10, 10, 10), [1], False),  # four farms
        ((10, 10, 10, 10, 10), [1], True),
        ((10, 10, 10, 10, 40), [1], True),  # one has half of the kilos
        ((10, 10, 10, 10, 41), [1], False),  # one has more than half
        ((41, 10, 10, 10, 10), [1], False),  # also where it is the asker's own
        ((10, 10, 10, 10, 10), [1, 2], False),  # of two farms' people: three others
        ((10, 10, 10, 10, 10, 10), [1, 2], True),  # four others
        ((10, 10, 10, 10, 10), [9], True),  # who has no farm among them
        ((), [1], False),
    ],
)
def test_small_and_uneven_groups_are_not_told(
    kilos: tuple[float, ...], askers: list[int], is_told: bool
) -> None:
    assert may_be_told(group(*kilos), {farm(number) for number in askers}) is is_told


@pytest.mark.parametrize(
    ("groups", "told"),
    [
        # the same farms twice tell nothing of each other
        ({"a": range(6), "b": range(6)}, {"a", "b"}),
        # one farm more would be told of by the difference
        ({"a": range(6), "b": range(7)}, {"a"}),
        # two swapped
        ({"a": range(6), "b": range(1, 7)}, {"a"}),
        # five more
        ({"a": range(6), "b": range(11)}, {"a", "b"}),
        # nothing in common
        ({"a": range(5), "b": range(10, 15)}, {"a", "b"}),
        # a third is held against those told, not against those left out
        ({"a": range(6), "b": range(7), "c": range(11)}, {"a", "c"}),
    ],
)
def test_groups_that_differ_by_a_few_farms_are_not_told_together(
    groups: dict[str, range], told: set[str]
) -> None:
    farms = {name: {farm(number) for number in found} for name, found in groups.items()}
    assert told_together(farms) == told
