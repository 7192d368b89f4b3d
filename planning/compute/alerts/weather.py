"""Frost, and heat with dry air, while a block blooms.

Days ahead are told from forecast days, days past from observed ones. Consecutive days are one
fact, named by its first day. A day whose temperature or humidity is missing says nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.alerts.values import AlertError, AlertKind, Fact, told_on

A_DAY = timedelta(days=1)
# How long weather that is past is told, so that set is looked at: common practice, no source.
TOLD_FOR = timedelta(days=14)
COLD = (
    "Open flowers are lost to frost: look at the flowers and the set of these days before more is"
    " pollinated."
)
PEOPLE = (
    "Heat hurts people first: work in the cool hours, drink often, rest in the shade and watch"
    " each other."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """A day: degrees C, relative humidity in per cent; None is missing."""

    on: date
    tmin_c: float | None
    tmax_c: float | None
    humidity_percent: float | None
    is_forecast: bool

    def __post_init__(self) -> None:
        tmin_c, tmax_c = self.tmin_c, self.tmax_c
        if tmin_c is not None and tmax_c is not None and tmin_c > tmax_c:
            raise AlertError(f"the lowest temperature of {self.on} is above its highest")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What harms a species' bloom; None: nothing is published. `source` says from where.

    Frost is a lowest temperature of `frost_c` or less; dry heat is a highest temperature above
    `heat_c` with a relative humidity of `dry_percent` or less.
    """

    frost_c: float | None = None
    frost_source: str = ""
    heat_c: float | None = None
    dry_percent: float | None = None
    heat_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bloom:
    """The days on which a block's crop blooms, seen or forecast."""

    subject: str
    block: str
    place: str
    season_year: int
    starts_on: date
    ends_on: date


def weather_facts(
    bloom: Bloom, days: Sequence[Weather], limits: Limits, *, today: date
) -> Iterator[Fact]:
    """What is to be told of the weather, `days` being in order."""
    told = [
        day
        for day in days
        if bloom.starts_on <= day.on <= bloom.ends_on and day.on >= today - TOLD_FOR
    ]
    for run in _runs([day for day in told if _is_frost(day, limits)]):
        yield _fact(bloom, AlertKind.FROST, run, _frost(run), limits.frost_source, COLD)
    for run in _runs([day for day in told if _is_dry_heat(day, limits)]):
        yield _fact(bloom, AlertKind.DRY_HEAT, run, _dry_heat(run), limits.heat_source, PEOPLE)


def _is_frost(day: Weather, limits: Limits) -> bool:
    if day.tmin_c is None or limits.frost_c is None:
        return False
    return day.tmin_c <= limits.frost_c


def _is_dry_heat(day: Weather, limits: Limits) -> bool:
    if limits.heat_c is None or limits.dry_percent is None:
        return False
    if day.tmax_c is None or day.humidity_percent is None:
        return False
    return day.tmax_c > limits.heat_c and day.humidity_percent <= limits.dry_percent


def _runs(days: Sequence[Weather]) -> Iterator[list[Weather]]:
    """Consecutive days."""
    run: list[Weather] = []
    for day in days:
        if run and day.on != run[-1].on + A_DAY:
            yield run
            run = []
        run.append(day)
    if run:
        yield run


def _fact(
    bloom: Bloom, kind: AlertKind, run: Sequence[Weather], what: str, source: str, caution: str
) -> Fact:
    first, last = run[0].on, run[-1].on
    days = told_on(first) if first == last else f"{told_on(first)} to {told_on(last)}"
    return Fact(
        subject=bloom.subject,
        block=bloom.block,
        season_year=bloom.season_year,
        kind=kind,
        about=first,
        message=f"{_known(run)} for {bloom.place} in bloom: {what}, {days}.",
        reason=f"{source}. {caution}",
    )


def _known(run: Sequence[Weather]) -> str:
    """The days past come first in a run."""
    if run[0].is_forecast:
        return "Forecast"
    return "Observed, and forecast to go on," if run[-1].is_forecast else "Observed"


def _frost(run: Sequence[Weather]) -> str:
    coldest = min(day.tmin_c for day in run if day.tmin_c is not None)
    return f"frost, down to {coldest:.1f} C"


def _dry_heat(run: Sequence[Weather]) -> str:
    hottest = max(day.tmax_c for day in run if day.tmax_c is not None)
    driest = min(day.humidity_percent for day in run if day.humidity_percent is not None)
    return f"heat up to {hottest:.1f} C with air as dry as {driest:.0f} %"
