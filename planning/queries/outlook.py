"""What is expected on blocks, as their next tasks take it: stages ahead, and degree days."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection
from typing import Any
from uuid import UUID

import numpy as np

from planning.compute.degree_days import Thresholds, degree_days
from planning.compute.next_tasks import Heat, StageForecast
from planning.compute.stage_forecasts import Stage
from planning.models import StageForecast as StageForecastRow
from planning.queries.weather import NORMAL, OBSERVED, WeatherDays, farm_weather

# As far as heat is looked ahead.
AHEAD = dt.timedelta(days=366)


def forecasts_of(where: dict[str, Any]) -> dict[UUID, list[StageForecast]]:
    """The stages of blocks' crops that nobody has seen and that have a day, in one query."""
    rows = StageForecastRow.objects.filter(
        cultivar=None, observed_on=None, on_date__isnull=False, low_on__isnull=False, **where
    )
    found: dict[UUID, list[StageForecast]] = defaultdict(list)
    for block_id, year, crop, bbch, on, low, high, reason, anchor in rows.values_list(
        *("block_id", "season_year", "crop_name", "bbch"),
        *("on_date", "low_on", "high_on", "reason", "anchor"),
    ):
        found[block_id].append(
            StageForecast(
                season_year=year,
                crop=crop,
                bbch=bbch,
                on=on,
                low=low,
                high=high,
                reason=reason,
                follows_work=anchor == Stage.OPENING,
            )
        )
    return found


def heat_of(
    farm_id: UUID, bases_c: Collection[float], since: dt.date, today: dt.date
) -> dict[float, Heat]:
    """Degree days by the farm's stations, the single sine; nothing where it has none.

    A day missing among those past stays missing; days to come are forecast, or normals.
    """
    days = farm_weather(farm_id, since).known_on(today, since, today + AHEAD)
    if not (days.kinds == OBSERVED).any():
        return {}
    observed = np.flatnonzero(days.kinds == OBSERVED)
    low, high = _without_gaps(days, int(observed[-1]))
    return {
        base_c: Heat(
            first_on=since,
            daily=tuple(
                None if np.isnan(each) else float(each)
                for each in degree_days(low, high, Thresholds(lower=base_c))
            ),
            observed_until=days.day(int(observed[-1])),
        )
        for base_c in bases_c
    }


def _without_gaps(days: WeatherDays, last: int) -> tuple[Any, Any]:
    """Lowest and highest temperatures, without normals of days up to the last one recorded."""
    low, high = days.tmin_c.copy(), days.tmax_c.copy()
    gaps = days.kinds[:last] == NORMAL
    low[:last][gaps] = np.nan
    high[:last][gaps] = np.nan
    return low, high
