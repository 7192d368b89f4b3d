"""Hours of flowers, counted from the sun, and the sessions in which people can work in them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Protocol

HOURS_A_DAY, MINUTES_AN_HOUR, MINUTES_A_DAY = 24, 60, 1440


class WindowError(ValueError):
    """Hours that contradict themselves, or a source that does not exist."""


class Anchor(StrEnum):
    SUNRISE = "sunrise"
    SOLAR_NOON = "solar-noon"
    SUNSET = "sunset"


EQUINOX = {Anchor.SUNRISE: -360, Anchor.SOLAR_NOON: 0, Anchor.SUNSET: 360}


class PollenDay(StrEnum):
    """When an atemoya flower sheds its pollen, seen from the date on which it opens."""

    SAME_DAY = "same-day"
    NEXT_DAY = "next-day"


class Sun(Protocol):
    """The sun on a local date; sunrise and sunset may not happen."""

    @property
    def sunrise(self) -> datetime | None: ...
    @property
    def noon(self) -> datetime: ...
    @property
    def sunset(self) -> datetime | None: ...
    @property
    def has_light(self) -> bool: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a source's clock hung, and the sun's noon by that clock in the middle of the bloom.

    `noon_minutes` counts from midnight. `note` says whether the source names the place.
    """

    name: str
    latitude: float
    longitude: float
    time_zone: str
    day: date
    noon_minutes: int
    is_assumed: bool
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """Minutes after the sun's event on the date on which the flower opens; negative before.

    `clock` is the hour that the source gives by its own clock, if it does: 26 is 02:00 of the
    next date.
    """

    anchor: Anchor
    minutes: int
    clock: float | None = None

    @property
    def on_an_equinox(self) -> int:
        """Minutes from solar noon on a day of twelve hours, to see which edge comes first."""
        return self.minutes + EQUINOX[self.anchor]

    def at(self, sun: Sun) -> datetime | None:
        """The instant; None where the sun does not rise or set."""
        events = {
            Anchor.SUNRISE: sun.sunrise,
            Anchor.SOLAR_NOON: sun.noon,
            Anchor.SUNSET: sun.sunset,
        }
        event = events[self.anchor]
        return None if event is None else event + timedelta(minutes=self.minutes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From one edge to another. `when`: it holds only if the pollen is shed on that day."""

    opens: Edge
    closes: Edge
    when: PollenDay | None = None

    def __post_init__(self) -> None:
        if self.opens.on_an_equinox >= self.closes.on_an_equinox:
            raise WindowError("hours end after they begin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When flowers are brushed, or when pollen is gathered, by one source; or why it tells not."""

    windows: tuple[Window, ...]
    source: str
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """What one source says of a species. Weak ones say why; one of a species is its default."""

    code: str
    species: str
    brush: Hours
    gather: Hours
    place: Place | None
    is_default: bool = False
    why_weak: str | None = None
    notes: tuple[str, ...] = ()

    @property
    def is_weak(self) -> bool:
        return self.why_weak is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Two instants, the second later."""

    starts: datetime
    ends: datetime


def span_of(window: Window, sun: Sun) -> Span | None:
    """A window's instants for flowers that open on the sun's day; None where there are none."""
    opens, closes = window.opens.at(sun), window.closes.at(sun)
    if opens is None or closes is None or opens >= closes:
        return None
    return Span(starts=opens, ends=closes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """Working time on one date, in UTC, on flowers that opened on `flower_date`.

    `when` is set where nobody knows yet on which day the pollen is shed: both are told then.
    """

    starts: datetime
    ends: datetime
    flower_date: date
    when: PollenDay | None = None

    @property
    def minutes(self) -> float:
        return (self.ends - self.starts).total_seconds() / MINUTES_AN_HOUR


def to_minute(at: datetime) -> datetime:
    """The nearest whole minute, for people to read."""
    return (at + timedelta(seconds=30)).replace(second=0, microsecond=0)


def joined(sessions: Iterable[Session]) -> list[tuple[datetime, datetime]]:
    """The time in which there is any work, from and to; sessions that overlap are one."""
    spans: list[tuple[datetime, datetime]] = []
    for session in sorted(sessions, key=lambda each: each.starts):
        starts, ends = session.starts, session.ends
        if spans and starts <= spans[-1][1]:
            before = spans.pop()
            starts, ends = before[0], max(before[1], ends)
        spans.append((starts, ends))
    return spans


def open_minutes(sessions: Iterable[Session]) -> float:
    """Minutes in which there is any work, each counted once where sessions overlap."""
    total = sum((ends - starts for starts, ends in joined(sessions)), timedelta(0))
    return total.total_seconds() / MINUTES_AN_HOUR
