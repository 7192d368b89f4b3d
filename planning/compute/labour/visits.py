"""The visits to one block: their dates, the flowers within reach of each, and what they take.

* within reach of a visit = trees x flowers a tree x the share that is receptive on the day,
  never flowers a tree / visits
* dates are those which together reach most, so many days apart; a tree is not visited again
  while flowers that the last visit saw can still be receptive, so none is counted twice
* flowers wanted = fruit wanted / (expected set x retention); fewer visits are planned where
  fewer reach them, and the last takes only what is still wanted
* pollen flowers = flowers x donors a flower: 20-30 serve 50-60 (Paull & Duarte 2011, ch. 6)
* people for a visit = minutes / minutes of the day's sessions, rounded up: 900 flowers at 150 an
  hour are 6.0 h, in 4.5 h of the day two people (worked from the figures of the same source)
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import ceil

from planning.compute.labour.curve import Bloom
from planning.compute.labour.values import (
    TOLERANCE,
    BlockPlan,
    DoneVisit,
    Extras,
    Hours,
    Pace,
    Session,
    Target,
    Visit,
    require,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockBloom:
    """One block in bloom. `trees` bear; `number` of visits in all, `spacing_days` apart at least.

    `dates` are visits that somebody has fixed; without them the best are found. `done` are those
    already made, and `today` the first day on which another may be held. `set_and_retention` is
    the share of pollinated flowers that become fruit to pick, where known. Where flowers were
    never counted (`is_counted` False), any number a tree lays the visits just as well, and only
    shares of it mean something.
    """

    block: str
    trees: int
    flowers_per_tree: float
    bloom: Bloom
    receptive_days: float
    number: int
    spacing_days: int
    pace: Pace
    extras: Extras = field(default_factory=Extras)
    target: Target | None = None
    set_and_retention: float | None = None
    dates: Sequence[date] = ()
    done: Sequence[DoneVisit] = ()
    today: date | None = None
    hours: Hours = field(default_factory=dict)
    is_counted: bool = True

    def __post_init__(self) -> None:
        require(self.trees >= 0, "there are no fewer trees than none")
        require(self.flowers_per_tree >= 0, "a tree has no fewer flowers than none")
        require(self.receptive_days > 0, "a flower is receptive for some time")
        require(self.number >= 1, "there is at least one visit")
        require(self.spacing_days >= 1, "visits are at least a day apart")
        require(len(set(self.dates)) == len(self.dates), "two visits have one date")

    @property
    def rest_days(self) -> int:
        """Days from one visit to a tree to the next, at the least."""
        return max(self.spacing_days, ceil(self.receptive_days))

    @property
    def visits_left(self) -> int:
        return max(0, self.number - len(self.done))

    @property
    def flowers_wanted(self) -> float | None:
        """Flowers that are still to be pollinated for the target."""
        if self.target is None:
            return None
        done = sum(visit.flowers for visit in self.done)
        return max(0.0, self.trees * self.target.flowers_per_tree - done)

    @property
    def flowers_in_bloom(self) -> float:
        return self.trees * self.flowers_per_tree

    @property
    def open_days(self) -> list[date]:
        """Days of the bloom on which a visit may still begin."""
        earliest = self.today or self.bloom.first_on
        for visit in self.done:
            earliest = max(earliest, visit.on + timedelta(days=self.rest_days))
        return [day for day in self.bloom.days if day >= earliest]

    def per_tree_on(self, day: date) -> float:
        """Flowers of a tree that are receptive on a day."""
        return self.flowers_per_tree * self.bloom.receptive_on(day, self.receptive_days)


def visits_of(block: BlockBloom) -> BlockPlan:
    """The visits still to be made on one block, as if people were no limit."""
    dates = sorted(block.dates) or planned_dates(block)
    visits, left, last_on = [], block.flowers_wanted, None
    for number, day in enumerate(dates, start=len(block.done) + 1):
        in_reach = block.trees * _unseen_per_tree(block, day, last_on)
        flowers = in_reach if left is None else min(in_reach, left)
        left = None if left is None else left - flowers
        last_on = day
        visits.append(_visit(block, number, day, in_reach, flowers))
    flowers = sum(visit.flowers for visit in visits)
    share = block.set_and_retention if block.is_counted else None
    return BlockPlan(
        block=block.block,
        visits=visits,
        flowers_in_bloom=block.flowers_in_bloom,
        flowers_wanted=block.flowers_wanted,
        fruit=None if share is None else flowers * share,
        reasons=_reasons(block, visits),
    )


def visit_on(block: BlockBloom, day: date) -> Visit:
    """What the next visit would be if it were held on a day, wherever the plan lays it."""
    return visits_of(replace(block, dates=(day,))).visits[0]


def planned_dates(block: BlockBloom) -> list[date]:
    """The dates that reach most, no more of them than the flowers wanted ask for."""
    days = block.open_days
    reach = [block.trees * block.per_tree_on(day) for day in days]
    wanted = block.flowers_wanted
    if wanted is None:
        return [days[n] for n in best_days(reach, block.visits_left, block.rest_days)]
    for number in range(block.visits_left + 1):
        found = best_days(reach, number, block.rest_days)
        if sum(reach[n] for n in found) >= wanted:
            break
    return [days[n] for n in found]


def best_days(reach: Sequence[float], number: int, rest_days: int) -> list[int]:
    """Which days to choose, `rest_days` apart, so that their reach adds up to most.

    Days without any reach are not chosen; of choices that reach as much, the earliest.
    """
    length = len(reach)
    # most[k][n]: the most that k visits reach from day n on
    most = [[0.0] * (length + rest_days + 1) for _ in range(number + 1)]
    for k in range(1, number + 1):
        for n in range(length - 1, -1, -1):
            most[k][n] = max(most[k][n + 1], reach[n] + most[k - 1][n + rest_days])
    chosen, n, k = [], 0, number
    while k and n < length:
        taken = reach[n] + most[k - 1][n + rest_days]
        if reach[n] > TOLERANCE and taken >= most[k][n + 1]:
            chosen.append(n)
            n, k = n + rest_days, k - 1
        else:
            n += 1
    return chosen


def people_for(minutes: float, sessions: Sequence[Session]) -> int:
    """People who finish so many minutes of work within one day's sessions."""
    return ceil(minutes / _length(sessions) - TOLERANCE)


def worker_sessions(minutes: float, sessions: Sequence[Session]) -> int:
    """Sessions of one worker that so many minutes take, filled in the order of the day."""
    people, number = people_for(minutes, sessions), 0
    for session in sessions:
        here = min(people, ceil(minutes / session.minutes - TOLERANCE))
        number += max(0, here)
        minutes -= max(0, here) * session.minutes
    return number


def _length(sessions: Sequence[Session]) -> float:
    return sum(session.minutes for session in sessions)


def _unseen_per_tree(block: BlockBloom, day: date, last_on: date | None) -> float:
    """Receptive flowers of a tree, but for those that the visit before has seen."""
    if last_on is None:
        last_on = max((visit.on for visit in block.done), default=None)
    if last_on is None:
        return block.per_tree_on(day)
    days = min(block.receptive_days, max(0, (day - last_on).days))
    return block.flowers_per_tree * block.bloom.receptive_on(day, days)


def _visit(block: BlockBloom, number: int, day: date, in_reach: float, flowers: float) -> Visit:
    extras, sessions = block.extras, block.hours.get(day, ())
    minutes = block.pace.minutes(block.trees, flowers) if flowers > 0 else 0.0
    donors = _times(flowers, extras.donors_per_flower)
    bagged = flowers * extras.bag_share
    return Visit(
        number=number,
        on=day,
        flowers_in_reach=in_reach,
        flowers=flowers,
        donor_flowers=donors,
        minutes=minutes,
        gather_minutes=_times(donors, extras.gather_minutes_per_donor),
        bag_minutes=_times(bagged, extras.bag_minutes_per_flower) if bagged else 0.0,
        session_minutes=_length(sessions) if sessions else None,
        worker_sessions=worker_sessions(minutes, sessions) if sessions else None,
        people=people_for(minutes, sessions) if sessions else None,
    )


def _times(number: float | None, each: float | None) -> float | None:
    return None if number is None or each is None else number * each


def _reasons(block: BlockBloom, visits: Sequence[Visit]) -> dict[str, str]:
    """Why there are no visits, or fewer than usual, and what is not known of them."""
    reasons = {}
    if not visits:
        reasons["visits"] = _why_none(block)
    elif len(visits) < block.visits_left and not block.dates:
        reasons["visits"] = _why_fewer(block, visits)
    if any(visit.people is None for visit in visits):
        reasons["people"] = "the working hours of some visits' days are not known"
    if visits and visits[0].donor_flowers is None:
        reasons["donor_flowers"] = "how many pollen flowers a flower takes is not known"
    elif visits and visits[0].gather_minutes is None:
        reasons["gather_minutes"] = "how long gathering a pollen flower takes is not known"
    if any(visit.bag_minutes is None for visit in visits):
        reasons["bag_minutes"] = "how long bagging a flower takes is not known"
    if not block.is_counted:
        text = "how many flowers a tree has is not known: count a few trees and enter it"
        reasons |= dict.fromkeys(("flowers", "fruit"), text)
    elif block.set_and_retention is None:
        reasons["fruit"] = "expected set or retention is not known"
    return reasons


def _why_none(block: BlockBloom) -> str:
    if not block.trees:
        return "no tree of this block bears"
    if not block.flowers_per_tree:
        return "its trees have no flowers"
    if not block.visits_left:
        return f"all {block.number} visits have been made"
    if block.flowers_wanted == 0:
        return "as many flowers as the target asks for have been pollinated"
    return "the bloom is over, or ends before another visit is due"


def _why_fewer(block: BlockBloom, visits: Sequence[Visit]) -> str:
    wanted, reached = block.flowers_wanted, sum(visit.flowers for visit in visits)
    if wanted is not None and reached >= wanted - TOLERANCE:
        return f"{len(visits)} of {block.visits_left} visits reach the flowers wanted"
    return (
        f"{len(visits)} of {block.visits_left} visits fit into the rest of the bloom,"
        f" {block.rest_days} days apart"
    )
