"""Degree days of a place day by day, and the day on which a sum is reached."""

from dataclasses import dataclass
from datetime import date, timedelta

from planning.compute.next_tasks.terms import TaskError


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """The day on which a sum is reached; `is_expected` where days still to come are in it."""

    on: date
    is_expected: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NotReached:
    """Why no day is known: the first day without temperatures (None: none is missing so far)."""

    gap_on: date | None
    so_far: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Degree days (C) of each day from `first_on` on; None where temperatures are missing.

    Days after `observed_until` are forecast, or the station's own normals.
    """

    first_on: date
    daily: tuple[float | None, ...]
    observed_until: date

    def __post_init__(self) -> None:
        if any(each is not None and each < 0 for each in self.daily):
            raise TaskError("degree days are never negative")

    def reached(self, total: float, after: date) -> Reached | NotReached:
        """When `total` has gathered, counted from the day after `after` on."""
        start = (after - self.first_on).days + 1
        if start < 0:
            return NotReached(gap_on=after + timedelta(days=1), so_far=0)
        so_far = 0.0
        for place in range(start, len(self.daily)):
            gathered = self.daily[place]
            day = self.first_on + timedelta(days=place)
            if gathered is None:
                return NotReached(gap_on=day, so_far=so_far)
            so_far += gathered
            if so_far >= total:
                return Reached(on=day, is_expected=day > self.observed_until)
        return NotReached(gap_on=None, so_far=so_far)
