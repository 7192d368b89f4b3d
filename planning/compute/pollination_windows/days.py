"""A species' working hours on one date, with what they follow from."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from planning.compute.pollination_windows.resolving import Held, SpeciesHours
from planning.compute.pollination_windows.sessions import (
    WorkHours,
    flower_dates,
    sessions_on,
    working_span,
)
from planning.compute.pollination_windows.values import (
    MINUTES_AN_HOUR,
    PollenDay,
    Session,
    Span,
    Sun,
    open_minutes,
    span_of,
    to_minute,
)
from planning.compute.pollination_windows.weather import Shedding
from planning.compute.pollination_windows.words import in_words, length_in_words

BRUSH, GATHER = "Brush", "Gather pollen"
SHED = {
    PollenDay.SAME_DAY: "on the day they open",
    PollenDay.NEXT_DAY: "on the next day",
}
WHY = {
    PollenDay.SAME_DAY: "as the afternoon is above 22 C and 80 % humid",
    PollenDay.NEXT_DAY: "as the afternoon is not above both 22 C and 80 % humid",
}
NOT_KNOWN = (
    "Without the afternoon's temperature and humidity nobody knows whether flowers shed on the day"
    " they open or on the next: both are told."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """A farm's clock, and its working hours where it gives them."""

    zone: ZoneInfo
    work: WorkHours | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One kind of work on a date: its sessions, whose hours they are, and why."""

    sessions: tuple[Session, ...]
    held: Held
    reason: str

    @property
    def minutes(self) -> float:
        """Minutes in which there is this work, each counted once."""
        return open_minutes(self.sessions)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayHours:
    """A species' brushing and gathering on one local date."""

    day: date
    brush: Part
    gather: Part


def day_hours(
    day: date,
    hours: SpeciesHours,
    *,
    ground: Ground,
    suns: Mapping[date, Sun],
    shed: Shedding,
) -> DayHours:
    """`suns` holds the date and its `flower_dates`."""
    return DayHours(
        day=day,
        brush=_part(BRUSH, day, hours.brush, ground, suns, shed),
        gather=_part(GATHER, day, hours.gather, ground, suns, shed),
    )


def hours_without_sun(day: date, hours: SpeciesHours, why: str) -> DayHours:
    """Where nobody can tell the sun's hours, and why not."""
    brush, gather = (
        Part(sessions=(), held=held, reason=why if held.windows else held.reason or why)
        for held in (hours.brush, hours.gather)
    )
    return DayHours(day=day, brush=brush, gather=gather)


def _part(
    work: str,
    day: date,
    held: Held,
    ground: Ground,
    suns: Mapping[date, Sun],
    shed: Shedding,
) -> Part:
    span = working_span(day, suns[day], ground.zone, ground.work)
    sessions = sessions_on(day, held.windows, suns=suns, work=span, shed=shed.known)
    if not held.windows:
        return Part(sessions=(), held=held, reason=held.reason or "")
    told = [
        f"{work} {in_words(held.windows)}; {_cut(ground)}.",
        _dark_start(day, held, ground, suns, span) if work == GATHER and sessions else "",
        _which_day(held, sessions, shed),
        "The source is weak: mind its notes." if held.is_weak else "",
        "" if sessions else _no_session(span),
    ]
    return Part(sessions=sessions, held=held, reason=" ".join(text for text in told if text))


def _cut(ground: Ground) -> str:
    if ground.work is None:
        return "cut to daylight"
    return f"cut to the farm's hours, {ground.work.starts:%H:%M} to {ground.work.ends:%H:%M}"


def _no_session(span: Span | None) -> str:
    if span is None:
        return "The sun does not rise on this day, and the farm gives no working hours."
    return "None of these hours lie in the working time of this day, or the sun does not give them."


def _dark_start(
    day: date, held: Held, ground: Ground, suns: Mapping[date, Sun], work: Span | None
) -> str:
    """Pollen is gathered when people can, not when it is shed."""
    if work is None:
        return ""
    shed = [
        span.starts
        for flower_date in flower_dates(day)
        for window in held.windows
        if (span := span_of(window, suns[flower_date])) is not None
        and span.starts < work.starts < span.ends
    ]
    if not shed:
        return ""
    shed_at, starts = (
        f"{to_minute(at).astimezone(ground.zone):%H:%M}" for at in (min(shed), work.starts)
    )
    first = "first light" if ground.work is None else "the start of work"
    age = length_in_words(round((work.starts - min(shed)).total_seconds() / MINUTES_AN_HOUR))
    return (
        f"Pollen is shed from {shed_at}, before people work; gather it from {first}, {starts}."
        f" The earliest is then {age} old."
    )


def _which_day(held: Held, sessions: tuple[Session, ...], shed: Shedding) -> str:
    if not any(window.when for window in held.windows):
        return ""
    dates = sorted({session.flower_date for session in sessions})
    told = [
        f"Flowers of {_on(day)} shed {SHED[known]}, {WHY[known]}."
        for day in dates
        if (known := shed.known.get(day)) is not None
    ]
    if any(session.when for session in sessions):
        told.append(NOT_KNOWN)
        told += [
            f"By the whole day's weather those of {_on(day)} more likely shed"
            f" {SHED[shed.likely[day]]}."
            for day in dates
            if day in shed.likely
        ]
    return " ".join(told)


def _on(day: date) -> str:
    return f"{day.day} {day:%B}"
