"""The plan of one crew for many blocks, when its time is short.

The rule that the crew follows: on each day, of the blocks that are down for it, first the one
whose bloom closes first; trees in the order of the rows, on from where it stopped; no tree again
before the days between visits are over.

Which blocks are down for a day is settled before, by handing out the crew's time in three ways,
of which the one that pollinates most is kept (the first of those that pollinate as much):

1. each block's own best dates, the block whose bloom closes first before the others;
2. the same dates, those with most flowers a minute first;
3. any day and block, those with most flowers a minute first.

Whatever time is left after 1 and 2 is handed out as in 3. A second look then puts one day and
block after another before all others, where more is pollinated so. On small farms this loses
about one flower in a hundred of what the best plan there is would reach. That trees are worked in
turn makes the spacing a sum: a tree rests long enough when, in any so many days, no more trees are
worked than the block has.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import ceil, floor

from planning.compute.labour.room import Room
from planning.compute.labour.values import (
    TOLERANCE,
    BlockPlan,
    DayWork,
)
from planning.compute.labour.visits import BlockBloom

# A second look takes the time of as many plans: fewer on a farm of many blocks.
MOST_LOOKS = 40
LOOK_TURNS = 12_000

Turn = tuple[str, date]


@dataclass(slots=True, kw_only=True)
class _Ground:
    """One block as the crew's time is handed out: the trees worked on each day."""

    block: BlockBloom
    per_tree: Mapping[date, float]
    # By the ordinal of the day: reckoning with dates would take most of the time.
    trees: dict[int, int] = field(default_factory=dict)
    flowers: dict[int, float] = field(default_factory=dict)
    trees_in_all: int = 0
    flowers_in_all: float = 0.0
    flowers_wanted: float = field(init=False)
    tree_minutes: Mapping[date, float] = field(init=False)

    def __post_init__(self) -> None:
        wanted, in_bloom = self.block.flowers_wanted, self.block.flowers_in_bloom
        self.flowers_wanted = in_bloom if wanted is None else wanted
        self.tree_minutes = {day: self.minutes(1, each) for day, each in self.per_tree.items()}

    @property
    def closes_on(self) -> date:
        return self.block.bloom.end_on

    def minutes(self, trees: int, flowers: float) -> float:
        return self.block.pace.minutes(trees, flowers)

    def per_minute(self, day: date) -> float:
        """Flowers that a minute pollinates there on a day."""
        return self.per_tree[day] / self.tree_minutes[day]

    def trees_free(self, day: date) -> int:
        """Trees that have rested, will rest before their next visit, and have a visit left."""
        rest, block = self.block.rest_days, self.block
        left = block.trees * block.visits_left - self.trees_in_all
        if left <= 0:
            return 0
        near = [self.trees.get(n, 0) for n in range(_n(day) - rest + 1, _n(day) + rest)]
        busiest = max(sum(near[n : n + rest]) for n in range(rest)) if any(near) else 0
        return min(left, block.trees - busiest)

    def clear(self) -> None:
        self.trees.clear()
        self.flowers.clear()
        self.trees_in_all, self.flowers_in_all = 0, 0.0

    def work(self, day: date, minutes: float) -> float:
        """Work as many trees as the time allows; the minutes it takes."""
        at_most = floor(minutes / self.tree_minutes[day] + TOLERANCE)
        each, left = self.per_tree[day], self.flowers_wanted - self.flowers_in_all
        if at_most <= 0 or left <= TOLERANCE:
            return 0.0
        trees = min(at_most, ceil(left / each - TOLERANCE), self.trees_free(day))
        if trees <= 0:
            return 0.0
        flowers = min(trees * each, left)
        self.trees[_n(day)] = self.trees.get(_n(day), 0) + trees
        self.flowers[_n(day)] = self.flowers.get(_n(day), 0.0) + flowers
        self.trees_in_all += trees
        self.flowers_in_all += flowers
        return self.minutes(trees, flowers)


def _n(day: date) -> int:
    return day.toordinal()


def crew_plan(
    blocks: Sequence[BlockBloom], plans: Mapping[str, BlockPlan], crew: int
) -> list[DayWork]:
    """What so many people do on each day, by the rule above, in the order of the days."""
    return CrewPlanner(blocks, plans).plan(crew)


class CrewPlanner:
    """The blocks of a farm, made ready to be worked by crews of any size."""

    def __init__(self, blocks: Sequence[BlockBloom], plans: Mapping[str, BlockPlan]) -> None:
        self._grounds = grounds = _grounds(blocks)
        self._room = Room({block.block: block.hours for block in blocks})
        own = [turn for ground in grounds.values() for turn in _own_turns(ground, plans)]
        turns = [turn for ground in grounds.values() for turn in _turns(ground)]
        any_day = _densest(grounds, turns)
        self._orders = ([*own, *any_day], [*_densest(grounds, own), *any_day], any_day)

    def plan(self, people: int, *, looks: int = MOST_LOOKS) -> list[DayWork]:
        """The days of so many people, with no more second looks than the farm's size allows."""
        found = [(order, self._hand_out(order, people)) for order in self._orders]
        order, work = max(found, key=lambda each: _score(each[1]))  # the first of equals
        looks = min(looks, LOOK_TURNS // max(1, len(order)))
        for turn in list(dict.fromkeys(self._orders[0]))[:looks]:
            other_order = [turn, *(each for each in order if each != turn)]
            other = self._hand_out(other_order, people)
            if _score(other) > _score(work):
                order, work = other_order, other
        return work

    @property
    def is_large(self) -> bool:
        """Whether a farm has too many blocks and days for second looks."""
        return len(self._orders[-1]) > LOOK_TURNS

    def quick_plan(self, people: int) -> list[DayWork]:
        """By the third way alone."""
        return self._hand_out(self._orders[-1], people)

    def _hand_out(self, order: Iterable[Turn], people: int) -> list[DayWork]:
        """Give each day and block, in this order, what it can use of the time that is left."""
        grounds, room = self._grounds, self._room
        room.fill(people)
        for ground in grounds.values():
            ground.clear()
        for name, day in order:
            minutes = grounds[name].work(day, room.left(name, day))
            if minutes:
                room.use(name, day, minutes)
        work = [each for ground in grounds.values() for each in _work_of(ground)]
        return sorted(work, key=lambda each: each.on)  # stable: of a day, closing first stays first


def _grounds(blocks: Sequence[BlockBloom]) -> dict[str, _Ground]:
    """By block, the one whose bloom closes first before the others."""
    ordered = sorted(blocks, key=lambda block: (block.bloom.end_on, block.block))
    return {
        block.block: _Ground(
            block=block,
            per_tree={day: block.per_tree_on(day) for day in block.dates or block.open_days},
        )
        for block in ordered
    }


def _turns(ground: _Ground) -> list[Turn]:
    name, days = ground.block.block, ground.per_tree
    return [(name, day) for day, flowers in days.items() if flowers > TOLERANCE]


def _own_turns(ground: _Ground, plans: Mapping[str, BlockPlan]) -> list[Turn]:
    dates = {visit.on for visit in plans[ground.block.block].visits}
    return [turn for turn in _turns(ground) if turn[1] in dates]


def _densest(grounds: Mapping[str, _Ground], turns: Sequence[Turn]) -> list[Turn]:
    """Most flowers a minute first; of equals, the bloom that closes first, then the day."""

    def rank(turn: Turn) -> tuple[float, date, date, str]:
        ground, day = grounds[turn[0]], turn[1]
        return (-round(ground.per_minute(day), 9), ground.closes_on, day, turn[0])

    return sorted(turns, key=rank)


def _work_of(ground: _Ground) -> Iterator[DayWork]:
    block, before = ground.block, 0
    for day in sorted(ground.trees):
        trees, flowers = ground.trees[day], ground.flowers[day]
        yield DayWork(
            block=block.block,
            on=date.fromordinal(day),
            visit=len(block.done) + 1 + before // block.trees,
            trees=trees,
            flowers=flowers,
            minutes=ground.minutes(trees, flowers),
        )
        before += trees


def _score(work: Iterable[DayWork]) -> float:
    """Flowers, but for what arithmetic loses: the first of equal plans is kept."""
    return round(flowers_of(work), 6)


def flowers_of(work: Iterable[DayWork]) -> float:
    return sum(each.flowers for each in work)
