"""Bloom that comes sooner or later than its forecast by more than the forecast's interval.

The forecast is the one that stood before the first bloom was seen. Bloom that is not seen by the
end of the interval is late, and stays so when it is seen at last: one fact, told once.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.alerts.values import AlertError, AlertKind, Fact, told_on

# How long bloom that has been seen is told: common practice, no source.
TOLD_FOR = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class BloomAgainstForecast:
    """First bloom of a block's crop: what was expected, with its 80 % interval, and when seen.

    `subject` is a lasting key of the crop's bloom; `place` names the block in words.
    """

    subject: str
    block: str
    place: str
    season_year: int
    expected_on: date
    low: date
    high: date
    seen_on: date | None
    reason: str = ""

    def __post_init__(self) -> None:
        if not self.low <= self.expected_on <= self.high:
            raise AlertError(f"{self.expected_on} is outside its interval")


def bloom_facts(bloom: BloomAgainstForecast, *, today: date) -> Iterator[Fact]:
    """At most one."""
    seen_on = bloom.seen_on
    if seen_on is not None and today > seen_on + TOLD_FOR:
        return
    if seen_on is not None and seen_on < bloom.low:
        yield _fact(bloom, AlertKind.BLOOM_EARLY, seen_on, _early(bloom, seen_on))
    elif seen_on is not None and seen_on > bloom.high:
        yield _fact(bloom, AlertKind.BLOOM_LATE, bloom.high, _late(bloom, seen_on))
    elif seen_on is None and today > bloom.high:
        yield _fact(bloom, AlertKind.BLOOM_LATE, bloom.high, _not_yet(bloom))


def _fact(bloom: BloomAgainstForecast, kind: AlertKind, about: date, message: str) -> Fact:
    interval = f"{told_on(bloom.low)} to {told_on(bloom.high)}"
    forecast = f"The forecast was {told_on(bloom.expected_on)} (80 % interval: {interval})."
    return Fact(
        subject=bloom.subject,
        block=bloom.block,
        season_year=bloom.season_year,
        kind=kind,
        about=about,
        message=message,
        reason=f"{forecast} {bloom.reason}".rstrip(),
    )


def _early(bloom: BloomAgainstForecast, seen_on: date) -> str:
    days = (bloom.expected_on - seen_on).days
    return (
        f"First bloom in {bloom.place} was seen on {told_on(seen_on)}, {days} days sooner than"
        " forecast: what follows from it has moved."
    )


def _late(bloom: BloomAgainstForecast, seen_on: date) -> str:
    days = (seen_on - bloom.expected_on).days
    return (
        f"First bloom in {bloom.place} was seen on {told_on(seen_on)}, {days} days later than"
        " forecast: what follows from it has moved."
    )


def _not_yet(bloom: BloomAgainstForecast) -> str:
    return (
        f"First bloom in {bloom.place} was forecast for {told_on(bloom.high)} at the latest, and"
        " nobody has recorded it: look, and record what you see."
    )
