"""Invented seasons of a block: weather from a seed, and stages that follow a rule known to us."""

from datetime import date, timedelta

import numpy as np

from planning.compute.degree_days import Thresholds, degree_days
from planning.compute.stage_forecasts import Cycle, Heat, Sight, SpeciesFacts, Stage

FIRST_YEAR = 2010
BASES = tuple(np.arange(5.0, 18.5, 0.5).tolist())
SUGAR_APPLE = SpeciesFacts(name="sugar apple", fit_from_c=5, fit_to_c=18)


def on(year: int, month: int, day: int) -> date:
    return date(year, month, day)


def sight(day: date, told: str = "BBCH 60", **extra: bool) -> Sight:
    return Sight(on=day, known_on=day, told=told, **extra)


def cycle(year: int, crop: str = "main", **stages: date) -> Cycle:
    """A crop with stages by name: `opening=..., first_bloom=...`."""
    told = {"opening": "pruning", "first_picking": "picking", "last_picking": "picking"}
    return Cycle(
        season_year=year,
        crop=crop,
        starts_on=date(year, 1, 1),
        sights={
            Stage(name.replace("_", "-")): sight(day, told.get(name, f"BBCH of {name}"))
            for name, day in stages.items()
        },
    )


def weather(
    rng: np.random.Generator, years: int, *, year_sd: float = 2.0
) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest temperature by day from 1 January of the first year; springs differ."""
    first, last = date(FIRST_YEAR, 1, 1), date(FIRST_YEAR + years, 1, 1)
    days = np.array([first + timedelta(days=n) for n in range((last - first).days)])
    of_year = np.array([day.timetuple().tm_yday for day in days])
    warmth = rng.normal(0, year_sd, years)[[day.year - FIRST_YEAR for day in days]]
    mean = 18 - 6 * np.cos((of_year - 25) * 2 * np.pi / 365.25) + warmth
    mean += np.convolve(rng.normal(0, 3, days.size + 6), np.ones(7) / 7, "valid")
    return mean - 4.5, mean + 4.5


def heat_of(
    low: np.ndarray, high: np.ndarray, until: date | None = None, bases: tuple[float, ...] = BASES
) -> Heat:
    """Everything observed, or until a day and the mean of all years after it."""
    daily = np.array([degree_days(low, high, Thresholds(lower=base)) for base in bases])
    first = date(FIRST_YEAR, 1, 1)
    end = until or first + timedelta(days=low.size - 1)
    known = (end - first).days + 1
    if until is not None:
        daily = np.concatenate([daily[:, :known], _normals(daily, known)], axis=1)
    return Heat.of_days(
        daily,
        starts_on=first,
        bases_c=bases,
        forecast_from=end + timedelta(days=1),
        normals_from=end + timedelta(days=1),
    )


def _normals(daily: np.ndarray, known: int) -> np.ndarray:
    """For 400 days ahead, the mean of the same day of the years before."""
    ahead = []
    for place in range(known, known + 400):
        same = np.arange(place - 365, -1, -365)
        ahead.append(daily[:, same[same < known]].mean(axis=1))
    return np.array(ahead).T


def reached(low: np.ndarray, high: np.ndarray, start: date, need: float, base: float) -> date:
    """The day on which the heat since a day reaches a need, counted day by day."""
    first, gathered = date(FIRST_YEAR, 1, 1), 0.0
    place = (start - first).days
    while gathered < need:
        place += 1
        gathered += float(degree_days([low[place]], [high[place]], Thresholds(lower=base))[0])
    return first + timedelta(days=place)
