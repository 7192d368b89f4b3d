"""The course of a season: how the year treats the orchards, and the days on which they are picked.

The farms of one island share a year's luck; it is drawn from the year alone, so that a season
past never changes.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from orchard.demo.cast import Farm
from orchard.demo.stands import Stand
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonLuck:
    """Factors on crop and fruit weight, and days by which the season runs late."""

    crop: float
    fruit_weight: float
    days_late: int


def season_luck(farm: Farm, season: Season) -> SeasonLuck:
    rng = Random(f"{farm.time_zone} {season.year}")
    return SeasonLuck(
        crop=rng.uniform(0.92, 1.08),
        fruit_weight=rng.uniform(0.94, 1.06),
        days_late=round(rng.uniform(-4, 4)),
    )


def picking_days(farm: Farm, season: Season, stand: Stand) -> list[date]:
    """The days on which a stand is picked; single trees are weighed once a week."""
    habits, cultivar = farm.picking, stand.cultivar
    late = habits.lateness_days + season_luck(farm, season).days_late
    first_day = season.starts_on + timedelta(days=cultivar.picking_starts_on_day - 1 + late)
    days = (first_day + timedelta(days=n) for n in range(cultivar.picking_weeks * 7))
    weekdays = habits.weekdays if stand.place is None else habits.weekdays[:1]
    return [day for day in days if day.isoweekday() in weekdays]
