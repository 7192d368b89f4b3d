"""What the pollination of each block's bloom is planned from, as plain values.

When it blooms, what stands there, what was counted and pollinated, the farm's figures and its
working hours (`labour_facts`). What is missing is said; no date is made up.
"""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from uuid import UUID

from planning.compute.figures import Figure
from planning.compute.labour import (
    MIDDLE_SHARE,
    BlockBloom,
    Bloom,
    ByFlower,
    ByTree,
    DoneVisit,
    Extras,
    LabourError,
    OpenedSoFar,
    Pace,
    Target,
    bloom_as_counted,
)
from planning.queries.labour_facts import (
    NEEDED,
    BloomAhead,
    Figures,
    LabourFacts,
    Round,
    labour_facts,
    value_of,
)
from planning.queries.scheduled_visits import scheduled_visits
from planning.queries.schedules import blocks_in_use
from records.models import Block, Farm, Species

# Flowers a tree by which visits are laid where nobody has counted: only shares are told then.
NOMINAL = 100.0
# A bloom that is counted so long after its expected end is another one.
LATE = dt.timedelta(days=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the asker chooses. `pace`: "tree", "flower", or None for the better known.

    Visits lie where they reach most, unless they are to lie as the schedule has them.
    """

    bag_share: float = 0.0
    pace: str | None = None
    as_scheduled: bool = False
    block_ids: Collection[UUID] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One crop of a block. `bloom` is None where `missing` names what a plan cannot do without.

    `key` is what the computation knows it by; `scheduled` are the days on which the schedule has
    the visits.
    """

    block: Block
    species: Species | None
    ahead: BloomAhead
    end_on: dt.date | None
    key: str
    trees: int | None
    bloom: BlockBloom | None
    rounds: Sequence[Round]
    figures: Sequence[Figure]
    scheduled: Sequence[dt.date] = ()
    missing: Mapping[str, str] = field(default_factory=dict)


def labour_grounds(farm: Farm, year: int, today: dt.date, wishes: Wishes) -> list[Ground]:
    """The crops of a season of each block in use, in twenty queries."""
    blocks = blocks_in_use(farm, today)
    if wishes.block_ids is not None:
        blocks = [block for block in blocks if block.pk in wishes.block_ids]
    facts = labour_facts(farm, blocks, year, today)
    scheduled = scheduled_visits(farm.pk, year)
    return [
        _ground(facts, block, ahead, today, wishes, scheduled.get((block.pk, ahead.crop_name), ()))
        for block in blocks
        for ahead in facts.blooms[block.pk]
    ]


def _ground(
    facts: LabourFacts,
    block: Block,
    ahead: BloomAhead,
    today: dt.date,
    wishes: Wishes,
    scheduled: Sequence[dt.date],
) -> Ground:
    planted, figures = facts.planted.get(block.pk), facts.figures.get(block.pk, {})
    missing = _missing(ahead, figures, facts.trees[block.pk])
    bloom, rounds = None, _rounds_of(ahead, figures, facts.rounds.get(block.pk, ()))
    if not missing:
        try:
            bloom = _bloom(facts, block, ahead, rounds, today, wishes)
            if wishes.as_scheduled and scheduled:
                bloom = replace(bloom, dates=scheduled)
        except LabourError as error:
            missing = {"figures": f"The figures do not fit together: {error}."}
    return Ground(
        block=block,
        species=planted.main if planted else None,
        ahead=ahead,
        end_on=ahead.end_on(figures),
        key=_key(block, ahead),
        trees=facts.trees[block.pk],
        bloom=bloom,
        rounds=rounds,
        figures=list(figures.values()),
        scheduled=scheduled,
        missing=missing,
    )


def _key(block: Block, ahead: BloomAhead) -> str:
    return f"{block.code} {block.pk} {ahead.crop_name}"


def _missing(ahead: BloomAhead, figures: Figures, trees: int | None) -> dict[str, str]:
    """What a plan cannot do without, each in a sentence."""
    if not figures:
        return {"species": "No trees or planting lines of a known species are recorded here."}
    missing = {}
    if trees is None:
        missing["trees"] = "Neither trees nor planting lines are recorded here."
    for name in NEEDED:
        if value_of(figures, name) is None:
            missing[name] = figures[name].reason
    end_on = ahead.end_on(figures)
    if ahead.first is None:
        missing["first_bloom"] = "No forecast of this season's bloom is stored."
    elif ahead.first_on is None:
        missing["first_bloom"] = f"First bloom is not known. {ahead.first.reason}"
    elif end_on is None:
        missing["end_of_bloom"] = figures["bloom-days"].reason
    elif end_on < ahead.first_on:
        missing["end_of_bloom"] = "The bloom ends before its first flowers: correct the records."
    return missing


def _rounds_of(ahead: BloomAhead, figures: Figures, rounds: Sequence[Round]) -> list[Round]:
    """Those of this crop's bloom."""
    first, end = ahead.first_on, ahead.end_on(figures)
    return [each for each in rounds if first and end and first <= each.on <= end]


def _bloom(
    facts: LabourFacts,
    block: Block,
    ahead: BloomAhead,
    rounds: Sequence[Round],
    today: dt.date,
    wishes: Wishes,
) -> BlockBloom:
    figures, species = facts.figures[block.pk], facts.planted[block.pk].main
    spacing, flowers = round(_needed(figures, NEEDED[1])), value_of(figures, "flowers-per-tree")
    return BlockBloom(
        block=_key(block, ahead),
        trees=facts.trees[block.pk] or 0,
        flowers_per_tree=NOMINAL if flowers is None else flowers,
        bloom=_curve(facts, block, ahead),
        receptive_days=_needed(figures, "receptive-days"),
        number=round(_needed(figures, "visits")),
        spacing_days=spacing,
        pace=_pace(figures, wishes.pace),
        extras=Extras(
            donors_per_flower=value_of(figures, "donors-per-flower"),
            gather_minutes_per_donor=value_of(figures, "gather-minutes-per-donor"),
            bag_minutes_per_flower=value_of(figures, "bag-minutes-per-flower"),
            bag_share=wishes.bag_share,
        ),
        target=_target(figures),
        set_and_retention=_set_and_retention(figures),
        done=_visits(rounds, spacing),
        today=today,
        hours=facts.hours.get(species.pk, {}),
        is_counted=flowers is not None,
    )


def _curve(facts: LabourFacts, block: Block, ahead: BloomAhead) -> Bloom:
    figures = facts.figures[block.pk]
    first_on, end_on = ahead.first_on, ahead.end_on(figures)
    if first_on is None or end_on is None:
        raise LabourError("the days of the bloom are not known")
    share = value_of(figures, "middle-half-share")
    return bloom_as_counted(
        first_on=first_on,
        end_on=end_on,
        end_is_seen=ahead.end_is_seen,
        counts=_counts_of(facts, block, first_on, end_on),
        middle_share=MIDDLE_SHARE if share is None else share,
    )


def _counts_of(
    facts: LabourFacts, block: Block, first_on: dt.date, end_on: dt.date
) -> list[OpenedSoFar]:
    """Counts of this bloom, and of no later one."""
    later = (ahead.first_on for ahead in facts.blooms[block.pk])
    until = min((day for day in later if day and day > first_on), default=end_on + LATE)
    return [each for each in facts.counts.get(block.pk, ()) if first_on <= each.on < until]


def _pace(figures: Figures, wished: str | None) -> Pace:
    """By the flower where flowers are known, unless the farm timed trees and not flowers."""
    an_hour, a_tree = figures["flowers-per-hour"], figures["minutes-per-tree-visit"]
    prefers = wished or ("tree" if a_tree.is_own and not an_hour.is_own else "flower")
    known = value_of(figures, "flowers-per-tree") is not None
    if known and prefers == "flower" and an_hour.value is not None:
        walk = value_of(figures, "walk-minutes-per-tree") or 0.0
        return ByFlower(flowers_per_hour=an_hour.value, walk_minutes_per_tree=walk)
    return ByTree(minutes_per_tree=_needed(figures, "minutes-per-tree-visit"))


def _target(figures: Figures) -> Target | None:
    """None also where the flowers of a tree were never counted: no share of them can be named."""
    fruit, flowers = (
        value_of(figures, name) for name in ("target-fruit-per-tree", "flowers-per-tree")
    )
    sets, stays = (value_of(figures, f"expected-{name}") for name in ("set", "retention"))
    if fruit is None or sets is None or stays is None or flowers is None:
        return None
    return Target(fruit_per_tree=fruit, expected_set=sets, expected_retention=stays)


def _set_and_retention(figures: Figures) -> float | None:
    sets, stays = (value_of(figures, f"expected-{name}") for name in ("set", "retention"))
    return None if sets is None or stays is None else sets * stays


def _visits(rounds: Sequence[Round], spacing_days: int) -> list[DoneVisit]:
    """Rounds that follow within less than the days between two visits are one visit."""
    visits: list[list[Round]] = []
    for each in rounds:
        if visits and (each.on - visits[-1][0].on).days < spacing_days:
            visits[-1].append(each)
        else:
            visits.append([each])
    return [
        DoneVisit(on=found[-1].on, flowers=sum(each.flowers for each in found)) for found in visits
    ]


def _needed(figures: Figures, name: str) -> float:
    value = value_of(figures, name)
    if value is None:
        raise LabourError(figures[name].reason)
    return value
