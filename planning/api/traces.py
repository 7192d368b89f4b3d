"""`traces`: from a lot back to its trees, and from a tree, block or picking day on to the lots."""

from collections.abc import Sequence
from typing import Any, ClassVar

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area, Caller
from orchard.rest.filters import DateFilter
from planning.api.computed import ComputedViewSet, RecordFilter, WholeAnswer, refused
from planning.api.season_summaries import KilosOfGrams
from planning.compute.traces import (
    CAUTION,
    Chain,
    Kind,
    Stated,
    Trace,
    TraceError,
    asked_of,
    shape,
)
from planning.queries.trace_coverages import statements
from planning.queries.traces import Start, chain_from
from records.models import Block, Delivery, Farm, HarvestWeight, Intake, Lot, Tree

METHOD = (
    "Followed along the links of the records: a lot's lines, an intake's delivery, a delivery's"
    " weighings, a weighing's trees, block and day. Lots and deliveries are followed whole; kilos"
    " are never split between what was joined."
)


class TraceFilter(django_filters.FilterSet):
    lot = RecordFilter(Lot)
    intake = RecordFilter(Intake)
    delivery = RecordFilter(Delivery)
    harvest_weight = RecordFilter(HarvestWeight)
    block = RecordFilter(Block)
    tree = RecordFilter(Tree)
    farm = RecordFilter(Farm, label="All that the farm picked on a day.")
    picked_on = DateFilter(label="With a block, tree or farm: the picking day.")


STARTS = {
    "lot": Kind.LOT,
    "intake": Kind.INTAKE,
    "delivery": Kind.DELIVERY,
    "harvest_weight": Kind.WEIGHING,
    "block": Kind.BLOCK,
    "tree": Kind.TREE,
    "farm": Kind.PICKING_DAY,
}
DATED = {"block", "tree", "farm"}


def start_of(asked: dict[str, Any]) -> tuple[str, Start]:
    """The one record at which the trace starts, and the parameter that names it."""
    named = [name for name in STARTS if asked.get(name) is not None]
    if len(named) != 1:
        text = f"Name one of {', '.join(STARTS)}."
        raise refused(named[1] if named else "lot", text, "one-start")
    [name] = named
    day = asked.get("picked_on")
    if day is not None and name not in DATED:
        raise refused("picked_on", "A picking day goes with a block, tree or farm.", "no-day-here")
    if day is None and name == "farm":
        raise refused("picked_on", "With a farm, give the picking day.", "needs-a-day")
    return name, Start(kind=STARTS[name], record=asked[name], picked_on=day)


def trace_of(asked: dict[str, Any], caller: Caller) -> Trace:
    name, start = start_of(asked)
    try:
        chain = chain_from(start, caller)
    except TraceError as error:
        raise refused(name, str(error), "too-much") from error
    return shaped(chain, name)


def shaped(chain: Chain, parameter: str) -> Trace:
    """The trace, unless its start is a record of which only the name is shared."""
    if not chain.starts or any(start not in chain.nodes for start in chain.starts):
        text = "This record's trace is not shared with you, or it was retired."
        raise refused(parameter, text, "not-shared")
    return shape(chain)


class KeySerializer(serializers.Serializer):
    kind = serializers.ChoiceField(choices=[(kind.value, kind.value) for kind in Kind])
    id = serializers.CharField(help_text="A record's id; of a picking day the farm's and the day.")


class NodeSerializer(serializers.Serializer):
    kind = serializers.CharField(source="key.kind")
    id = serializers.CharField(source="key.id")
    # The stubs know a field's own `label` only; declared fields are no attributes of the class.
    label = serializers.CharField()  # type: ignore[assignment]
    farm = serializers.CharField(allow_null=True, help_text="The farm's code.")
    on = serializers.DateField(allow_null=True, help_text="Picked, delivered, received, packed.")
    net_kg = KilosOfGrams(source="net_g", help_text="Of a lot: of the intakes shown.")
    estimated_kg = KilosOfGrams(source="estimated_g")


class LinkSerializer(serializers.Serializer):
    # A serializer's own `source` is another thing; see above.
    source = KeySerializer()  # type: ignore[assignment]
    target = KeySerializer()
    net_kg = KilosOfGrams(source="net_g")


class GapSerializer(serializers.Serializer):
    code = serializers.CharField()
    reason = serializers.CharField()
    net_kg = KilosOfGrams(source="net_g")
    nodes = KeySerializer(many=True)


class CoverageSerializer(serializers.Serializer):
    """What the packer, or without a lot the grower, stated of a species."""

    business = serializers.CharField(source="asked.owner_code")
    species = serializers.CharField(source="asked.species")
    on = serializers.DateField(source="asked.on")
    coverage = serializers.CharField(help_text="covered, not covered, or not stated.")
    source = serializers.CharField()  # type: ignore[assignment]  # as above
    entered_by = serializers.CharField()


class TraceAnswer(WholeAnswer):
    """The nodes as `results`; beside them links, what is missing, and what was stated."""

    beside: ClassVar[tuple[str, ...]] = ("links", "missing", "coverage")

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        whole = super().get_paginated_response_schema(schema)
        lists = {"type": "array", "items": {"type": "object", "additionalProperties": True}}
        texts = {"method": {"type": "string"}, "caution": {"type": "string"}}
        properties = {**whole["properties"], **dict.fromkeys(self.beside, lists), **texts}
        return {**whole, "required": sorted(properties), "properties": properties}


class TraceViewSet(ComputedViewSet):
    """All that is linked to a lot, intake, delivery, weighing, block, tree or picking day.

    Back to blocks, trees and picking days, and on to the lots; with kilos, and with what is missing
    in the chain. Of a co-op's lot a member sees its own part.
    """

    area = Area.HARVEST
    serializer_class = NodeSerializer
    filterset_class = TraceFilter
    pagination_class = TraceAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        trace = trace_of(self.asked(request), self.caller)
        nodes = self.get_serializer(trace.nodes, many=True).data
        if request.accepted_renderer.format != "json":
            return Response(nodes)
        return Response(
            {
                "results": nodes,
                "links": LinkSerializer(trace.links, many=True).data,
                "missing": GapSerializer(trace.missing, many=True).data,
                "coverage": CoverageSerializer(self._stated(trace), many=True).data,
                "method": METHOD,
                "caution": CAUTION,
            }
        )

    def _stated(self, trace: Trace) -> Sequence[Stated]:
        return statements(asked_of(trace), self.caller)
