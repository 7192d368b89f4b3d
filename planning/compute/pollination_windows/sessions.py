"""From hours of flowers to the sessions in which a crew can work on a date.

A window belongs to the date on which its flowers open, also where it ends on the next. A day's
sessions are those of the flowers that opened on it and of those that opened before, cut to the
time in which people work: daylight (sunrise to sunset), or the farm's own hours. What is open in
the dark (pollen shed at 02:00) is thus worked from first light.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from planning.compute.pollination_windows.values import (
    PollenDay,
    Session,
    Span,
    Sun,
    Window,
    span_of,
)

# Hours of a flower may begin on the day before it opens, and end two days after.
FLOWERS_OF = (-2, -1, 0, 1)
HALF_A_DAY = timedelta(hours=12)
LEAST_SESSION = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkHours:
    """The farm's own working hours, by its clock; `starts` before `ends`."""

    starts: time
    ends: time


def flower_dates(day: date) -> tuple[date, ...]:
    """The dates whose flowers may be worked on a day."""
    return tuple(day + timedelta(days=shift) for shift in FLOWERS_OF)


def working_span(day: date, sun: Sun, zone: ZoneInfo, work: WorkHours | None) -> Span | None:
    """When people work on a date; None where the sun does not rise and the farm gives no hours."""
    if work is not None:
        return Span(starts=_local(day, work.starts, zone), ends=_local(day, work.ends, zone))
    if not sun.has_light:
        return None
    return Span(
        starts=sun.sunrise or sun.noon - HALF_A_DAY, ends=sun.sunset or sun.noon + HALF_A_DAY
    )


def _local(day: date, at: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def sessions_on(
    day: date,
    windows: tuple[Window, ...],
    *,
    suns: Mapping[date, Sun],
    work: Span | None,
    shed: Mapping[date, PollenDay],
) -> tuple[Session, ...]:
    """A date's sessions in their order.

    `suns` holds the date and its `flower_dates`; `shed` the dates of which it is known when their
    flowers shed pollen.
    """
    if work is None:
        return ()
    found = (
        session
        for flower_date in flower_dates(day)
        for session in _of_flowers(flower_date, windows, suns[flower_date], work, shed)
    )
    return tuple(sorted(found, key=lambda each: (each.starts, each.flower_date)))


def _of_flowers(
    flower_date: date,
    windows: tuple[Window, ...],
    sun: Sun,
    work: Span,
    shed: Mapping[date, PollenDay],
) -> Iterator[Session]:
    known = shed.get(flower_date)
    for window in windows:
        if window.when is not None and known is not None and window.when != known:
            continue
        span = span_of(window, sun)
        if span is None:
            continue
        starts, ends = max(span.starts, work.starts), min(span.ends, work.ends)
        if ends - starts >= LEAST_SESSION:
            when = window.when if known is None else None
            yield Session(starts=starts, ends=ends, flower_date=flower_date, when=when)
