"""Degree days of 1,000 farms over 10 years against bare numpy on the same arrays."""

import numpy as np

from planning.compute.degree_days import Thresholds, degree_days
from tests.bench.frame import Bench

LOWER, UPPER = 10.0, 30.0
GOAL = 2
SEED = 20261031


def temperatures(farms: int, days: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(SEED)
    season = 6 * np.sin(np.arange(days) * 2 * np.pi / 365.25)
    low = rng.normal(14, 4, (farms, days)) + season
    return low, low + rng.uniform(2, 14, (farms, days))


def bare(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Single sine, horizontal cutoff, as one writes it down."""
    mean, amplitude = (high + low) / 2, (high - low) / 2

    def above(threshold: float) -> np.ndarray:
        theta = np.arcsin(np.clip((threshold - mean) / amplitude, -1, 1))
        return ((mean - threshold) * (np.pi / 2 - theta) + amplitude * np.cos(theta)) / np.pi

    return above(LOWER) - above(UPPER)


def test_degree_days_take_little_more_than_bare_numpy(bench: Bench) -> None:
    farms, days = bench.size(1_000, 10), bench.size(3_653, 400)
    low, high = temperatures(farms, days)
    thresholds = Thresholds(lower=LOWER, upper=UPPER)
    assert np.allclose(degree_days(low, high, thresholds), bare(low, high), atol=1e-9)
    bench.at_most(
        GOAL,
        f"degree days, {farms:,} farms, {days:,} days",
        limit=lambda: bare(low, high),
        ours=lambda: degree_days(low, high, thresholds),
    )
