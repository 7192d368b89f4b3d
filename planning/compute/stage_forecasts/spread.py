"""Where the next value of a small sample falls: its mean, and the 80 % interval around it.

Three values or more: Student's t with n - 1 degrees of freedom around their mean,
s * sqrt(1 + 1/n).

Fewer: a normal mean and variance with the conjugate prior (Gelman et al., Bayesian Data Analysis,
3rd ed., s. 3.3; formula from memory), m0 weighing as k = 1 season and s0^2 as v0 = 3:

* mean: (n * mean + k * m0) / (n + k), so that the block's own seasons weigh n / (n + k)
* (v0 + n) * s^2 = v0 * s0^2 + sum of squares + k * n / (k + n) * (mean - m0)^2
* the next value: Student's t with v0 + n degrees of freedom, s * sqrt(1 + 1 / (n + k))

m0 is the middle of the species' range, and s0 such that without a season of its own the block's
interval is that range. Without a range k = 0, and s0 is ten days (assumed, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import sqrt
from statistics import fmean

from scipy.stats import t as student

SHARE = 0.8
ENOUGH = 3  # seasons from which on a block goes by its own alone
PRIOR_SEASONS = 1.0
PRIOR_FREEDOM = 3
USUAL_SD_DAYS = 10.0
LEAST_SD_DAYS = 1.0  # a stage is seen to the day at best


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """The middle of the interval and half its width."""

    middle: float
    half: float

    def after(self, start: float, start_half: float = 0.0) -> "Spread":
        """Counted from a start that has a spread of its own, independent of this one."""
        return Spread(middle=start + self.middle, half=sqrt(self.half**2 + start_half**2))


def next_value(
    values: Sequence[float],
    prior: tuple[float, float] | None = None,
    least_sd: float = LEAST_SD_DAYS,
) -> Spread:
    """The next value after some; `prior` is a range that holds four of five."""
    if len(values) >= ENOUGH:
        return _own(values, least_sd)
    return _shrunk(values, prior) if prior else _flat(values)


@cache
def quantile(freedom: int) -> float:
    """Student's t that leaves a tenth above it."""
    return float(student.ppf((1 + SHARE) / 2, freedom))


def squares(values: Sequence[float]) -> float:
    mean = fmean(values)
    return sum((value - mean) ** 2 for value in values)


def _own(values: Sequence[float], least_sd: float) -> Spread:
    n = len(values)
    sd = max(sqrt(squares(values) / (n - 1)), least_sd)
    return Spread(middle=fmean(values), half=quantile(n - 1) * sd * sqrt(1 + 1 / n))


def _shrunk(values: Sequence[float], prior: tuple[float, float]) -> Spread:
    low, high = prior
    k, freedom, n = PRIOR_SEASONS, PRIOR_FREEDOM, len(values)
    middle = (low + high) / 2
    prior_sd = (high - low) / 2 / (quantile(freedom) * sqrt(1 + 1 / k))
    total = freedom * prior_sd**2
    if values:
        mean = fmean(values)
        total += squares(values) + k * n / (k + n) * (mean - middle) ** 2
        middle = (n * mean + k * middle) / (n + k)
    sd = sqrt(total / (freedom + n))
    return Spread(middle=middle, half=quantile(freedom + n) * sd * sqrt(1 + 1 / (n + k)))


def _flat(values: Sequence[float]) -> Spread:
    """One or two values and nothing to draw them towards."""
    n, freedom = len(values), PRIOR_FREEDOM
    total = freedom * USUAL_SD_DAYS**2 + squares(values)
    sd = sqrt(total / (freedom + n - 1))
    return Spread(middle=fmean(values), half=quantile(freedom + n - 1) * sd * sqrt(1 + 1 / n))
