"""`trace-records`: the key data elements of each event, as the electronic sortable spreadsheet.

21 CFR 1.1455 asks for it within 24 hours of a request, of records kept for two years (from memory).
"""

from collections.abc import Sequence
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import DateFilter
from orchard.rest.renderers import Table
from planning.api.computed import ComputedViewSet, RecordFilter, refused
from planning.api.traces import (
    METHOD,
    STARTS,
    CoverageSerializer,
    TraceAnswer,
    TraceFilter,
    shaped,
    trace_of,
)
from planning.compute.traces import (
    CAUTION,
    EVENTS,
    Event,
    Stated,
    Trace,
    TraceError,
    TraceRecord,
    asked_of,
    records_of,
)
from planning.queries.trace_coverages import statements
from planning.queries.traces import chain_of_lots
from records.models import CoOp, Lot

MISSING = "Missing"
MAX_LOTS = 2_000


class TraceRecordFilter(TraceFilter):
    co_op = RecordFilter(CoOp, label="All lots that the co-op packed on the days given.")
    packed_on_after = DateFilter(label="With a co-op, or a farm as packer: this day or later.")
    packed_on_before = DateFilter(label="This day or earlier.")
    event = django_filters.ChoiceFilter(
        choices=[(event.value, event.value) for event in Event],
        label="Only this event; a CSV file holds one.",
    )


class TraceRecordSerializer(serializers.Serializer):
    event = serializers.CharField()
    values = serializers.DictField(help_text="By the names of the event's elements.")
    missing = serializers.ListField(child=serializers.CharField())


class RecordsAnswer(TraceAnswer):
    beside = ("elements", "coverage")


class TraceRecordViewSet(ComputedViewSet):
    """Harvesting, cooling, initial packing and shipping of what is linked to a lot or delivery.

    Start as for `traces`, or name a co-op or a farm with `packed_on_after` and `packed_on_before`
    for all its lots. As a workbook it has a sheet an event, a row a record and a column an element;
    what is blank is named in the last column. It helps with records and is no legal advice.
    """

    area = Area.HARVEST
    serializer_class = TraceRecordSerializer
    filterset_class = TraceRecordFilter
    pagination_class = RecordsAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        asked = self.asked(request)
        form = request.accepted_renderer.format
        if form == "csv" and not asked["event"]:
            raise refused("event", "A CSV file holds one event: name it.", "needs-an-event")
        trace = self._trace(asked)
        stated = statements(asked_of(trace), self.caller)
        wanted = [Event(asked["event"])] if asked["event"] else list(Event)
        records = [record for record in records_of(trace) if record.event in wanted]
        if form != "json":
            return Response(_table(wanted, records, stated))
        return Response(
            {
                "results": self.get_serializer(records, many=True).data,
                "elements": [_element(event, each) for event in wanted for each in EVENTS[event]],
                "coverage": CoverageSerializer(stated, many=True).data,
                "method": METHOD,
                "caution": CAUTION,
            }
        )

    def _trace(self, asked: dict[str, Any]) -> Trace:
        """By lots that were packed on some days, or from one record."""
        days = asked["packed_on_after"], asked["packed_on_before"]
        if asked["co_op"] is None and days == (None, None):
            return trace_of(asked, self.caller)
        packer = "co_op" if asked["co_op"] is not None else "farm"
        others = any(asked[name] is not None for name in STARTS if name != packer)
        if asked[packer] is None or None in days or others:
            text = "For all lots of a packer name a co-op or a farm, both days, and no more."
            raise refused("packed_on_after", text, "needs-packer-and-days")
        lots = (
            Lot.objects.all()
            .visible_to(self.caller)
            .filter(**{packer: asked[packer]}, packed_on__range=days)
        )
        found = list(lots.prefetch_related(None).order_by("packed_on", "pk")[: MAX_LOTS + 1])
        if len(found) > MAX_LOTS:
            raise refused("packed_on_after", f"More than {MAX_LOTS} lots: take fewer days.", "many")
        return self._of_lots(found)

    def _of_lots(self, lots: Sequence[Lot]) -> Trace:
        if not lots:
            return Trace(starts=(), nodes=(), links=(), missing=())
        try:
            return shaped(chain_of_lots(lots, self.caller), "co_op")
        except TraceError as error:
            raise refused("packed_on_after", str(error), "too-much") from error


def _element(event: Event, element: Any) -> dict[str, Any]:
    return {
        "event": event.value,
        "name": element.name,
        "paragraph": f"21 CFR {element.paragraph}",
        "is_optional": element.is_optional,
    }


def _table(
    wanted: Sequence[Event], records: Sequence[TraceRecord], stated: Sequence[Stated]
) -> Table:
    """A sheet an event that has records; the first asked for where none has any."""
    filled = [event for event in wanted if any(each.event is event for each in records)]
    first, *others = [_sheet(event, records) for event in filled or wanted[:1]]
    return Table(
        title=first.title,
        headings=first.headings,
        rows=first.rows,
        others=others,
        facts=_facts(wanted, filled, stated),
    )


def _sheet(event: Event, records: Sequence[TraceRecord]) -> Table:
    names = [element.name for element in EVENTS[event]]
    rows = [
        [*(each.values[name] for name in names), "; ".join(each.missing)]
        for each in records
        if each.event is event
    ]
    return Table(title=event.value, headings=[*names, MISSING], rows=rows)


def _facts(
    wanted: Sequence[Event], filled: Sequence[Event], stated: Sequence[Stated]
) -> list[tuple[str, Any]]:
    return [
        ("What this is", "Key data elements of 21 CFR part 1 subpart S, a sheet an event."),
        ("No legal advice", CAUTION),
        *((f"Coverage, {each.asked.species}", _said(each)) for each in stated),
        *(
            (f"Elements of {event.value}", f"21 CFR {EVENTS[event][0].paragraph}")
            for event in filled
        ),
        *(
            (f"No sheet of {event.value}", "Nothing of it is recorded.")
            for event in wanted
            if event not in filled
        ),
        ("How", METHOD),
        ("Made at", timezone.now()),
    ]


def _said(stated: Stated) -> str:
    told = f"{stated.coverage} on {stated.asked.on}, by {stated.asked.owner_code}"
    source = f": {stated.source}" if stated.source else ""
    by = f" (entered by {stated.entered_by})" if stated.entered_by else ""
    return f"{told}{source}{by}"
