"""A crew's time on each day: what the sessions of its blocks leave, each minute used once.

Blocks of different species are worked at different hours. People can do both, but not at once:
for every set of kinds of hours, the work in them is at most people x the minutes that the set
covers together (Hall's condition, which is also enough).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import combinations
from math import ceil

from planning.compute.labour.values import TOLERANCE, Hours, Session

Kind = tuple[Session, ...]


class Room:
    """The minutes that a crew has left on each day, by kind of hours: one person, until filled."""

    def __init__(self, hours: Mapping[str, Hours]) -> None:
        numbers: dict[Kind, int] = {}
        self._kinds: dict[tuple[str, date], int] = {}
        of_day: dict[date, set[Kind]] = defaultdict(set)
        for block, days in hours.items():
            for day, sessions in days.items():
                if kind := tuple(sessions):
                    self._kinds[block, day] = numbers.setdefault(kind, len(numbers))
                    of_day[day].add(kind)
        self._limits = {
            day: [
                (frozenset(numbers[kind] for kind in each), covered(each)) for each in _sets(kinds)
            ]
            for day, kinds in of_day.items()
        }
        # Where all blocks have the same hours, one number says it all, quick to look up.
        limits = self._limits.items()
        self._whole = {day: found[0][1] for day, found in limits if len(found) == 1}
        self.fill(1)

    def fill(self, people: int) -> None:
        """The whole of every day again, for so many people."""
        self._people = people
        self._left = {day: people * minutes for day, minutes in self._whole.items()}
        self._used: dict[date, dict[int, float]] = defaultdict(lambda: defaultdict(float))

    def left(self, block: str, day: date) -> float:
        """Minutes of all people together that a block's hours still have on a day."""
        kind = self._kinds.get((block, day))
        if kind is None:
            return 0.0
        if day in self._left:
            return self._left[day]
        used = self._used[day]
        return min(
            self._people * limit - sum(used[each] for each in kinds)
            for kinds, limit in self._limits[day]
            if kind in kinds
        )

    def people_for(self, day: date) -> int:
        """People who can do what has been used of a day."""
        return max(
            (
                ceil(sum(self._used[day][each] for each in kinds) / limit - TOLERANCE)
                for kinds, limit in self._limits.get(day, ())
            ),
            default=0,
        )

    def use(self, block: str, day: date, minutes: float) -> None:
        self._used[day][self._kinds[block, day]] += minutes
        if day in self._left:
            self._left[day] -= minutes


def covered(kinds: Iterable[Sequence[Session]]) -> float:
    """Minutes of a day that some sessions cover together."""
    total, reached = 0.0, float("-inf")
    spans = sorted((each.from_minute, each.to_minute) for kind in kinds for each in kind)
    for starts, ends in spans:
        total += max(0.0, ends - max(starts, reached))
        reached = max(reached, ends)
    return total


def _sets(kinds: Iterable[Kind]) -> list[tuple[Kind, ...]]:
    """Every set of kinds of hours; there are as many kinds as species, at most."""
    found = sorted(kinds, key=str)
    return [each for size in range(1, len(found) + 1) for each in combinations(found, size)]
