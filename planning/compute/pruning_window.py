"""The days on which a block is best pruned this season.

From leaf-out: the window opens so many days before it, is best shortly before it and is over
when new shoots have begun to push. That it lies there is common practice, no source; the days
are figures that a farm may change. A forecast leaf-out has an interval: the window opens before
its early end, so that it is not missed. Without leaf-out the farm's own calendar days hold.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class WindowError(ValueError):
    """Days that cannot be those of one window."""


class Method(StrEnum):
    SEEN = "seen-leaf-out"
    FORECAST = "forecast-leaf-out"
    CALENDAR = "calendar"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafOut:
    """The day of leaf-out (BBCH 10; the first of 07-11 seen), seen or forecast with an interval."""

    on: date
    early: date | None = None
    late: date | None = None
    is_seen: bool = False

    def __post_init__(self) -> None:
        if not (self.early or self.on) <= self.on <= (self.late or self.on):
            raise WindowError(f"leaf-out on {self.on} lies outside its own interval")


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """Days from leaf-out: the window opens and is best before it, and is over after it."""

    opens_before: float
    best_before: float
    latest_after: float

    def __post_init__(self) -> None:
        if not self.opens_before >= self.best_before >= -self.latest_after:
            raise WindowError("a window opens, then is best, then is over")


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarDays:
    """The window of the farm's rules, between days of this season, and why then."""

    opens_on: date
    best_on: date
    latest_on: date
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Days are None where there is no window, and `reason` says why."""

    opens_on: date | None
    best_on: date | None
    latest_on: date | None
    method: Method
    reason: str


def pruning_window(
    *,
    leaf_out: LeafOut | None,
    margins: Margins | None,
    calendar: CalendarDays | None,
    why_not: str = "",
) -> Window:
    """This season's window, from leaf-out if it and the margins are known, else the calendar.

    `why_not` is why pruning does not apply, or why its calendar is not known.
    """
    if leaf_out is not None and margins is not None:
        return _from_leaf_out(leaf_out, margins)
    if calendar is not None:
        return Window(
            opens_on=calendar.opens_on,
            best_on=calendar.best_on,
            latest_on=calendar.latest_on,
            method=Method.CALENDAR,
            reason=f"{calendar.because} No leaf-out is forecast yet, so the farm's calendar holds.",
        )
    reason = why_not or "Neither leaf-out nor days of a calendar are known."
    return Window(opens_on=None, best_on=None, latest_on=None, method=Method.NONE, reason=reason)


def _from_leaf_out(leaf_out: LeafOut, margins: Margins) -> Window:
    first = leaf_out.early or leaf_out.on
    best = leaf_out.on - timedelta(days=round(margins.best_before))
    return Window(
        opens_on=min(best, first - timedelta(days=round(margins.opens_before))),
        best_on=best,
        latest_on=leaf_out.on + timedelta(days=round(margins.latest_after)),
        method=Method.SEEN if leaf_out.is_seen else Method.FORECAST,
        reason=_reason(leaf_out, margins),
    )


def _reason(leaf_out: LeafOut, margins: Margins) -> str:
    if leaf_out.is_seen:
        told = f"Leaf-out was seen on {leaf_out.on}"
    elif leaf_out.early and leaf_out.late:
        told = (
            f"Leaf-out is forecast for {leaf_out.on}, between {leaf_out.early} and {leaf_out.late}"
        )
    else:
        told = f"Leaf-out is forecast for {leaf_out.on}"
    return (
        f"{told}. Prune just before it: from {margins.opens_before:g} days before, best"
        f" {margins.best_before:g} days before, at the latest {margins.latest_after:g} days after."
    )
