"""Mean fruit weight outside what is published of the species.

Each species' lightest and heaviest fruit are figures with a source (`fruit-weight-least` and
`fruit-weight-most`), which a farm may replace by its own; without both there is no check.

The thresholds, and why:

* `MARGIN` a quarter beyond the range: it is one of single fruit, so that a mean has left it long
  before; but published ranges do not cover every cultivar
* `LEAST_FRUIT` in a weighing: fewer may be freaks
* culls are left out: they may be culled for their size
"""

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

import numpy as np

from planning.compute.findings.values import Finding, FindingKind, Row, RowKind, Sure, shown
from planning.compute.findings.words import counted, days_of, sentence, where

MARGIN, LEAST_FRUIT = 1.25, 5
THRESHOLD = (
    "A mean of at least 5 fruit, a quarter or more beyond the cited range of the species; culls"
    " are left out."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Lightest and heaviest fruit of a species, and who says so."""

    least_g: float
    most_g: float
    source: str

    def holds(self, mean_g: float) -> bool:
        return self.least_g / MARGIN <= mean_g <= self.most_g * MARGIN


def fruit_weights(rows: Sequence[Row], ranges: Mapping[UUID, Range]) -> Iterator[Finding]:
    """Weighings of one source, day and cultivar together; `ranges` by cultivar."""
    found: dict[Hashable, list[tuple[Row, Range]]] = defaultdict(list)
    for row in rows:
        cited = ranges.get(row.cultivar) if row.cultivar else None
        if row.kind is RowKind.WEIGHING and cited and _is_outside(row, cited):
            found[row.source, row.day, row.cultivar].append((row, cited))
    for group in found.values():
        yield _finding([row for row, _ in group], group[0][1])


def _is_outside(row: Row, cited: Range) -> bool:
    if row.is_cull or not row.net_g or not row.fruit_count or row.fruit_count < LEAST_FRUIT:
        return False
    return not cited.holds(row.net_g / row.fruit_count)


def _finding(rows: Sequence[Row], cited: Range) -> Finding:
    mean_g = float(np.median([(row.net_g or 0) / (row.fruit_count or 1) for row in rows]))
    text = (
        f"{counted(rows)} {days_of(rows)}{where(rows)}: {mean_g:,.0f} g a fruit of"
        f" {rows[0].cultivar_name}, where {cited.least_g:,.0f} to {cited.most_g:,.0f} g is"
        f" published ({cited.source})."
    )
    return Finding(
        kind=FindingKind.FRUIT_WEIGHT,
        about=rows,
        sentence=sentence(text),
        sure=Sure.MEDIUM,
        evidence={
            "threshold": THRESHOLD,
            "mean_fruit_g": round(mean_g, 1),
            "least_g": cited.least_g,
            "most_g": cited.most_g,
            "source": cited.source,
            "n": sum(row.fruit_count or 0 for row in rows),
            "rows": shown(rows),
        },
    )
