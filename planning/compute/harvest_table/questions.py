"""What a table is asked for: how it is grouped, and which fruit it is of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from uuid import UUID

from planning.compute.bases import Basis


class TableError(ValueError):
    """The table cannot be grouped or limited so."""


class Key(StrEnum):
    """What rows can be grouped by; grades are the co-op's unless they are the farm's own."""

    MEMBER = "member"
    BLOCK = "block"
    CULTIVAR = "cultivar"
    SPECIES = "species"
    GRADE = "grade"
    FARM_GRADE = "farm-grade"
    WEEK = "week"
    MONTH = "month"
    SEASON = "season"
    CROP = "crop"


# Groups by these have trees and hectares of their own.
GROUND_KEYS = frozenset({Key.MEMBER, Key.BLOCK, Key.CULTIVAR, Key.SPECIES, Key.SEASON})


class Filter(StrEnum):
    """What a table can be of, besides days, a season and a basis."""

    MEMBER = "member"
    BLOCK = "block"
    CULTIVAR = "cultivar"
    SPECIES = "species"
    GRADE = "grade"
    FARM_GRADE = "farm-grade"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question; `basis` None goes by each member's own, `year` by each farm's own season."""

    keys: tuple[Key, ...]
    year: int | None = None
    first_on: date | None = None
    last_on: date | None = None
    basis: Basis | None = None
    filters: Mapping[Filter, UUID] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if len(set(self.keys)) < len(self.keys):
            raise TableError("the table is grouped twice by the same")
        if self.first_on and self.last_on and self.first_on > self.last_on:
            raise TableError("the last day is before the first")


def keys_of(text: str) -> tuple[Key, ...]:
    """From "member,cultivar"; nothing is the co-op as a whole."""
    names: Sequence[str] = [name.strip() for name in text.split(",")] if text.strip() else []
    try:
        keys = tuple(Key(name) for name in names)
    except ValueError:
        known = ", ".join(Key)
        raise TableError(f"a table is grouped by any of {known}, with commas between") from None
    if len(set(keys)) < len(keys):
        raise TableError("each is named once")
    return keys
