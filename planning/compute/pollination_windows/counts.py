"""At which hours a farm's own flowers set best, and whether other hours are clearly better.

Counts are of marked flowers, by the hour from solar noon at which their round began. Shares have
Wilson's score interval of 95 % (Wilson 1927, by scipy). Other hours are clearly better where their
interval lies wholly above that of the hours that hold, with at least `LEAST_FLOWERS` flowers and
`LEAST_ROUNDS` rounds on either side; both bounds are this module's own, without a source. Flowers
of one round are alike, so the intervals are rather too narrow. Hours are proposed, never changed.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import floor

from scipy.stats import binomtest

from planning.compute.pollination_windows.values import MINUTES_AN_HOUR, WindowError

LEAST_FLOWERS, LEAST_ROUNDS = 30, 2
NO_COUNTS = (
    "No counts of marked flowers by hour: give rounds their hour of start, and count what they set."
)
FEW_COUNTS = (
    f"Too few counts to compare hours: it takes {LEAST_FLOWERS} flowers of {LEAST_ROUNDS} rounds"
    " both within the hours that hold and within others."
)
NOTHING_BETTER = "No other hours are clearly better in the farm's own counts."


@dataclass(frozen=True, slots=True, kw_only=True)
class HourCount:
    """What set of the marked flowers that were looked at.

    `in_hours`: the round began within the hours that hold; `in_sources`: within those of these.
    """

    minutes_from_noon: float
    flowers: int
    fruit: int
    in_hours: bool = False
    in_sources: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not 0 <= self.fruit <= self.flowers or self.flowers == 0:
            raise WindowError("fruit lies between nought and the flowers looked at")


@dataclass(frozen=True, slots=True, kw_only=True)
class SetShare:
    """Fruit of flowers, with its interval."""

    flowers: int
    fruit: int
    rounds: int
    share: float
    low: float
    high: float

    @property
    def is_enough(self) -> bool:
        return self.flowers >= LEAST_FLOWERS and self.rounds >= LEAST_ROUNDS


@dataclass(frozen=True, slots=True, kw_only=True)
class HourShare:
    """One hour, from minutes after solar noon (negative: before)."""

    from_minutes: int
    set: SetShare


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A source that ships, or an hour from solar noon for hours of the farm's own."""

    reason: str
    source_code: str | None = None
    from_minutes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCounts:
    """By hour in their order; `best` are the hours with the highest share, if enough is counted."""

    hours: tuple[HourShare, ...]
    held: SetShare | None
    proposal: Proposal | None
    reason: str

    @property
    def best(self) -> HourShare | None:
        enough = [hour for hour in self.hours if hour.set.is_enough]
        return max(enough, key=lambda hour: hour.set.share, default=None)


def own_counts(counts: Sequence[HourCount], sources: Iterable[str]) -> OwnCounts:
    """What the counts say of the hours that hold, against the sources' and any other hour."""
    by_hour: dict[int, list[HourCount]] = defaultdict(list)
    for count in counts:
        hour = floor(count.minutes_from_noon / MINUTES_AN_HOUR)
        by_hour[hour * MINUTES_AN_HOUR].append(count)
    hours = tuple(
        HourShare(from_minutes=minutes, set=set_share(by_hour[minutes]))
        for minutes in sorted(by_hour)
    )
    held = [count for count in counts if count.in_hours]
    others = {code: [each for each in counts if code in each.in_sources] for code in sources}
    return _judged(hours, set_share(held) if held else None, _shares(others))


def set_share(counts: Sequence[HourCount]) -> SetShare:
    """The share of some counts together.

    >>> share = set_share([HourCount(minutes_from_noon=0, flowers=100, fruit=26)])
    >>> round(share.low, 3), round(share.high, 3)
    (0.184, 0.354)
    """
    flowers, fruit = sum(each.flowers for each in counts), sum(each.fruit for each in counts)
    interval = binomtest(fruit, flowers).proportion_ci(0.95, method="wilson")
    return SetShare(
        flowers=flowers,
        fruit=fruit,
        rounds=len(counts),
        share=fruit / flowers,
        low=float(interval.low),
        high=float(interval.high),
    )


def _shares(groups: dict[str, list[HourCount]]) -> dict[str, SetShare]:
    return {name: set_share(counts) for name, counts in groups.items() if counts}


def _judged(
    hours: tuple[HourShare, ...], held: SetShare | None, sources: dict[str, SetShare]
) -> OwnCounts:
    if not hours:
        return OwnCounts(hours=(), held=None, proposal=None, reason=NO_COUNTS)
    others = [*sources.values(), *(hour.set for hour in hours)]
    if held is None or not held.is_enough or not any(each.is_enough for each in others):
        return OwnCounts(hours=hours, held=held, proposal=None, reason=FEW_COUNTS)
    proposal = _proposal(held, sources, hours)
    reason = proposal.reason if proposal else NOTHING_BETTER
    return OwnCounts(hours=hours, held=held, proposal=proposal, reason=reason)


def _proposal(
    held: SetShare, sources: dict[str, SetShare], hours: tuple[HourShare, ...]
) -> Proposal | None:
    """The clearly better hours whose interval starts highest; a source before hours as good."""
    found = [
        *[
            (each.low, _source_proposed(code, each, held))
            for code, each in sources.items()
            if _is_clearly_better(each, held)
        ],
        *[
            (hour.set.low, _hour_proposed(hour, held))
            for hour in hours
            if _is_clearly_better(hour.set, held)
        ],
    ]
    return max(found, key=lambda each: each[0])[1] if found else None


def _source_proposed(code: str, share: SetShare, held: SetShare) -> Proposal:
    return Proposal(
        source_code=code,
        reason=f"Within the hours of {code} {_told(share)}; within those that hold"
        f" {_told(held)}. Consider choosing that source.",
    )


def _hour_proposed(hour: HourShare, held: SetShare) -> Proposal:
    return Proposal(
        from_minutes=hour.from_minutes,
        reason=f"In the hour {_from_noon(hour.from_minutes)} {_told(hour.set)}; within those that"
        f" hold {_told(held)}. Consider hours of your own around it.",
    )


def _is_clearly_better(one: SetShare, other: SetShare) -> bool:
    return one.is_enough and one.low > other.high


def _told(share: SetShare) -> str:
    low, high = (f"{100 * bound:.0f}" for bound in (share.low, share.high))
    return f"{share.fruit} of {share.flowers} flowers set ({low} to {high} %)"


def _from_noon(minutes: int) -> str:
    hours = minutes // MINUTES_AN_HOUR
    if hours == 0:
        return "from solar noon"
    side = "after" if hours > 0 else "before"
    return f"from {abs(hours)} hour{'' if abs(hours) == 1 else 's'} {side} solar noon"
