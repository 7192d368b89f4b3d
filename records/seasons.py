"""Seasons of a farm or block: which season a day belongs to, and which days a season has.

A season starts on the first of the start month and is named by the calendar year it starts
in: "2026", or "2026/27" when it crosses New Year. It usually lasts 12 months.

A change of the start month applies from a date. The season of a calendar year takes the new
month when, on that date, it has not begun by the old month and its new start is not yet past;
until then it keeps the old month. The season at the seam is therefore shorter or longer than
12 months (1 to 23). Three things follow:

* seasons that have begun by the date of the change keep their first day, and those that have
  ended keep their last day too;
* every calendar year has exactly one season, so no two are named alike and none is skipped;
* each season ends the day before the next one starts, so no day is lost or in two seasons.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import MAXYEAR, MINYEAR, date, timedelta


class SeasonError(ValueError):
    """The season starts contradict each other, or the season lies outside the calendar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonStart:
    """Seasons start on the first of `month` (1-12), from `applies_from` on (None: always)."""

    applies_from: date | None
    month: int

    def __post_init__(self) -> None:
        if not 1 <= self.month <= 12:
            raise SeasonError(f"the start month is 1 to 12, not {self.month}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """One season; `year` is the year it starts in, `ends_on` its last day."""

    year: int
    label: str
    starts_on: date
    ends_on: date


def season_of(day: date, starts: Sequence[SeasonStart]) -> Season:
    """The season that `day` belongs to: 1 February 2027 is in "2026/27" when July starts it."""
    this_year = season_span(day.year, starts)
    return this_year if this_year.starts_on <= day else season_span(day.year - 1, starts)


def season_span(year: int, starts: Sequence[SeasonStart]) -> Season:
    """The season that starts in `year`."""
    if not MINYEAR <= year < MAXYEAR:
        raise SeasonError(f"no season can start in the year {year}")
    initial, changes = _in_order(starts)
    starts_on = _first_day(year, initial, changes)
    ends_on = _first_day(year + 1, initial, changes) - timedelta(days=1)
    return Season(year=year, label=_label(starts_on, ends_on), starts_on=starts_on, ends_on=ends_on)


def _in_order(starts: Sequence[SeasonStart]) -> tuple[int, list[tuple[date, int]]]:
    """The month that always applied, and the changes since, earliest first."""
    initial = [start.month for start in starts if start.applies_from is None]
    changes = sorted(
        (start.applies_from, start.month) for start in starts if start.applies_from is not None
    )
    if len(initial) != 1:
        raise SeasonError("exactly one season start applies from no date")
    if len({applies_from for applies_from, _ in changes}) < len(changes):
        raise SeasonError("two season starts apply from the same date")
    return initial[0], changes


def _first_day(year: int, initial: int, changes: Sequence[tuple[date, int]]) -> date:
    first_day = date(year, initial, 1)
    for applies_from, month in changes:
        changed = date(year, month, 1)
        if first_day > applies_from and changed >= applies_from:
            first_day = changed
    return first_day


def _label(starts_on: date, ends_on: date) -> str:
    if starts_on.year == ends_on.year:
        return f"{starts_on.year}"
    return f"{starts_on.year}/{ends_on.year % 100:02d}"
