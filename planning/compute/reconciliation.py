"""What farms sent against what sheds received, in kilos, per cent and days.

A match is what belongs together: deliveries, weighings under a docket, and intakes. Its state
follows from its two sides:

* `matched`: both are known, and differ by no more than the tolerance (a share of what was sent)
* `differs`: both are known, and differ by more
* `not-received`, `not-sent`: the other side has nothing
* `not-weighed`: there are both, but not all of the farm's side was on a scale

Fruit loses water between picking and intake. `Shrink` is grams lost of each kilo and day, by days
between, over matches whose weighings are all known. No published loss of weight of annonas was
found, so that nothing is expected of it and nothing is asserted.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

# A shed's scale, a little water and a rounding: common practice, no source.
DEFAULT_TOLERANCE = 0.03


class ReconciliationError(ValueError):
    """A tolerance that is none."""


class MatchState(StrEnum):
    MATCHED = "matched"
    DIFFERS = "differs"
    NOT_RECEIVED = "not-received"
    NOT_SENT = "not-sent"
    NOT_WEIGHED = "not-weighed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Grams of both sides of a match; None: nothing there. `unweighed` rows had no scale.

    `days` lie between picking and intake, by the kilos of each picking day and of each intake.
    """

    sent_g: int | None
    received_g: int | None
    unweighed: int = 0
    days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The difference is received less sent; `share` of what was sent."""

    state: MatchState
    difference_g: int | None
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrink:
    """Of matches with so many whole days between picking and intake.

    `g_per_kg_and_day` is None for fruit received on the day of picking.
    """

    days: int
    matches: int
    sent_g: int
    received_g: int
    g_per_kg_and_day: float | None


def compare(sides: Sides, tolerance: float = DEFAULT_TOLERANCE) -> Compared:
    if not 0 <= tolerance < 1:
        raise ReconciliationError("The tolerance is a share from 0 up to, but not, 1.")
    if sides.received_g is None:
        return Compared(state=MatchState.NOT_RECEIVED, difference_g=None, share=None)
    if sides.sent_g is None:
        return Compared(state=MatchState.NOT_SENT, difference_g=None, share=None)
    if sides.unweighed or not sides.sent_g:
        return Compared(state=MatchState.NOT_WEIGHED, difference_g=None, share=None)
    difference = sides.received_g - sides.sent_g
    share = difference / sides.sent_g
    state = MatchState.MATCHED if abs(share) <= tolerance else MatchState.DIFFERS
    return Compared(state=state, difference_g=difference, share=share)


def shrink(matches: Iterable[Sides], tolerance: float = DEFAULT_TOLERANCE) -> list[Shrink]:
    """By whole days, of matches within the tolerance: others differ for other reasons."""
    by_days: dict[int, list[Sides]] = defaultdict(list)
    for sides in matches:
        is_known = compare(sides, tolerance).state is MatchState.MATCHED
        if is_known and sides.days is not None and sides.days >= 0:
            by_days[round(sides.days)].append(sides)
    return [_shrink(days, found) for days, found in sorted(by_days.items())]


def _shrink(days: int, matches: Sequence[Sides]) -> Shrink:
    sent_g = sum(sides.sent_g or 0 for sides in matches)
    received_g = sum(sides.received_g or 0 for sides in matches)
    lost = (sent_g - received_g) / sent_g * 1000
    return Shrink(
        days=days,
        matches=len(matches),
        sent_g=sent_g,
        received_g=received_g,
        g_per_kg_and_day=lost / days if days else None,
    )
