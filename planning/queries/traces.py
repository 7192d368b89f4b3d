"""Traces: which records lead to a lot, intake, delivery or weighing, and where its fruit went.

The walk is one recursive query along the links that records have; what it finds is read kind by
kind through `visible_to`, and the chain is made of what the caller may see.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection

from orchard.access import Caller
from planning.compute.traces import Chain, Key, Kind, Link, Node, TraceError
from planning.queries.trace_nodes import Found, read_nodes
from records.models import Block, Farm, HarvestWeight, Intake, Lot, Tree

MAX_LINKS = 50_000

# Back: what a lot holds, where an intake came from, what a delivery joined, which trees were
# picked. LATERAL, so that each step looks its links up by index, however many rows there are.
WALK = """
WITH RECURSIVE back AS (
    SELECT kind, id, NULL::text AS to_kind, NULL::uuid AS to_id, NULL::bigint AS net_g
    FROM unnest(%s::text[], %s::uuid[]) AS seed (kind, id)
    UNION
    SELECT step.kind, step.id, back.kind, back.id, step.net_g
    FROM back CROSS JOIN LATERAL (
        SELECT 'intake' AS kind, line.intake_id AS id, line.net_g::bigint AS net_g
        FROM records_lotline line WHERE back.kind = 'lot' AND line.lot_id = back.id
        UNION ALL
        SELECT 'delivery', intake.delivery_id, intake.net_g FROM records_intake intake
        WHERE back.kind = 'intake' AND intake.id = back.id AND intake.delivery_id IS NOT NULL
        UNION ALL
        SELECT 'harvest-weight', joined.weight_id, NULL FROM records_deliveryweight joined
        WHERE back.kind = 'delivery' AND joined.delivery_id = back.id
        UNION ALL
        SELECT 'tree', picked.tree_id, NULL FROM records_harvestweighttree picked
        WHERE back.kind = 'harvest-weight' AND picked.weight_id = back.id
    ) step
), onward AS (
    SELECT kind, id, NULL::text AS from_kind, NULL::uuid AS from_id, NULL::bigint AS net_g
    FROM unnest(%s::text[], %s::uuid[]) AS seed (kind, id)
    UNION
    SELECT step.kind, step.id, onward.kind, onward.id, step.net_g
    FROM onward CROSS JOIN LATERAL (
        SELECT 'delivery' AS kind, joined.delivery_id AS id, NULL::bigint AS net_g
        FROM records_deliveryweight joined
        WHERE onward.kind = 'harvest-weight' AND joined.weight_id = onward.id
        UNION ALL
        SELECT 'intake', intake.id, intake.net_g FROM records_intake intake
        WHERE onward.kind = 'delivery' AND intake.delivery_id = onward.id
        UNION ALL
        SELECT 'lot', line.lot_id, line.net_g FROM records_lotline line
        WHERE onward.kind = 'intake' AND line.intake_id = onward.id
    ) step
)
SELECT kind, id, to_kind, to_id, net_g FROM back WHERE to_id IS NOT NULL
UNION
SELECT from_kind, from_id, kind, id, net_g FROM onward WHERE from_id IS NOT NULL
LIMIT %s
"""
LINKED = (Kind.LOT, Kind.INTAKE, Kind.DELIVERY, Kind.WEIGHING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where a trace starts: a record; or a block, tree or farm, on one day or on any."""

    kind: Kind
    record: Any
    picked_on: dt.date | None = None

    @property
    def key(self) -> Key:
        if self.kind is Kind.PICKING_DAY:
            return picking_day(self.record.pk, self.picked_on)
        return Key(kind=self.kind, id=str(self.record.pk))


def picking_day(farm_id: UUID, day: dt.date | None) -> Key:
    return Key(kind=Kind.PICKING_DAY, id=f"{farm_id}/{day}")


def chain_from(start: Start, caller: Caller) -> Chain:
    """All that is linked to the start, as far as the caller may see it.

    Raises TraceError when there is too much of it to tell in one answer.
    """
    return _chain(start.key, _Seeds.of(start), start, caller)


def chain_of_lots(lots: Sequence[Lot], caller: Caller) -> Chain:
    """What led to some lots, all at once."""
    seeds = _Seeds(back=[Key(kind=Kind.LOT, id=str(lot.pk)) for lot in lots], onward=[])
    links = _walk(seeds)
    found = read_nodes(_keys(links, seeds), links, caller)
    return Chain(
        starts=tuple(key for key in seeds.back if key in found.nodes),
        nodes=found.nodes,
        links=[*links, *found.places],
        hidden_back=found.hidden_back,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seeds:
    """The records from which the walk goes back, and from which it goes on."""

    back: list[Key]
    onward: list[Key]

    @classmethod
    def of(cls, start: Start) -> "_Seeds":
        if start.kind is Kind.LOT:
            return cls(back=[start.key], onward=[])
        if start.kind in LINKED:
            return cls(back=[start.key], onward=[start.key])
        return cls(back=[], onward=_fruit_of(start))

    @property
    def keys(self) -> set[Key]:
        return {*self.back, *self.onward}


def _fruit_of(start: Start) -> list[Key]:
    """What was picked from a block, a tree or a farm; and what a shed received by block alone."""
    weights = HarvestWeight.objects.kept()
    if start.kind is Kind.TREE:
        weights = weights.filter(trees=start.record)
    elif start.kind is Kind.BLOCK:
        weights = weights.filter(block=start.record)
    else:
        weights = weights.filter(farm=start.record)
    if start.picked_on is not None:
        weights = weights.filter(picked_on=start.picked_on)
    seeds = _keys_of(Kind.WEIGHING, weights)
    if start.kind is Kind.BLOCK and start.picked_on is None:
        loose = Intake.objects.filter(block=start.record, delivery=None, retired_on=None)
        seeds += _keys_of(Kind.INTAKE, loose)
    return seeds


def _keys_of(kind: Kind, rows: Any) -> list[Key]:
    ids = list(rows.order_by("pk").values_list("pk", flat=True)[: MAX_LINKS + 1])
    if len(ids) > MAX_LINKS:
        raise TraceError("There is too much to trace at once: give the picking day.")
    return [Key(kind=kind, id=str(each)) for each in ids]


def _walk(seeds: _Seeds) -> list[Link]:
    columns = [
        [getattr(key, name) for key in keys]
        for keys in (seeds.back, seeds.onward)
        for name in ("kind", "id")
    ]
    with connection.cursor() as cursor:
        cursor.execute(WALK, [*columns, MAX_LINKS + 1])
        rows = cursor.fetchall()
    if len(rows) > MAX_LINKS:
        raise TraceError("There is too much to trace at once: start nearer, or give the day.")
    return [_link(*row) for row in rows]


def _link(kind: str, row_id: UUID, to_kind: str, to_id: UUID, net_g: int | None) -> Link:
    return Link(
        source=Key(kind=Kind(kind), id=str(row_id)),
        target=Key(kind=Kind(to_kind), id=str(to_id)),
        net_g=net_g,
    )


def _keys(links: Iterable[Link], seeds: _Seeds) -> set[Key]:
    return seeds.keys | {key for link in links for key in (link.source, link.target)}


def _chain(key: Key, seeds: _Seeds, start: Start, caller: Caller) -> Chain:
    links = _walk(seeds)
    found = read_nodes(_keys(links, seeds), links, caller)
    nodes, ends = dict(found.nodes), list(found.places)
    if start.kind not in LINKED:
        nodes[key] = nodes.get(key) or _start_node(start)
        ends += _picked(start, seeds, found)
    return Chain(
        starts=(key,),
        nodes=nodes,
        links=list({*links, *ends}),
        hidden_back=found.hidden_back,
        hidden_on=found.hidden_on,
    )


def _picked(start: Start, seeds: _Seeds, found: Found) -> list[Link]:
    """A block, tree or day leads to the fruit picked there."""
    return [
        Link(source=start.key, target=key, net_g=found.nodes[key].net_g)
        for key in seeds.onward
        if key in found.nodes
    ]


def _start_node(start: Start) -> Node:
    """A start of which no fruit is recorded is still there."""
    labels = {
        Kind.BLOCK: f"block {start.record}" if isinstance(start.record, Block) else "",
        Kind.TREE: f"tree {start.record}" if isinstance(start.record, Tree) else "",
        Kind.PICKING_DAY: f"picking of {start.picked_on}",
    }
    is_farm = isinstance(start.record, Farm)
    return Node(
        key=start.key,
        label=labels[start.kind],
        farm=start.record.code if is_farm else start.record.farm.code,
        on=start.picked_on if is_farm else None,
    )
