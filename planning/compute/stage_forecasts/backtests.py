"""For past seasons, the forecast made on each date against what happened.

A forecast of a date uses nothing that was not known on it: no later sight, and no crop that was
not over. What came on a day, or before the forecast, is not foretold.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean

from planning.compute.stage_forecasts.values import STAGES, Cycle, Method, Stage
from planning.compute.stage_forecasts.walk import Crop, forecasts


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A stage as it was forecast on a day; `error_days` is above nought where it came sooner."""

    stage: Stage
    made_on: date
    on: date
    low: date
    high: date
    observed_on: date
    method: Method
    reason: str

    @property
    def error_days(self) -> int:
        return (self.on - self.observed_on).days

    @property
    def days_ahead(self) -> int:
        return (self.observed_on - self.made_on).days

    @property
    def is_held(self) -> bool:
        return self.low <= self.observed_on <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How a stage was foretold: None of no forecast at all."""

    stage: Stage
    forecasts: int
    mean_absolute_error_days: float | None
    mean_error_days: float | None
    held_share: float | None


def trial_days(cycle: Cycle, *, every_days: int) -> Iterator[date]:
    """From the crop's first event, or its first day, to the last stage seen."""
    seen = [sight.on for stage, sight in cycle.sights.items() if stage is not Stage.OPENING]
    if not seen:
        return
    made_on = min([cycle.starts_on, *(sight.on for sight in cycle.sights.values())])
    while made_on < max(seen):
        yield made_on
        made_on += timedelta(days=every_days)


def trials(crop: Crop, made_on: date) -> Iterator[Trial]:
    """What was forecast of a crop on a day, of the stages that came later."""
    for each in forecasts(crop, made_on):
        sight = crop.cycle.sights.get(each.stage)
        if sight is None or sight.on <= made_on:
            continue
        if each.on is not None and each.low is not None and each.high is not None:
            yield Trial(
                stage=each.stage,
                made_on=made_on,
                on=each.on,
                low=each.low,
                high=each.high,
                observed_on=sight.on,
                method=each.method,
                reason=each.reason,
            )


def scores(found: Sequence[Trial]) -> list[Score]:
    return [_score(stage, [each for each in found if each.stage is stage]) for stage in STAGES]


def _score(stage: Stage, found: Sequence[Trial]) -> Score:
    errors = [each.error_days for each in found]
    return Score(
        stage=stage,
        forecasts=len(found),
        mean_absolute_error_days=fmean(map(abs, errors)) if errors else None,
        mean_error_days=fmean(errors) if errors else None,
        held_share=fmean(each.is_held for each in found) if found else None,
    )
