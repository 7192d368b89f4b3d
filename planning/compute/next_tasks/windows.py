"""Days on which work is due: of every year, and counted from something that happened."""

from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks.terms import TaskError

LEAP_YEAR = 2024


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Farm-local days, all inclusive, on which a piece of work is due."""

    opens: date
    best: date
    closes: date

    def cut(self, last_day: date) -> "Window":
        """The same window, ending on `last_day` at the latest."""
        return Window(
            opens=min(self.opens, last_day),
            best=min(self.best, last_day),
            closes=min(self.closes, last_day),
        )

    def not_before(self, first_day: date) -> "Window":
        """The same window, opening on `first_day` at the earliest."""
        return Window(
            opens=max(self.opens, first_day),
            best=max(self.best, first_day),
            closes=max(self.closes, first_day),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthDay:
    """A day of any year; 29 February is the 28th in years that lack it."""

    month: int
    day: int

    def __post_init__(self) -> None:
        try:
            date(LEAP_YEAR, self.month, self.day)
        except ValueError as error:
            raise TaskError(f"month {self.month} has no day {self.day}") from error

    def in_year(self, year: int) -> date:
        if (self.month, self.day) == (2, 29):
            return date(year, 3, 1) - timedelta(days=1)
        return date(year, self.month, self.day)

    def on_or_before(self, day: date) -> date:
        this_year = self.in_year(day.year)
        return this_year if this_year <= day else self.in_year(day.year - 1)

    def on_or_after(self, day: date) -> date:
        this_year = self.in_year(day.year)
        return this_year if this_year >= day else self.in_year(day.year + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """A window in days after something that happened."""

    opens: int
    best: int
    closes: int

    def __post_init__(self) -> None:
        if not 0 <= self.opens <= self.best <= self.closes:
            raise TaskError("work opens, is best and closes in this order, no day before its cause")

    def after(self, day: date) -> Window:
        return Window(
            opens=day + timedelta(days=self.opens),
            best=day + timedelta(days=self.best),
            closes=day + timedelta(days=self.closes),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysAround:
    """A window that opens and is best some days before a day, and closes some days after it."""

    opens_before: int
    best_before: int
    closes_after: int

    def __post_init__(self) -> None:
        if not self.opens_before >= self.best_before >= 0:
            raise TaskError("work before something opens no fewer days ahead than it is best done")
        if self.closes_after < 0:
            raise TaskError("work before something closes on that day, or days after it")

    def around(self, day: date) -> Window:
        return Window(
            opens=day - timedelta(days=self.opens_before),
            best=day - timedelta(days=self.best_before),
            closes=day + timedelta(days=self.closes_after),
        )
