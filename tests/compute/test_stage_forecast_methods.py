"""Spread, heat, the fit of a base temperature and the choice of a method, on seasons we made."""

from datetime import date, timedelta
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from planning.compute.stage_forecasts import (
    Crop,
    DayRange,
    Heat,
    Method,
    SpeciesFacts,
    Stage,
    forecast_of,
)
from planning.compute.stage_forecasts.base import best_base, spread_in_days
from planning.compute.stage_forecasts.spread import next_value
from tests.compute.growing import (
    FIRST_YEAR,
    SUGAR_APPLE,
    cycle,
    heat_of,
    on,
    reached,
    weather,
)

# Spread ------------------------------------------------------------------------------------------


def test_three_values_and_more_go_by_students_t() -> None:
    """Around the mean of 58, 62 and 66, two degrees of freedom: t is 1.8856 (tables)."""
    found = next_value([58, 62, 66], prior=(50, 80))
    assert found.middle == 62
    assert found.half == pytest.approx(1.8856 * 4 * sqrt(4 / 3), abs=1e-3)


def test_without_a_season_of_its_own_the_interval_is_the_species_range() -> None:
    found = next_value([], prior=(110, 120))
    assert (found.middle - found.half, found.middle + found.half) == pytest.approx((110, 120))


# Seasons of the block, and the share that they weigh: n / (n + 1).
@pytest.mark.parametrize(("values", "middle"), [([60], (60 + 80) / 2), ([60, 64], (124 + 80) / 3)])
def test_few_seasons_are_drawn_towards_the_species(values: list[float], middle: float) -> None:
    assert next_value(values, prior=(70, 90)).middle == pytest.approx(middle)


def test_the_conjugate_formula_by_hand() -> None:
    """One season of 60 days against 70-90: v = 4, s^2 = (3 s0^2 + (60 - 80)^2 / 2) / 4."""
    s0 = 10 / (student.ppf(0.9, 3) * sqrt(2))
    s = sqrt((3 * s0**2 + 200) / 4)
    found = next_value([60], prior=(70, 90))
    assert found.half == pytest.approx(student.ppf(0.9, 4) * s * sqrt(1.5))


def test_one_value_without_a_range_is_taken_with_ten_days_of_usual_spread() -> None:
    found = next_value([60])
    assert found.middle == 60
    assert found.half == pytest.approx(student.ppf(0.9, 3) * 10 * sqrt(2))


def test_seasons_alike_to_the_day_leave_a_day_of_doubt() -> None:
    assert next_value([60, 60, 60]).half == pytest.approx(student.ppf(0.9, 2) * sqrt(4 / 3))


@given(
    values=st.lists(st.floats(0, 300), max_size=8),
    low=st.floats(0, 200),
    width=st.floats(1, 100),
)
def test_the_middle_lies_between_the_block_and_the_species(
    values: list[float], low: float, width: float
) -> None:
    found = next_value(values, prior=(low, low + width))
    middle = low + width / 2
    within = [*values, middle] if len(values) < 3 else values
    assert min(within) - 1e-6 <= found.middle <= max(within) + 1e-6
    assert found.half > 0


# Heat --------------------------------------------------------------------------------------------


def even_heat(days: int, daily: float = 10.0, **extra: int) -> Heat:
    values = np.full((1, days), daily)
    for name in extra:
        values[0, extra[name]] = np.nan
    end = date(2020, 1, 1) + timedelta(days=days)
    return Heat.of_days(
        values, starts_on=date(2020, 1, 1), bases_c=(10.0,), forecast_from=end, normals_from=end
    )


def test_heat_counts_from_the_day_after_the_anchor_to_the_day_itself() -> None:
    heat = even_heat(30)
    anchor, end = heat.places([on(2020, 1, 5)]), heat.places([on(2020, 1, 8)])
    assert heat.between(anchor, end).tolist() == [[30.0]]


# The need, and the day on which it is reached from 5 January at ten a day.
@pytest.mark.parametrize(
    ("need", "expected"),
    [(10, on(2020, 1, 6)), (10.5, on(2020, 1, 7)), (30, on(2020, 1, 8)), (250, on(2020, 1, 30))],
)
def test_a_need_is_reached_on_the_day_on_which_it_has_gathered(need: float, expected: date) -> None:
    heat = even_heat(30)
    (found,) = heat.reaching(heat.places([on(2020, 1, 5)]), np.array([need]), 0)
    assert heat.day(int(found)) == expected


def test_what_is_not_reached_or_spans_a_gap_is_unknown() -> None:
    heat = even_heat(30, gap=10)
    anchors = heat.places([on(2020, 1, 5), on(2020, 1, 12), on(2020, 1, 5), on(2019, 12, 1)])
    found = heat.reaching(anchors, np.array([60.0, 30.0, 40.0, 10.0]), 0)
    assert np.isnan(found).tolist() == [True, False, False, True]
    ends = heat.places([on(2020, 1, 20), on(2020, 1, 20), on(2020, 1, 10), on(2020, 1, 1)])
    assert np.isnan(heat.between(anchors, ends)[0]).tolist() == [True, False, False, True]


@given(seed=st.integers(0, 10_000), need=st.floats(50, 900), start=st.integers(0, 200))
def test_reaching_agrees_with_a_count_day_by_day(seed: int, need: float, start: int) -> None:
    low, high = weather(np.random.default_rng(seed), 2)
    heat = heat_of(low, high, bases=(12.0,))
    anchor = date(FIRST_YEAR, 1, 1) + timedelta(days=start)
    (found,) = heat.reaching(heat.places([anchor]), np.array([need]), 0)
    assert heat.day(int(found)) == reached(low, high, anchor, need, 12.0)


# Base temperature --------------------------------------------------------------------------------


def warm_pairs(
    seed: int, years: int, base: float, need: float = 700.0
) -> tuple[Heat, list[tuple[date, date]]]:
    """Pruned on days a month apart, in bloom when the heat above a base reaches a need."""
    rng = np.random.default_rng(seed)
    low, high = weather(rng, years + 1)
    pairs = []
    for year in range(FIRST_YEAR, FIRST_YEAR + years):
        pruned = on(year, 2, 10) + timedelta(days=int(rng.integers(0, 40)))
        pairs.append((pruned, reached(low, high, pruned, need, base)))
    return heat_of(low, high), pairs


@pytest.mark.parametrize("base", [8.0, 10.0, 13.0])
def test_the_fit_recovers_the_base_that_made_the_seasons(base: float) -> None:
    found = []
    for seed in range(8):
        heat, pairs = warm_pairs(seed, 9, base)
        anchors = heat.places([first for first, _ in pairs])
        ends = heat.places([last for _, last in pairs])
        fitted = best_base(heat, anchors, ends, heat.between(anchors, ends), SUGAR_APPLE)
        assert fitted is not None
        assert fitted.is_fitted
        found.append(heat.bases_c[fitted.place])
    assert np.median(found) == pytest.approx(base, abs=1.0)


def fit_of(years: int, facts: SpeciesFacts, base: float = 13.0) -> float | None:
    heat, pairs = warm_pairs(3, years, base)
    anchors = heat.places([first for first, _ in pairs])
    ends = heat.places([last for _, last in pairs])
    found = best_base(heat, anchors, ends, heat.between(anchors, ends), facts)
    return heat.bases_c[found.place] if found else None


def test_no_base_is_fitted_from_four_crops() -> None:
    cited = SpeciesFacts(name="atemoya", base_c=10, fit_from_c=5, fit_to_c=15)
    assert fit_of(4, SUGAR_APPLE) is None
    assert fit_of(4, cited) == 10


def test_a_fitted_base_takes_the_place_of_a_cited_one_only_where_it_foretells_better() -> None:
    cited = SpeciesFacts(name="cherimoya", base_c=7, fit_from_c=2, fit_to_c=18)
    assert fit_of(9, cited, base=13.0) == pytest.approx(13, abs=1.5)
    assert fit_of(9, cited, base=7.0) == 7


def test_a_fit_stays_within_the_species_bounds() -> None:
    narrow = SpeciesFacts(name="sugar apple", fit_from_c=5, fit_to_c=9)
    found = fit_of(9, narrow, base=13.0)
    assert found is not None
    assert 5 <= found <= 9


def test_spread_in_days_is_that_of_the_heat_over_the_heat_of_a_day() -> None:
    needs = np.array([[600.0, 660.0, 630.0], [0.0, 0.0, 0.0]])
    spread = spread_in_days(needs, np.array([60.0, 66.0, 63.0]))
    assert spread[0] == pytest.approx(30 / 10)
    assert np.isinf(spread[1])


# Choice ------------------------------------------------------------------------------------------

ATEMOYA = SpeciesFacts(name="atemoya", base_c=10, base_source="du Preez 2001")


def chosen(past_days: str, seed: int = 5) -> tuple[Method, dict[str, float]]:
    """The method for bloom when it was driven by heat, by days, or by the calendar."""
    rng = np.random.default_rng(seed)
    years = 8
    low, high = weather(rng, years + 1)
    past = []
    for year in range(FIRST_YEAR, FIRST_YEAR + years):
        pruned = on(year, 2, 10) + timedelta(days=int(rng.integers(0, 40)))
        noise = timedelta(days=int(rng.integers(-1, 2)))
        bloom = {
            "heat": reached(low, high, pruned, 600, 10.0),
            "days": pruned + timedelta(days=65),
            "calendar": on(year, 5, 10),
        }[past_days]
        past.append(cycle(year, opening=pruned, first_bloom=bloom + noise))
    year = FIRST_YEAR + years
    crop = Crop(
        cycle=cycle(year, opening=on(year, 3, 1)), past=past, facts=ATEMOYA, heat=heat_of(low, high)
    )
    found = forecast_of(crop, Stage.FIRST_BLOOM, on(year, 3, 2))
    return found.method, found.inputs["errors_days"]  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("driven_by", "method"),
    [("heat", Method.DEGREE_DAYS), ("days", Method.DAYS), ("calendar", Method.HISTORY)],
)
def test_the_method_is_what_drives_the_bloom(driven_by: str, method: Method) -> None:
    for seed in range(5):
        found, errors = chosen(driven_by, seed)
        assert found is method
        assert errors[method] == min(errors.values())


# Coverage ----------------------------------------------------------------------------------------


def held(seasons: int, prior: bool, rng: np.random.Generator) -> bool:
    """Whether a forecast of a block drawn from its species held."""
    block = rng.normal(65, 8)
    durations = rng.normal(block, 8, seasons + 1).round()
    facts = SpeciesFacts(name="sugar apple", days=_range() if prior else {})
    past = [
        cycle(2000 + n, opening=on(2000 + n, 3, 1), first_bloom=_after(2000 + n, days))
        for n, days in enumerate(durations[:-1])
    ]
    crop = Crop(cycle=cycle(2026, opening=on(2026, 3, 1)), past=past, facts=facts)
    found = forecast_of(crop, Stage.FIRST_BLOOM, on(2026, 3, 1))
    assert found.low is not None
    assert found.high is not None
    return found.low <= _after(2026, durations[-1]) <= found.high


def _after(year: int, days: float) -> date:
    return on(year, 3, 1) + timedelta(days=int(days))


def _range() -> dict[tuple[Stage, Stage], DayRange]:
    """Four of five seasons of a block drawn so: 65 days, give or take 1.2816 * sqrt(128)."""
    half = 1.2816 * sqrt(128)
    days = DayRange(low=65 - half, high=65 + half, source="invented")
    return {(Stage.OPENING, Stage.FIRST_BLOOM): days}


@pytest.mark.parametrize(
    ("seasons", "prior"), [(0, True), (1, True), (2, True), (3, False), (6, False)]
)
def test_four_of_five_intervals_hold(seasons: int, prior: bool) -> None:
    rng = np.random.default_rng(seasons)
    share = np.mean([held(seasons, prior, rng) for _ in range(600)])
    assert 0.74 <= share <= 0.92


def test_four_of_five_intervals_by_heat_hold_with_the_weather_still_to_come() -> None:
    """Forecast on the day of pruning, by the means of earlier years, and met by other weather."""
    results = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        years = 9
        low, high = weather(rng, years)
        needs = rng.normal(600, 25, years)
        past = []
        for n in range(years):
            pruned = on(FIRST_YEAR + n, 2, 10) + timedelta(days=int(rng.integers(0, 40)))
            bloom = reached(low, high, pruned, needs[n], 10.0)
            past.append(cycle(FIRST_YEAR + n, opening=pruned, first_bloom=bloom))
        *past, last = past
        pruned, bloom = last.sights[Stage.OPENING].on, last.sights[Stage.FIRST_BLOOM].on
        crop = Crop(cycle=last, past=past, facts=ATEMOYA, heat=heat_of(low, high, until=pruned))
        found = forecast_of(crop, Stage.FIRST_BLOOM, pruned)
        if found.method is Method.DEGREE_DAYS:
            assert found.low is not None
            assert found.high is not None
            results.append(found.low <= bloom <= found.high)
    assert len(results) > 30
    assert 0.7 <= np.mean(results) <= 0.97
