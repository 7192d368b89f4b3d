"""A stage that came sooner or later than forecast, by more than its interval."""

from dataclasses import dataclass
from datetime import date

from planning.compute.stage_forecasts.reasons import NAMES, on
from planning.compute.stage_forecasts.values import Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Surprise:
    """`days` beyond the interval's nearer end: below nought sooner, above it later."""

    stage: Stage
    days: int
    observed_on: date
    message: str


def surprise(
    stage: Stage, observed_on: date | None, low: date | None, high: date | None
) -> Surprise | None:
    """What is to be told of a stage, from the interval as it stood the day before it was seen.

    None where it was not seen, had no forecast, or came within the interval.
    """
    if observed_on is None or low is None or high is None or low <= observed_on <= high:
        return None
    is_sooner = observed_on < low
    days = (observed_on - (low if is_sooner else high)).days
    word, count = "sooner" if is_sooner else "later", abs(days)
    name = NAMES[stage]
    return Surprise(
        stage=stage,
        days=days,
        observed_on=observed_on,
        message=(
            f"{name[:1].upper()}{name[1:]} came on {on(observed_on)}, {count}"
            f" day{'' if count == 1 else 's'} {word} than forecast ({on(low)} to {on(high)})."
        ),
    )
