"""Degree days held against a table computed by other means, an integral, and their own rules."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.degree_days import (
    Cutoff,
    DegreeDayError,
    Gap,
    Method,
    Thresholds,
    degree_days,
    gaps,
    in_fahrenheit,
    interpolated,
    running_sum,
    to_celsius,
)

NAN = math.nan


def of_day(
    high: float,
    low: float,
    lower: float,
    upper: float | None = None,
    method: Method = Method.SINE,
    cutoff: Cutoff = Cutoff.HORIZONTAL,
) -> float:
    thresholds = Thresholds(lower=lower, upper=upper, cutoff=cutoff)
    return float(degree_days([low], [high], thresholds, method)[0])


# Computed independently with numpy; single-sine cells by integration of 200,000 points as well.
# Highest, lowest, lower and upper threshold: average without an upper threshold, with
# substitution, average with its mean cut off, sine with each cutoff, triangle, four cases without
# an upper threshold. None: not in the table.
TABLE = [
    # Warmer than the threshold all day.
    (30, 20, 14, None, 11, 11, 11, 11, None, None, 11, 11),
    # The night is colder than the threshold.
    (25, 10, 14, None, 3.5, 5.5, 3.5, 4.4023, None, None, 4.0333, 4.5),
    # So is the mean: the simple average gives nothing.
    (18, 8, 14, None, 0, 2, 0, 1.1235, None, None, 0.8, 1.0),
    # The whole day is.
    (12, 5, 14, None, 0, 0, 0, 0, None, None, 0, 0),
    # Hotter than the upper threshold all day: the vertical cutoff leaves nothing.
    (38, 33, 14, 32, 21.5, 18, 18, 18, 0, 14.5, 18, None),
    # Between the thresholds all day, in Fahrenheit.
    (80, 50, 50, 88, 15, 15, 15, 15, 15, 15, 15, None),
    # The afternoon is above the upper threshold.
    (95, 55, 50, 88, 25, 21.5, 25, 23.7341, 13.2929, 22.4682, 24.3875, None),
]


@pytest.mark.parametrize("row", TABLE)
def test_every_cell_of_the_table(row: tuple[float, ...]) -> None:
    high, low, lower, upper, average, substituted, mean, sine, vertical, between, tri, four = row
    cells = [
        (average, None, Method.AVERAGE, Cutoff.HORIZONTAL),
        (substituted, upper, Method.SUBSTITUTION, Cutoff.HORIZONTAL),
        (mean, upper, Method.AVERAGE, Cutoff.HORIZONTAL),
        (sine, upper, Method.SINE, Cutoff.HORIZONTAL),
        (vertical, upper, Method.SINE, Cutoff.VERTICAL),
        (between, upper, Method.SINE, Cutoff.INTERMEDIATE),
        (tri, upper, Method.TRIANGLE, Cutoff.HORIZONTAL),
        (four, None, Method.FOUR_CASES, Cutoff.HORIZONTAL),
    ]
    for expected, until, method, cutoff in cells:
        if expected is not None:
            found = of_day(high, low, lower, until, method, cutoff)
            assert found == pytest.approx(expected, abs=5e-5), (method, cutoff)


def test_the_mean_and_its_substitution_are_two_methods() -> None:
    """McMaster & Wilhelm 1997: drawing M and m to the threshold is not drawing their mean."""
    assert of_day(18, 8, 14, method=Method.AVERAGE) == 0
    assert of_day(18, 8, 14, method=Method.SUBSTITUTION) == 2


# Sugar apple at Janauba, two cycles (Mendes et al. 2017, doi 10.1590/0001-3765201720170205), and
# atemoya, two seasons (Rev. Ceres 66(3), 2019): days, degree days; the ratios are derived.
CYCLES = [
    (149, 1684.5, 11.3054),
    (164, 1786.7, 10.8945),
    (217, 2469, 11.3779),
    (206, 2302, 11.1748),
]


@pytest.mark.parametrize(("days", "total", "a_day"), CYCLES)
def test_a_cycle_of_even_days_sums_to_its_published_total(
    days: int, total: float, a_day: float
) -> None:
    """Days that each gather the cycle's mean, above a base chosen for the test."""
    base = 10.0
    daily = degree_days(
        np.full(days, base + a_day - 4), np.full(days, base + a_day + 4), Thresholds(lower=base)
    )
    assert running_sum(daily)[-1] == pytest.approx(total, abs=0.05)


def test_degree_days_differ_less_between_the_two_cycles_of_sugar_apple_than_days_do() -> None:
    """Derived from Mendes et al. 2017: variation of 6.78 % in days, of 4.16 % in degree days."""

    def variation(values: tuple[float, float]) -> float:
        return float(np.std(values, ddof=1) / np.mean(values) * 100)

    assert variation((149, 164)) == pytest.approx(6.78, abs=0.005)
    assert variation((1684.5, 1786.7)) == pytest.approx(4.16, abs=0.005)


# Properties --------------------------------------------------------------------------------------

celsius = st.floats(-10, 45)
spans = st.floats(0, 25)


def integral(high: float, low: float, threshold: float) -> float:
    """The area of the day's sine above a threshold, by the midpoint rule."""
    n = 20_000
    angles = (np.arange(n) + 0.5) * 2 * np.pi / n
    course = (high + low) / 2 + (high - low) / 2 * np.sin(angles)
    return float(np.maximum(course - threshold, 0).mean())


@given(low=celsius, span=spans, lower=st.floats(0, 20), width=st.floats(0.5, 20))
def test_the_sine_is_the_area_under_the_day(
    low: float, span: float, lower: float, width: float
) -> None:
    high, upper = low + span, lower + width
    by_area = integral(high, low, lower) - integral(high, low, upper)
    assert of_day(high, low, lower, upper) == pytest.approx(by_area, abs=1e-3)


@given(low=celsius, span=st.floats(0.5, 25), lower=st.floats(0, 20), width=st.floats(0.5, 20))
def test_the_vertical_cutoff_counts_no_hour_above_the_upper_threshold(
    low: float, span: float, lower: float, width: float
) -> None:
    high, upper = low + span, lower + width
    n = 20_000
    angles = (np.arange(n) + 0.5) * 2 * np.pi / n
    course = (high + low) / 2 + (high - low) / 2 * np.sin(angles)
    by_area = np.where(course <= upper, np.maximum(course - lower, 0), 0).mean()
    found = of_day(high, low, lower, upper, cutoff=Cutoff.VERTICAL)
    # A day that barely touches the threshold is a hair above it for a large share of its points.
    assert found == pytest.approx(by_area, abs=0.02 * width + 1e-3)


@given(low=celsius, span=spans, lower=st.floats(0, 20))
def test_without_an_upper_threshold_average_triangle_and_sine_come_in_order(
    low: float, span: float, lower: float
) -> None:
    found = [
        of_day(low + span, low, lower, method=method)
        for method in (Method.AVERAGE, Method.TRIANGLE, Method.SINE)
    ]
    assert found[0] <= found[1] + 1e-9
    assert found[1] <= found[2] + 1e-9
    if low >= lower:
        assert found == pytest.approx([found[0]] * 3)


@given(
    low=celsius,
    span=spans,
    lower=st.floats(0, 20),
    width=st.floats(0.5, 20),
    method=st.sampled_from(Method),
    cutoff=st.sampled_from(Cutoff),
)
def test_a_day_lies_between_nought_and_its_degree_days_without_cutoff(
    low: float, span: float, lower: float, width: float, method: Method, cutoff: Cutoff
) -> None:
    found = of_day(low + span, low, lower, lower + width, method, cutoff)
    assert 0 <= found <= of_day(low + span, low, lower, method=method) + 1e-9


@given(low=celsius, span=spans, lower=st.floats(0, 20), method=st.sampled_from(Method))
def test_fahrenheit_shifts_temperatures_and_not_degree_days(
    low: float, span: float, lower: float, method: Method
) -> None:
    def f(value: float) -> float:
        return value * 1.8 + 32

    in_c = degree_days([low], [low + span], Thresholds(lower=lower), method)
    in_f = degree_days([f(low)], [f(low + span)], Thresholds(lower=f(lower)), method)
    assert in_f == pytest.approx(in_fahrenheit(in_c), abs=1e-6)
    assert to_celsius(f(lower)) == pytest.approx(lower)


@given(
    days=st.lists(st.tuples(celsius, spans), min_size=1, max_size=30),
    method=st.sampled_from(Method),
)
def test_many_places_at_once_are_each_by_itself(
    days: list[tuple[float, float]], method: Method
) -> None:
    low = np.array([day for day, _ in days])
    high = low + np.array([span for _, span in days])
    thresholds = Thresholds(lower=12, upper=30)
    together = degree_days(np.tile(low, (3, 1)), np.tile(high, (3, 1)), thresholds, method)
    assert np.array_equal(together[2], degree_days(low, high, thresholds, method))


# Gaps --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", Method)
@pytest.mark.parametrize("missing", ["lowest", "highest"])
def test_a_missing_day_is_unknown_and_so_is_the_sum_from_there(
    method: Method, missing: str
) -> None:
    low, high = np.full(5, 15.0), np.full(5, 25.0)
    (low if missing == "lowest" else high)[2] = NAN
    daily = degree_days(low, high, Thresholds(lower=10, upper=30), method)
    assert np.isnan(daily).tolist() == [False, False, True, False, False]
    assert running_sum(daily)[:2].tolist() == pytest.approx([10, 20])
    assert np.isnan(running_sum(daily)[2:]).all()


def test_gaps_are_named_by_their_first_and_last_day() -> None:
    low = np.array([NAN, 1, 2, NAN, NAN, 3, 4, 5])
    high = np.array([1, 2, 3, 4, NAN, 5, NAN, 7])
    assert gaps(low, high) == [Gap(first=0, last=0), Gap(first=3, last=4), Gap(first=6, last=6)]
    assert gaps(low, high)[1].days == 2


def test_only_short_gaps_between_known_days_are_filled_and_reported() -> None:
    low = np.array([NAN, 10, NAN, 14, NAN, NAN, NAN, 20, NAN])
    high = low + 8
    filled_low, filled_high, filled = interpolated(low, high, 2)
    assert filled == [Gap(first=2, last=2)]
    assert filled_low[2] == pytest.approx(12)
    assert filled_high[2] == pytest.approx(20)
    assert gaps(filled_low, filled_high) == [
        Gap(first=0, last=0),
        Gap(first=4, last=6),
        Gap(first=8, last=8),
    ]
    assert math.isnan(low[2])  # what was given stays as it is


def test_no_gap_is_filled_unless_asked_for() -> None:
    low = np.array([10, NAN, 14.0])
    assert interpolated(low, low + 8, 0)[2] == []


# Bad input ---------------------------------------------------------------------------------------


def test_a_lowest_above_the_highest_is_refused() -> None:
    with pytest.raises(
        DegreeDayError, match="The lowest temperature, 21, is above the highest, 20"
    ):
        degree_days([10, 21], [20, 20], Thresholds(lower=10))


@pytest.mark.parametrize("reading", [math.inf, -math.inf])
def test_an_infinite_temperature_is_refused(reading: float) -> None:
    with pytest.raises(DegreeDayError, match="highest temperature is infinite"):
        degree_days([NAN], [reading], Thresholds(lower=10))
    with pytest.raises(DegreeDayError, match="lowest temperature is infinite"):
        degree_days([reading], [NAN], Thresholds(lower=10))


def test_there_are_as_many_lowest_as_highest() -> None:
    with pytest.raises(DegreeDayError, match="as many lowest as highest"):
        degree_days([10, 11], [20], Thresholds(lower=10))


@pytest.mark.parametrize("upper", [10, 9])
def test_a_base_at_or_above_the_upper_threshold_is_refused(upper: float) -> None:
    with pytest.raises(DegreeDayError, match=f"10, must be below the upper, {upper}"):
        Thresholds(lower=10, upper=upper)


@pytest.mark.parametrize(("lower", "upper"), [(NAN, None), (math.inf, None), (10, NAN)])
def test_a_threshold_is_a_number(lower: float, upper: float | None) -> None:
    with pytest.raises(DegreeDayError, match="threshold must be a number"):
        Thresholds(lower=lower, upper=upper)


def test_a_day_without_any_span_is_its_temperature() -> None:
    for method in Method:
        assert of_day(20, 20, 12, method=method) == pytest.approx(8)
        assert of_day(12, 12, 12, method=method) == pytest.approx(0)
