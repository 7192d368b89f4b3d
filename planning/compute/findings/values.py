"""What the rules look at, and what they find.

A `Row` is a weighing or an intake as it is stored; a `Finding` says which rows look wrong, on what
evidence, how sure that is and how they would be put right.
"""

import datetime as dt
import hashlib
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any, TypeVar
from uuid import UUID

Each = TypeVar("Each")

SHOWN_ROWS = 20  # of a comparison's own rows, so many are named


class RowKind(StrEnum):
    """As the API names the resources."""

    WEIGHING = "harvest-weights"
    INTAKE = "intakes"


class FindingKind(StrEnum):
    UNIT_SLIP = "unit-slip"
    TENFOLD_SLIP = "tenfold-slip"
    SWAPPED_DATE = "swapped-date"
    RECORDED_TWICE = "recorded-twice"
    NO_BEARING_TREES = "no-bearing-trees"
    FRUIT_WEIGHT = "fruit-weight"


class Sure(StrEnum):
    """`low`: one of two things is wrong, and the figures do not say which."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A weighing or an intake.

    `weight` is as entered, in `unit`; `tare_g` what was taken off it, of all containers; `net_g`
    is None where there was no scale. `source` is the file that the row came in by, None where a
    person or an app entered it; `number` orders rows as they were recorded.
    """

    kind: RowKind
    id: UUID
    version: int
    number: int
    day: dt.date
    season_year: int
    season_label: str
    block: UUID | None = None
    block_code: str = ""
    weight: Decimal | None = None
    unit: str = ""
    tare_g: int = 0
    net_g: int | None = None
    containers: int | None = None
    container: str = ""
    usual_net_g: int | None = None
    fruit_count: int | None = None
    cultivar: UUID | None = None
    cultivar_name: str = ""
    species: str = ""
    grade: str = ""
    is_cull: bool = False
    docket: str = ""
    source: UUID | None = None
    source_name: str = ""
    co_op: UUID | None = None

    @property
    def batch(self) -> Hashable:
        """Rows that came in together, and so share a slip: a file's, of one season."""
        return self.source, self.season_year

    @property
    def said(self) -> tuple[object, ...]:
        """What the row says, as far as any rule looks at it."""
        return (
            *(self.id, self.day, self.block, self.weight, self.unit, self.tare_g, self.net_g),
            *(self.containers, self.container, self.fruit_count, self.cultivar, self.docket),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Fields of one row that a fix sets, at the version that was looked at; or its retirement."""

    kind: RowKind
    id: UUID
    version: int
    fields: Mapping[str, str] = field(default_factory=dict)
    was: Mapping[str, str] = field(default_factory=dict)
    retires: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """What would put the rows right; `effect_g` is by how much their net would change."""

    sentence: str
    changes: Sequence[Change]
    effect_g: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Rows that look wrong. `evidence` holds numbers with their units, ready for JSON."""

    kind: FindingKind
    about: Sequence[Row]
    sentence: str
    sure: Sure
    evidence: Mapping[str, Any]
    fix: Fix | None = None

    @property
    def key(self) -> str:
        """The same as long as the rows say the same, whatever else is recorded."""
        said = sorted(repr(row.said) for row in self.about)
        digest = hashlib.sha256("\n".join([self.kind, *said]).encode()).hexdigest()[:32]
        return f"{self.kind}:{digest}"

    @property
    def about_on(self) -> dt.date:
        return min(row.day for row in self.about)

    @property
    def first(self) -> Row:
        return min(self.about, key=lambda row: (row.day, row.number))


def only(values: Sequence[Each]) -> Each | None:
    """What all have in common, if anything."""
    return values[0] if len(set(values)) == 1 else None


def shown(rows: Sequence[Row]) -> list[str]:
    """The ids of the first of them."""
    return [str(row.id) for row in rows[:SHOWN_ROWS]]
