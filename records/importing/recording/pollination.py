"""Pollination rounds, and counts of what set, from the rows of a file."""

from collections.abc import Iterable
from typing import Any

from records.importing.cells import Fault
from records.importing.counts import MARKED, FruitCountRow
from records.importing.recording.drafts import Draft, Recording
from records.importing.recording.field import TREE
from records.importing.recording.seeking import Seeker
from records.importing.rounds import PollinationRoundRow
from records.models import Block, Cultivar, FruitCount, PollinationRound, Tree

SHOWN = 3
ROUND = ("pollinated_on", "flowers_looked_at")


def pollination_round(seek: Seeker) -> Draft:
    """Known by day, block, trees, mother cultivar, method, pollen and bagging."""
    row: PollinationRoundRow = seek.row
    block, day = seek.thing("block"), row.pollinated_on
    cultivar, batch = seek.thing("cultivar"), seek.batch(day)
    trees = _trees(seek, block)
    return Draft(
        key=(day, block, trees, cultivar, row.method, batch, row.is_bagged),
        facts={
            "block": block,
            "cultivar": cultivar,
            "method": row.method,
            "pollen_batch": batch,
            "is_bagged": row.is_bagged,
            "pollinated_on": day,
            "started_at": row.started_at,
            "flowers": row.flowers,
            "people": list(row.people),
            "minutes": row.minutes,
            "note": row.note,
        },
        below={"trees": trees},
    )


def _trees(seek: Seeker, block: Block | None) -> list[Tree]:
    row: PollinationRoundRow = seek.row
    day, first, last = row.pollinated_on, row.first_position, row.last_position
    if first is not None:
        return seek.trees_between(block, day, first, last)
    return seek.trees(block, day, None)


def fruit_count(seek: Seeker) -> Draft:
    """Known by day, block, tree, kind of count and the rounds that it is of."""
    row: FruitCountRow = seek.row
    block, day = seek.thing("block"), row.counted_on
    trees = seek.trees(block, day, row.position)
    cultivar = seek.thing("cultivar")
    rounds = _rounds(seek, block, trees, cultivar) if row.counted == MARKED else []
    return Draft(
        key=(day, block, trees, row.kind, row.counted, rounds),
        facts={
            "block": block,
            "counted_on": day,
            "kind": row.kind,
            "counted": row.counted,
            "flowers_looked_at": row.flowers_looked_at,
            "trees_looked_at": row.trees_looked_at,
            "fruit": row.fruit,
            "thinned_because": row.thinned_because,
            "people": list(row.people),
            "minutes": row.minutes,
            "note": row.note,
        },
        below={"rounds": rounds, "trees": trees},
    )


def _rounds(
    seek: Seeker, block: Block | None, trees: list[Tree], cultivar: Cultivar | None
) -> list[PollinationRound]:
    """All rounds of the day that marks do not tell apart, as far as the row says which."""
    if block is None or seek.problems:
        return []
    row: FruitCountRow = seek.row
    by_then = [r for r in seek.ground.rounds[block.pk] if r.pollinated_on <= row.counted_on]
    meant = [one for one in by_then if _is_meant(one, row, trees, cultivar)]
    fault = _fault(row, meant, by_then)
    if fault is None:
        return meant
    seek.blame(fault, *ROUND)
    return []


def _is_meant(
    round_: PollinationRound, row: FruitCountRow, trees: list[Tree], cultivar: Cultivar | None
) -> bool:
    of_round = set(round_.trees.all())
    batch = round_.pollen_batch.name.casefold() if round_.pollen_batch else ""
    return (
        row.pollinated_on in (None, round_.pollinated_on)
        and row.method in ("", round_.method)
        and row.pollen_batch.casefold() in ("", batch)
        and (cultivar is None or cultivar.pk == round_.cultivar_id)
        and (not trees or not of_round or of_round.issuperset(trees))
    )


def _fault(
    row: FruitCountRow, meant: list[PollinationRound], by_then: list[PollinationRound]
) -> Fault | None:
    """No round, or rounds that one share cannot stand for."""
    if not meant:
        known = f"Days of rounds are {_days(by_then)}." if by_then else "It has no round by then."
        return Fault("unknown-round", f"No round of this block fits. {known}")
    if len({round_.pollinated_on for round_ in meant}) > 1:
        detail = f"Say the day of the round whose flowers were looked at: {_days(meant)}."
        return Fault("ambiguous-round", detail)
    if len({(one.cultivar_id, one.method, one.pollen_batch_id) for one in meant}) > 1:
        detail = "The rounds of that day differ. Say the cultivar, the method or the pollen too."
        return Fault("ambiguous-round", detail)
    return None


def _days(rounds: Iterable[Any]) -> str:
    """The last few days, the nearest to the count."""
    days = sorted({round_.pollinated_on for round_ in rounds})
    more = "earlier ones, " if len(days) > SHOWN else ""
    return more + ", ".join(map(str, days[-SHOWN:]))


POLLINATION_ROUNDS = Recording(
    model=PollinationRound,
    draft=pollination_round,
    said_in={"trees": ("positions", "tree", "row"), "is_bagged": ("is_bagged", "method")},
)
FRUIT_COUNTS = Recording(
    model=FruitCount,
    draft=fruit_count,
    said_in={"trees": TREE, "rounds": ROUND, "counted": ("flowers_looked_at", "trees_looked_at")},
)
