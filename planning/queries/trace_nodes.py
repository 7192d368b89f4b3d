"""The records of a trace as plain values, kind by kind, each as far as the caller may see it.

A harvest share shows no deliveries and no lots, no cooling, and of a farm its code alone. But the
co-op that received an intake is told what the harvester has to give to who packs (21 CFR
1.1325(a)(2), from memory): business name, phone and location, and the delivery that leads to
picking days. Nobody else's view widens by a trace.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from orchard.access import Area, Caller
from planning.compute.traces import (
    Business,
    Delivery,
    Fruit,
    Intake,
    Key,
    Kind,
    Link,
    Lot,
    Node,
    Weighing,
)
from records import models


@dataclass(slots=True, kw_only=True)
class Found:
    """The nodes that the caller sees, links of fruit to where and when it was picked, and where
    something is that may not be shown."""

    nodes: dict[Key, Node] = field(default_factory=dict)
    places: list[Link] = field(default_factory=list)
    hidden_back: frozenset[Key] = frozenset()
    hidden_on: frozenset[Key] = frozenset()


def read_nodes(keys: Iterable[Key], links: Sequence[Link], caller: Caller) -> Found:
    """The records behind the keys, in one query a kind."""
    reading = _Reading(keys, links, caller)
    reading.read()
    return reading.found


class _Reading:
    def __init__(self, keys: Iterable[Key], links: Sequence[Link], caller: Caller) -> None:
        self.caller, self.links = caller, links
        self.found = Found()
        self.links_to: dict[Key, list[Link]] = defaultdict(list)
        self.targets: dict[Key, list[Key]] = defaultdict(list)
        for link in links:
            self.links_to[link.target].append(link)
            self.targets[link.source].append(link.target)
        self.retired: set[Key] = set()
        self.packs_for = set(caller.co_ops_with("reads", Area.HARVEST))
        self.ids: dict[Kind, list[str]] = defaultdict(list)
        for key in keys:
            self.ids[key.kind].append(key.id)

    def read(self) -> None:
        intakes = self._rows(Kind.INTAKE, models.Intake, "cultivar__species", "co_op", "block")
        deliveries = self._rows(Kind.DELIVERY, models.Delivery, "co_op")
        weights = self._rows(Kind.WEIGHING, models.HarvestWeight, "cultivar__species", "block")
        lots = self._rows(Kind.LOT, models.Lot, "co_op")
        trees = self._rows(Kind.TREE, models.Tree)
        rows = [*intakes, *deliveries, *weights, *lots, *trees]
        self.farms = self._farms(row.farm_id for row in rows)
        received_here = {each.delivery_id for each in intakes if self._packs(each.co_op_id)}
        for intake in intakes:
            self._add_intake(intake)
        for delivery in deliveries:
            told = self._packs(delivery.co_op_id) or delivery.pk in received_here
            if told or not delivery.limited:
                self._add_delivery(delivery)
        for weight in weights:
            self._add_weighing(weight)
        for lot in lots:
            if not lot.limited:
                self._add_lot(lot)
        for tree in trees:
            self._add(Kind.TREE, tree, f"tree {tree}")
        self._hide()

    def _rows(self, kind: Kind, model: Any, *related: str) -> list[Any]:
        if not self.ids[kind]:
            return []
        rows = model.objects.visible_to(self.caller).filter(pk__in=self.ids[kind])
        found = list(rows.prefetch_related(None).select_related(*related).order_by("pk"))
        if kind in (Kind.LOT, Kind.TREE):
            return found
        self.retired |= {_key(kind, row) for row in found if row.retired_on is not None}
        return [row for row in found if row.retired_on is None]

    def _farms(self, ids: Iterable[UUID | None]) -> Mapping[Any, models.Farm]:
        found: Any = models.Farm.objects.all().visible_to(self.caller)
        farms: dict[Any, models.Farm] = found.in_bulk({each for each in ids if each is not None})
        return farms

    def _packs(self, co_op_id: UUID | None) -> bool:
        """Whether the caller speaks for the co-op that received the fruit."""
        return co_op_id is not None and (
            self.caller.is_platform_admin or co_op_id in self.packs_for
        )

    # Nodes -----------------------------------------------------------------------------------

    def _add(self, kind: Kind, row: Any, label: str, **values: Any) -> Key:
        key = _key(kind, row)
        farm = self.farms.get(row.farm_id)
        self.found.nodes[key] = Node(
            key=key, label=label, farm=farm.code if farm else None, **values
        )
        return key

    def _add_lot(self, lot: Any) -> None:
        packer = _co_op(lot.co_op) if lot.co_op else self._farm(lot.farm_id, is_told=True)
        facts = Lot(
            code=lot.code,
            packer=packer,
            is_packers_view=not lot.of_others,
            **{name: getattr(lot, name) for name in LOT_FACTS},
        )
        held = self.links_to[_key(Kind.LOT, lot)]
        seen = [link.net_g or 0 for link in held if link.source in self.found.nodes]
        self._add(Kind.LOT, lot, f"lot {lot}", on=lot.packed_on, net_g=sum(seen), facts=facts)

    def _add_intake(self, intake: Any) -> None:
        packs = self._packs(intake.co_op_id)
        is_told = packs or not intake.limited
        own_shed = self._farm(intake.farm_id, is_told=is_told)
        facts = Intake(
            fruit=_fruit(intake),
            block=intake.block.code if intake.block else "",
            docket=intake.docket,
            harvester=own_shed,
            receiver=_co_op(intake.co_op) if intake.co_op else own_shed,
            cooled_on=intake.cooled_on if is_told else None,
            cooling_location=intake.cooling_location if is_told else "",
        )
        key = self._add(
            Kind.INTAKE,
            intake,
            _label("intake", intake.docket, intake.received_on),
            on=intake.received_on,
            net_g=intake.net_g,
            facts=facts,
        )
        if intake.block and intake.delivery_id is None:
            self._link_block(intake.block, key, intake.net_g)

    def _add_delivery(self, delivery: Any) -> None:
        facts = Delivery(
            docket=delivery.docket, recipient=_co_op(delivery.co_op) if delivery.co_op else None
        )
        label = _label("delivery", delivery.docket, delivery.delivered_on)
        self._add(Kind.DELIVERY, delivery, label, on=delivery.delivered_on, facts=facts)

    def _add_weighing(self, weight: Any) -> None:
        facts = Weighing(
            fruit=_fruit(weight),
            block=weight.block.code,
            docket=weight.docket,
            harvester=self._farm(weight.farm_id, is_told=self._is_told_of(weight)),
            fruit_count=weight.fruit_count,
        )
        key = self._add(
            Kind.WEIGHING,
            weight,
            f"weighing of {weight.picked_on} in {weight.block}",
            on=weight.picked_on,
            net_g=weight.net_g,
            estimated_g=None if weight.net_g is not None else weight.estimated_from_containers_g,
            facts=facts,
        )
        self._link_block(weight.block, key, weight.net_g)
        day = Key(kind=Kind.PICKING_DAY, id=f"{weight.farm_id}/{weight.picked_on}")
        farm = self.farms.get(weight.farm_id)
        self.found.nodes[day] = Node(
            key=day,
            label=f"picking of {weight.picked_on}",
            farm=farm.code if farm else None,
            on=weight.picked_on,
        )
        self.found.places.append(Link(source=day, target=key, net_g=weight.net_g))

    def _link_block(self, block: Any, target: Key, net_g: int | None) -> None:
        key = self._add(Kind.BLOCK, block, f"block {block}")
        self.found.places.append(Link(source=key, target=target, net_g=net_g))

    # Who may be told -------------------------------------------------------------------------

    def _is_told_of(self, weight: Any) -> bool:
        """A weighing that a shown delivery holds is told in full to who received that."""
        deliveries = self.targets[_key(Kind.WEIGHING, weight)]
        return not weight.limited or any(key in self.found.nodes for key in deliveries)

    def _farm(self, farm_id: UUID, *, is_told: bool) -> Business:
        farm = self.farms.get(farm_id)
        if farm is None or not is_told:
            return Business(id=str(farm_id), code=farm.code if farm else "", is_told=False)
        return Business(
            id=str(farm_id),
            code=farm.code,
            name=farm.business_name or farm.name,
            phone=farm.phone,
            place=farm.address or _coordinates(farm),
        )

    def _hide(self) -> None:
        """Mark where the walk went to records that are not among the nodes.

        Not on a co-op's lot as one of its members sees it, which tells of nobody else's fruit.
        """
        nodes = self.found.nodes
        gone = {*nodes, *self.retired}
        back = {each.target for each in self.links if each.source not in gone} & set(nodes)
        on = {each.source for each in self.links if each.target not in gone} & set(nodes)
        self.found.hidden_back = frozenset(key for key in back if not self._is_part(key))
        self.found.hidden_on = frozenset(on)

    def _is_part(self, key: Key) -> bool:
        facts = self.found.nodes[key].facts
        return isinstance(facts, Lot) and not facts.is_packers_view


LOT_FACTS = (
    "product",
    "pack_unit",
    "pack_count",
    "packing_document",
    "shipped_on",
    "shipped_to",
    "shipped_to_location",
    "shipped_count",
    "shipping_document",
)


def _key(kind: Kind, row: Any) -> Key:
    return Key(kind=kind, id=str(row.pk))


def _co_op(co_op: Any) -> Business:
    return Business(
        id=str(co_op.pk), code=co_op.code, name=co_op.name, phone=co_op.phone, place=co_op.address
    )


def _coordinates(farm: models.Farm) -> str:
    return "" if farm.latitude is None else f"{farm.latitude}, {farm.longitude}"


def _fruit(row: Any) -> Fruit:
    if row.cultivar is None:
        return Fruit()
    return Fruit(species=row.cultivar.species.common_name, cultivar=row.cultivar.name)


def _label(noun: str, docket: str, day: Any) -> str:
    return f"{noun} {docket} of {day}" if docket else f"{noun} of {day}"
