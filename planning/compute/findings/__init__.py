"""What in a farm's weighings and intakes somebody must look at, with evidence and a fix.

One module a rule; each says its thresholds and why, and needs a least number of comparisons. The
rules know no farm: they take rows as plain values.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from planning.compute.findings.at_intake import Load
from planning.compute.findings.fruit_weights import Range, fruit_weights
from planning.compute.findings.no_bearing_trees import Trees, no_bearing_trees
from planning.compute.findings.recorded_twice import recorded_twice
from planning.compute.findings.swapped_dates import swapped_dates
from planning.compute.findings.tenfold_slips import tenfold_slips
from planning.compute.findings.unit_slips import unit_slips
from planning.compute.findings.values import (
    Change,
    Finding,
    FindingKind,
    Fix,
    Row,
    RowKind,
    Sure,
)

__all__ = [
    "Change",
    "Finding",
    "FindingKind",
    "Fix",
    "Ground",
    "Load",
    "Range",
    "Row",
    "RowKind",
    "Sure",
    "Trees",
    "findings",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """All that the rules look at on one farm."""

    rows: Sequence[Row]
    today: dt.date
    loads: Sequence[Load] = ()
    trees: Mapping[tuple[UUID, dt.date], Trees] = field(default_factory=dict)
    ranges: Mapping[UUID, Range] = field(default_factory=dict)


def findings(ground: Ground) -> list[Finding]:
    """Everything found. A fruit weight that a slip explains is not told a second time."""
    rows = ground.rows
    slipped = [*unit_slips(rows, ground.loads), *tenfold_slips(rows, ground.loads)]
    explained = {row.id for finding in slipped for row in finding.about}
    unexplained = [row for row in rows if row.id not in explained]
    return [
        *slipped,
        *swapped_dates(rows, ground.today),
        *recorded_twice(rows),
        *no_bearing_trees(rows, ground.trees),
        *fruit_weights(unexplained, ground.ranges),
    ]
