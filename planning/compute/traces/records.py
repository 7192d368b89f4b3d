"""The records of each event in a trace, in their elements, and which of these are blank."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from planning.compute.traces.elements import (
    CODE,
    COOLED_AT,
    COOLED_ON,
    DOCUMENT,
    EVENTS,
    FARM,
    FIELD,
    FRUIT,
    HARVESTED,
    HARVESTER,
    HARVESTER_PHONE,
    PACK_UNIT,
    PACKED_AT,
    PACKED_ON,
    PRODUCT,
    QUANTITY,
    QUANTITY_PACKED,
    QUANTITY_RECEIVED,
    RECEIVED_ON,
    RECIPIENT,
    SHIPPED_FROM,
    SHIPPED_ON,
    SOURCE,
    UNIT,
    UNIT_PACKED,
    UNIT_RECEIVED,
    UNITS_PACKED,
    Event,
)
from planning.compute.traces.values import (
    Business,
    Delivery,
    Facts,
    Fruit,
    Intake,
    Key,
    Kind,
    Link,
    Lot,
    Node,
    Trace,
    TraceError,
    Weighing,
)

Value = str | float | date | None
F = TypeVar("F", bound=Facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRecord:
    """One event by the names of its elements; `missing` names the blank ones, or what they lack."""

    event: Event
    values: dict[str, Value]
    missing: tuple[str, ...]


def records_of(trace: Trace) -> list[TraceRecord]:
    """A record for each weighing of a delivery, cooled intake, line of a lot, and shipped lot."""
    steps = _Steps(trace)
    return [*_harvestings(steps), *_coolings(steps), *_packings(steps), *_shippings(steps)]


class _Steps:
    """A trace's nodes and links by kind."""

    def __init__(self, trace: Trace) -> None:
        self.nodes = {node.key: node for node in trace.nodes}
        self.links = trace.links
        self._sources: dict[Key, list[Node]] = defaultdict(list)
        self._targets: dict[Key, list[Node]] = defaultdict(list)
        for link in trace.links:
            self._sources[link.target].append(self.nodes[link.source])
            self._targets[link.source].append(self.nodes[link.target])

    def of(self, kind: Kind) -> Iterator[Node]:
        return (node for node in self.nodes.values() if node.key.kind is kind)

    def lines(self) -> Iterator[tuple[Node, Node, Link]]:
        """What of each intake went into each lot."""
        for link in self.links:
            if link.target.kind is Kind.LOT:
                yield self.nodes[link.source], self.nodes[link.target], link

    def sources(self, node: Node, kind: Kind) -> list[Node]:
        return [found for found in self._sources[node.key] if found.key.kind is kind]

    def targets(self, node: Node, kind: Kind) -> list[Node]:
        return [found for found in self._targets[node.key] if found.key.kind is kind]


def _harvestings(steps: _Steps) -> Iterator[TraceRecord]:
    for node in steps.of(Kind.WEIGHING):
        deliveries = steps.targets(node, Kind.DELIVERY)
        for delivery in deliveries:
            yield _harvesting(node, delivery, steps)
        if not deliveries:
            yield _harvesting(node, None, steps)


def _harvesting(node: Node, delivery: Node | None, steps: _Steps) -> TraceRecord:
    facts = _facts(node, Weighing)
    docket = _docket("delivery docket", _facts(delivery, Delivery).docket if delivery else "")
    return _record(
        Event.HARVESTING,
        {
            RECIPIENT: _place(_recipient(delivery, steps)),
            FRUIT: _fruit(facts.fruit),
            **_quantity(node, facts.fruit_count),
            FARM: _place(facts.harvester),
            FIELD: facts.block,
            HARVESTED: node.on,
            DOCUMENT: docket or _docket("weighing docket", facts.docket),
            HARVESTER: facts.harvester.name,
            HARVESTER_PHONE: facts.harvester.phone,
        },
    )


def _recipient(delivery: Node | None, steps: _Steps) -> Business | None:
    if delivery is None:
        return None
    if named := _facts(delivery, Delivery).recipient:
        return named
    intakes = steps.targets(delivery, Kind.INTAKE)
    return _facts(intakes[0], Intake).receiver if intakes else None


def _coolings(steps: _Steps) -> Iterator[TraceRecord]:
    for node in steps.of(Kind.INTAKE):
        facts = _facts(node, Intake)
        if facts.cooled_on or facts.cooling_location:
            yield _record(
                Event.COOLING,
                {
                    RECIPIENT: _place(facts.receiver),
                    FRUIT: _fruit(facts.fruit),
                    **_quantity(node),
                    COOLED_AT: facts.cooling_location,
                    COOLED_ON: facts.cooled_on,
                    FARM: _place(facts.harvester),
                    DOCUMENT: _docket("intake docket", facts.docket),
                },
            )


def _packings(steps: _Steps) -> Iterator[TraceRecord]:
    for intake, lot, link in steps.lines():
        yield _packing(intake, lot, link, _picked(intake, steps))


def _picked(intake: Node, steps: _Steps) -> list[Node]:
    """The weighings of the intake's delivery."""
    deliveries = steps.sources(intake, Kind.DELIVERY)
    return [node for delivery in deliveries for node in steps.sources(delivery, Kind.WEIGHING)]


def _packing(intake: Node, lot: Node, link: Link, picked: Sequence[Node]) -> TraceRecord:
    received, packed = _facts(intake, Intake), _facts(lot, Lot)
    blocks = sorted({_facts(node, Weighing).block for node in picked}) or [received.block]
    days = sorted({node.on.isoformat() for node in picked if node.on})
    return _record(
        Event.PACKING,
        {
            FRUIT: _fruit(received.fruit),
            RECEIVED_ON: intake.on,
            QUANTITY_RECEIVED: _kg(intake.net_g),
            UNIT_RECEIVED: "kg",
            FARM: _place(received.harvester),
            FIELD: "; ".join(blocks),
            HARVESTER: received.harvester.name,
            HARVESTER_PHONE: received.harvester.phone,
            HARVESTED: "; ".join(days),
            COOLED_AT: received.cooling_location,
            COOLED_ON: received.cooled_on,
            CODE: packed.code,
            PRODUCT: packed.product,
            QUANTITY_PACKED: _kg(link.net_g),
            UNIT_PACKED: "kg",
            UNITS_PACKED: packed.pack_count,
            PACK_UNIT: packed.pack_unit,
            PACKED_AT: _place(packed.packer),
            PACKED_ON: lot.on,
            DOCUMENT: packed.packing_document or _docket("intake docket", received.docket),
        },
    )


def _shippings(steps: _Steps) -> Iterator[TraceRecord]:
    for node in steps.of(Kind.LOT):
        facts = _facts(node, Lot)
        if facts.shipped_on or facts.shipped_to:
            yield _shipping(facts)


def _shipping(lot: Lot) -> TraceRecord:
    recipient = ", ".join(part for part in (lot.shipped_to, lot.shipped_to_location) if part)
    lacks = () if lot.shipped_to_location else ("phone and address",)
    return _record(
        Event.SHIPPING,
        {
            CODE: lot.code,
            QUANTITY: lot.shipped_count,
            UNIT: lot.pack_unit,
            PRODUCT: lot.product,
            RECIPIENT: _Described(recipient, lacks if lot.shipped_to else ("name", *lacks)),
            SHIPPED_FROM: _place(lot.packer),
            SHIPPED_ON: lot.shipped_on,
            SOURCE: _place(lot.packer),
            DOCUMENT: lot.shipping_document,
        },
    )


# Cells -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Described:
    """A text that is made of parts, and the parts that it lacks."""

    text: str
    lacks: tuple[str, ...] = ()


def _record(event: Event, cells: dict[str, Value | _Described]) -> TraceRecord:
    missing = []
    for element in EVENTS[event]:
        cell = cells[element.name]
        lacks = cell.lacks if isinstance(cell, _Described) else ()
        text = cell.text if isinstance(cell, _Described) else cell
        if text in (None, "") and not element.is_optional:
            missing.append(element.name)
        elif lacks:
            missing.append(f"{element.name} ({', '.join(lacks)})")
    values = {
        name: (cell.text if isinstance(cell, _Described) else cell) or None
        for name, cell in cells.items()
    }
    return TraceRecord(event=event, values=values, missing=tuple(missing))


def _place(business: Business | None) -> _Described:
    """A location description: name, phone, and address or coordinates (21 CFR 1.1310)."""
    if business is None:
        return _Described("")
    if not business.is_told:
        return _Described(business.code, ("not shared",))
    parts = {"name": business.name, "phone": business.phone, "address": business.place}
    lacks = tuple(name for name, value in parts.items() if not value)
    return _Described(", ".join(value for value in parts.values() if value), lacks)


def _fruit(fruit: Fruit) -> _Described:
    return _Described(str(fruit), () if fruit.cultivar else ("variety",))


def _quantity(node: Node, fruit_count: int | None = None) -> dict[str, Value | _Described]:
    """Kilos as weighed; else fruit as counted; else kilos as estimated, which is said."""
    if node.net_g is None and fruit_count is not None:
        return {QUANTITY: fruit_count, UNIT: "fruit"}
    if node.net_g is None and node.estimated_g is not None:
        return {QUANTITY: _kg(node.estimated_g), UNIT: "kg, estimated"}
    return {QUANTITY: _kg(node.net_g), UNIT: "kg"}


def _kg(grams: int | None) -> float | None:
    return None if grams is None else grams / 1000


def _docket(kind: str, number: str) -> str:
    return f"{kind} {number}" if number else ""


def _facts(node: Node, kind: type[F]) -> F:
    if not isinstance(node.facts, kind):
        raise TraceError(f"{node.label} is no {kind.__name__.lower()}")
    return node.facts
