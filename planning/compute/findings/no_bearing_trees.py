"""Fruit on a block on which no tree bears on that day.

None stands, all that stand are younger than their bearing age, or all are marked non-bearing.
Where no trees are recorded nothing is known, and nothing is found. A count of nought needs no
comparison: the threshold is a single weighing.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.findings.values import Finding, FindingKind, Row, RowKind, Sure, shown
from planning.compute.findings.words import counted, days_of, kilos, sentence, where

THRESHOLD = "No tree of the block bears on the day, though trees are recorded there."


@dataclass(frozen=True, slots=True, kw_only=True)
class Trees:
    """A block's trees on a day: how many stand, and how many of them bear."""

    standing: int
    bearing: int


def no_bearing_trees(
    rows: Sequence[Row], trees: Mapping[tuple[UUID, dt.date], Trees]
) -> Iterator[Finding]:
    """A block's weighings of a season together. `trees` knows those days that are known."""
    found: dict[Hashable, list[tuple[Row, Trees]]] = defaultdict(list)
    for row in rows:
        known = trees.get((row.block, row.day)) if row.block else None
        if row.kind is RowKind.WEIGHING and known and known.bearing == 0:
            found[row.block, row.season_year].append((row, known))
    for group in found.values():
        yield _finding([row for row, _ in group], min(group, key=lambda each: each[0].day)[1])


def _finding(rows: Sequence[Row], trees: Trees) -> Finding:
    net_g = sum(row.net_g or 0 for row in rows)
    why = (
        f"none of its {trees.standing} trees bears then"
        if trees.standing
        else "no tree stands there then"
    )
    return Finding(
        kind=FindingKind.NO_BEARING_TREES,
        about=rows,
        sentence=sentence(
            f"{counted(rows)} {days_of(rows)}{where(rows)}: {kilos(net_g)}, but {why}."
        ),
        sure=Sure.HIGH,
        evidence={
            "threshold": THRESHOLD,
            "net_kg": round(net_g / 1000, 3),
            "standing_trees": trees.standing,
            "bearing_trees": trees.bearing,
            "n": len(rows),
            "rows": shown(rows),
        },
    )
