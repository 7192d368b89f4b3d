"""The bloom curve: which share of a crop's flowers has opened by the close of each day.

About 80 % of the flowers open in the middle half of the bloom (cherimoya in New Zealand: two
months of bloom, 80 % in the middle four weeks; hand-pollination notes citing trials there). The
curve used is the symmetric beta distribution over the days of the bloom that has exactly this
property: F(x) = I_x(a, a) with F(3/4) - F(1/4) = 0.8, or another share where one is given. With
half of the flowers in the middle half, as many open on each day as on any other (a = 1).

Counts of one's own (the share opened so far on a day) bend it: it goes through every count, and
between two of them keeps the shape it had there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, lru_cache
from itertools import pairwise
from math import ceil

from numpy import linspace
from scipy.optimize import brentq
from scipy.special import betainc

from planning.compute.labour.values import LabourError, require

MIDDLE_SHARE = 0.8
STEEPEST = 0.999  # a greater share would leave nothing at all to the first and last quarter


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedSoFar:
    """The share (0 to 1) of a crop's flowers opened by the close of a day, as counted."""

    on: date
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bloom:
    """A bloom from the day of its first flowers to that of its last, both included."""

    first_on: date
    end_on: date
    counts: Sequence[OpenedSoFar] = ()
    middle_share: float = MIDDLE_SHARE

    def __post_init__(self) -> None:
        require(0.5 <= self.middle_share <= 1, "the middle half has 0.5 to 1 of the flowers")
        if self.end_on < self.first_on:
            raise LabourError(f"the bloom ends on {self.end_on}, before its first flowers")
        for count in self.counts:
            self._check(count)
        ordered = sorted(self.counts, key=lambda count: count.on)
        for one, other in pairwise(ordered):
            if other.share < one.share or other.on == one.on:
                raise LabourError(
                    f"the share of flowers opened by {other.on} contradicts that by {one.on}"
                )

    def _check(self, count: OpenedSoFar) -> None:
        if not 0 <= count.share <= 1:
            raise LabourError(f"the share of flowers opened by {count.on} is not from 0 to 1")
        if not self.first_on <= count.on <= self.end_on:
            raise LabourError(f"flowers were counted on {count.on}, outside the bloom")
        if count.on == self.end_on and count.share < 1:
            raise LabourError(f"not all flowers had opened on {count.on}, the last day of bloom")

    @property
    def days(self) -> list[date]:
        number = (self.end_on - self.first_on).days + 1
        return [self.first_on + timedelta(days=n) for n in range(number)]

    def opened_after(self, days: float) -> float:
        """The share opened in so many days from the morning of the first."""
        length = (self.end_on - self.first_on).days + 1
        days = min(max(days, 0.0), float(length))
        if not self.counts:
            return _usual(days, length, self.middle_share)
        for (x0, y0), (x1, y1) in pairwise(self._known(length)):
            if days <= x1:
                p0, p, p1 = (_usual(x, length, self.middle_share) for x in (x0, days, x1))
                part = (p - p0) / (p1 - p0)
                return y0 * (1 - part) + y1 * part
        return 1.0

    def opened_by(self, day: date) -> float:
        """The share opened by the close of a day."""
        return self.opened_after((day - self.first_on).days + 1)

    def receptive_on(self, day: date, receptive_days: float) -> float:
        """The share that a visit on a day can use: opened within the receptive life."""
        closes = (day - self.first_on).days + 1
        return self.opened_after(closes) - self.opened_after(closes - receptive_days)

    def _known(self, length: int) -> list[tuple[float, float]]:
        counts = sorted(self.counts, key=lambda count: count.on)
        points = [((count.on - self.first_on).days + 1.0, count.share) for count in counts]
        ends = [] if points and points[-1][0] == length else [(float(length), 1.0)]
        return [(0.0, 0.0), *points, *ends]


def bloom_as_counted(
    *,
    first_on: date,
    end_on: date,
    end_is_seen: bool,
    counts: Sequence[OpenedSoFar],
    middle_share: float = MIDDLE_SHARE,
) -> Bloom:
    """A bloom with those counts of it that fit together; a later, lower share is left out.

    Where flowers still open on the day on which they were expected to have ended, the end moves:
    the share that is left opens at the pace of the days so far.
    """
    kept: list[OpenedSoFar] = []
    for count in sorted(counts, key=lambda each: (each.on, -each.share)):
        is_later = not kept or (count.on > kept[-1].on and count.share >= kept[-1].share)
        if first_on <= count.on and 0 < count.share < 1 and is_later:
            kept.append(count)
    if end_is_seen:
        kept = [count for count in kept if count.on < end_on]
    elif kept and kept[-1].on >= end_on:
        days = (kept[-1].on - first_on).days + 1
        end_on = first_on + timedelta(days=ceil(days / kept[-1].share) - 1)
    if kept and kept[-1].on >= end_on:
        end_on = kept[-1].on + timedelta(days=1)
    return Bloom(first_on=first_on, end_on=end_on, counts=kept, middle_share=middle_share)


def _usual(days: float, length: int, middle_share: float) -> float:
    """The share opened in so many days of a bloom of so many, where nobody has counted."""
    if days == int(days):
        return _usual_by_day(length, middle_share)[int(days)]
    a = _shape(middle_share)
    return float(betainc(a, a, days / length))


@lru_cache(maxsize=1_024)
def _usual_by_day(length: int, middle_share: float) -> list[float]:
    """The same after each whole day: a farm's blooms are alike, and it is asked for often."""
    a = _shape(middle_share)
    found: list[float] = betainc(a, a, linspace(0, 1, length + 1)).tolist()
    return found


@cache
def _shape(middle_share: float) -> float:
    """The parameter a of the symmetric beta distribution with this share in its middle half."""
    tail = (1 - min(middle_share, STEEPEST)) / 2
    if tail == 0.25:
        return 1.0
    return float(brentq(lambda a: betainc(a, a, 0.25) - tail, 1, 1_000, xtol=1e-13))
