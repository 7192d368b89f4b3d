"""The plain values of a trace: what was recorded on the way from tree to lot, and its links."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class TraceError(ValueError):
    """The values cannot belong to one trace."""


class Kind(StrEnum):
    """What a node is; fruit goes from the last of these to the first."""

    LOT = "lot"
    INTAKE = "intake"
    DELIVERY = "delivery"
    WEIGHING = "harvest-weight"
    BLOCK = "block"
    TREE = "tree"
    PICKING_DAY = "picking-day"


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Key:
    """A node's kind and its record's id; of a picking day "farm id/2026-09-10"."""

    kind: Kind
    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Business:
    """A farm or co-op as a location description names it (21 CFR 1.1310): name, phone, address
    or coordinates. `is_told` is False where it may not be shown to who asks."""

    id: str
    code: str
    name: str = ""
    phone: str = ""
    place: str = ""
    is_told: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Fruit:
    """Commodity and variety, as far as they are known."""

    species: str = ""
    cultivar: str = ""

    def __str__(self) -> str:
        return ", ".join(part for part in (self.species, self.cultivar) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """Fruit as it was picked; `estimated_g` only where there was no scale."""

    fruit: Fruit
    block: str
    docket: str
    harvester: Business
    fruit_count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    docket: str
    recipient: Business | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What a shed received; `block` as the shed noted it."""

    fruit: Fruit
    block: str
    docket: str
    harvester: Business
    receiver: Business
    cooled_on: date | None
    cooling_location: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """What was packed under one code; `is_packers_view` is False for a farm in a co-op's lot."""

    code: str
    packer: Business
    is_packers_view: bool
    product: str
    pack_unit: str
    pack_count: int | None
    packing_document: str
    shipped_on: date | None
    shipped_to: str
    shipped_to_location: str
    shipped_count: int | None
    shipping_document: str


Facts = Weighing | Delivery | Intake | Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One record of the chain. `net_g` is what a scale said, `estimated_g` told apart."""

    key: Key
    label: str
    farm: str | None = None
    on: date | None = None
    net_g: int | None = None
    estimated_g: int | None = None
    facts: Facts | None = None

    def __post_init__(self) -> None:
        if min(self.net_g or 0, self.estimated_g or 0) < 0:
            raise TraceError(f"{self.label} has a negative weight")


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Link:
    """Fruit that went from `source` on to `target`; grams where the records say how many."""

    source: Key
    target: Key
    net_g: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """What was found from the record, or the records, at which a trace starts.

    `hidden_back` and `hidden_on` are nodes behind which, or after which, there is more that may
    not be shown to who asks.
    """

    starts: tuple[Key, ...]
    nodes: Mapping[Key, Node]
    links: Sequence[Link]
    hidden_back: frozenset[Key] = frozenset()
    hidden_on: frozenset[Key] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Something that the chain lacks, at these nodes; `net_g` where it is about kilos."""

    code: str
    reason: str
    nodes: tuple[Key, ...]
    net_g: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A chain in order: nodes from tree to lot, links, and what is missing."""

    starts: tuple[Key, ...]
    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    missing: tuple[Gap, ...]
