"""The forecasts of past seasons, made again with what was known on each date."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.stage_forecasts import (
    Score,
    Stage,
    Trial,
    scores,
    trial_days,
    trials,
)
from planning.queries.crop_stages import BlockCrop, Subject
from planning.services.stage_forecasts import Ground, ground_of
from records.models import Farm

MOST = 3_000  # crops and dates at one go


class TooManyForecastsError(ValueError):
    """More than can be computed while somebody waits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Of which crops, stages and dates; None is all of them."""

    block_id: UUID | None = None
    season_year: int | None = None
    stage: Stage | None = None
    every_days: int = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class PastForecast:
    """One forecast of one stage of a crop, and what came of it."""

    subject: Subject
    crop: BlockCrop
    trial: Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    forecasts: Sequence[PastForecast]
    scores: Sequence[Score]


def backtest(farm: Farm, today: dt.date, asked: Asked) -> Backtest:
    """By date, as the weather was known on each; TooManyForecastsError beyond `MOST`."""
    ground = ground_of(farm, today, asked.block_id)
    by_day = _by_day(ground, today, asked)
    number = sum(len(found) for found in by_day.values())
    if number > MOST:
        raise TooManyForecastsError(
            f"That is {number:,} crops and dates, and {MOST:,} are computed at one go: name a"
            " block or a season, or take dates further apart."
        )
    made = [
        PastForecast(subject=subject, crop=crop, trial=trial)
        for made_on in sorted(by_day)
        for subject, crop in by_day[made_on]
        for trial in trials(ground.crop(subject, crop, made_on), made_on)
        if asked.stage in (None, trial.stage)
    ]
    made.sort(key=_order)
    return Backtest(forecasts=made, scores=scores([each.trial for each in made]))


def _by_day(
    ground: Ground, today: dt.date, asked: Asked
) -> dict[dt.date, list[tuple[Subject, BlockCrop]]]:
    found: dict[dt.date, list[tuple[Subject, BlockCrop]]] = defaultdict(list)
    for subject in ground.subjects:
        for crop in subject.crops:
            if asked.season_year in (None, crop.season.year):
                for made_on in trial_days(crop.cycle, every_days=asked.every_days):
                    if made_on <= today:
                        found[made_on].append((subject, crop))
    return found


def _order(made: PastForecast) -> tuple[str, str, int, str, dt.date]:
    return (
        made.subject.block.code,
        str(made.subject.cultivar_id or ""),
        made.crop.season.year,
        made.crop.cycle.crop,
        made.trial.made_on,
    )
