"""`co-ops/{id}/reconciliation`: what members sent against what was received."""

from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.rest.filters import DateFilter
from orchard.rest.problems import Problem
from planning.api.co_ops import CoOpComputedViewSet
from planning.api.computed import RecordFilter, WholeAnswer, refused
from planning.api.filters import SeasonYearFilter
from planning.api.season_summaries import Kilos, Rounded
from planning.compute.reconciliation import (
    DEFAULT_TOLERANCE,
    MatchState,
    compare,
    shrink,
)
from planning.queries.reconciliation import Match, Period, matches
from records.models import Farm

MAX_MATCHES = 50_000
METHOD = (
    "Deliveries, weighings under dockets, and intakes, by the delivery that an intake names, else"
    " by farm and docket, else by farm and day. Difference = received - sent net kilos. Shrink ="
    " grams lost of each kilo and day between picking and intake, of matches within the tolerance"
    " whose weighings are all known; nothing is expected of it, as no published figure was found."
)


class MatchSerializer(serializers.Serializer):
    """What belongs together on one farm. Kilos are those of the scales, never estimates."""

    member_code = serializers.CharField()
    docket = serializers.CharField()
    matched_by = serializers.CharField(help_text="link, docket or date.")
    state = serializers.ChoiceField(choices=[(state.value, state.value) for state in MatchState])
    picked_from = serializers.DateField(allow_null=True)
    sent_on = serializers.DateField(allow_null=True, help_text="The last day of what was sent.")
    received_from = serializers.DateField(allow_null=True)
    received_to = serializers.DateField(allow_null=True)
    sent_kg = Kilos()
    received_kg = Kilos()
    difference_kg = Kilos(help_text="Received less sent.")
    difference_percent = Rounded(2, help_text="Of what was sent.")
    days_between = Rounded(1, help_text="From picking to intake, by kilos.")
    weighings = serializers.IntegerField()
    unweighed = serializers.IntegerField(help_text="Weighings without a scale, or not known.")
    member = serializers.UUIDField()
    deliveries = serializers.ListField(child=serializers.UUIDField())
    intakes = serializers.ListField(child=serializers.UUIDField())


class ShrinkSerializer(serializers.Serializer):
    days = serializers.IntegerField(help_text="Whole days between picking and intake.")
    matches = serializers.IntegerField()
    sent_kg = Kilos()
    received_kg = Kilos()
    g_per_kg_and_day = Rounded(2, help_text="Null on the day of picking itself.")


class ReconciliationFilter(django_filters.FilterSet):
    season = SeasonYearFilter(label="2026 or 2026/27: each farm's own; empty: all.")
    to = DateFilter(label="The last day of receipt, else of sending.")
    member = RecordFilter(Farm)
    state = django_filters.MultipleChoiceFilter(
        choices=[(state.value, state.value) for state in MatchState],
        label="May be given several times.",
    )
    tolerance = django_filters.NumberFilter(
        min_value=0,
        max_value=50,
        label=f"Per cent of what was sent; {DEFAULT_TOLERANCE:.0%} unless given.",
    )
    vars()["from"] = DateFilter(label="The first day.")  # a word of the language's


class ReconciliationAnswer(WholeAnswer):
    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        whole = super().get_paginated_response_schema(schema)
        beside: dict[str, Any] = {
            "method": {"type": "string"},
            "tolerance_percent": {"type": "number"},
            "states": {"type": "object", "additionalProperties": {"type": "integer"}},
            "shrink": {"type": "array", "items": {"type": "object", "additionalProperties": True}},
        }
        return {
            **whole,
            "required": [*beside, "results"],
            "properties": {**beside, **whole["properties"]},
        }


class ReconciliationViewSet(CoOpComputedViewSet):
    """Members' deliveries against intakes: matched, differing, or missing on either side.

    As a table, a line a match.
    """

    serializer_class = MatchSerializer
    filterset_class = ReconciliationFilter
    pagination_class = ReconciliationAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        asked = self.asked(request)
        tolerance = _tolerance(asked)
        found = _found(asked)
        rows = [_row(match, tolerance) for match in found]
        shown = [row for row in rows if not asked["state"] or row["state"] in asked["state"]]
        results = self.get_serializer(shown, many=True).data
        if request.accepted_renderer.format != "json":
            return Response(results)
        lost = [_shrink(each) for each in shrink([match.sides for match in found], tolerance)]
        states = {state.value: sum(row["state"] == state for row in rows) for state in MatchState}
        return Response(
            {
                "method": METHOD,
                "tolerance_percent": round(tolerance * 100, 3),
                "states": states,
                "shrink": ShrinkSerializer(lost, many=True).data,
                "results": results,
            }
        )


def _tolerance(asked: dict[str, Any]) -> float:
    given = asked["tolerance"]
    return DEFAULT_TOLERANCE if given is None else float(given) / 100


def _found(asked: dict[str, Any]) -> list[Match]:
    period = Period(year=asked["season"], first_on=asked["from"], last_on=asked["to"])
    if period.first_on and period.last_on and period.last_on < period.first_on:
        raise refused("to", "The last day is before the first.", "out-of-order")
    found = matches(asked["co_op"], period, asked["member"], limit=MAX_MATCHES + 1)
    if len(found) > MAX_MATCHES:
        raise Problem("rule-broken", f"More than {MAX_MATCHES} matches; ask for fewer days.")
    return found


def _row(match: Match, tolerance: float) -> dict[str, Any]:
    sides, compared = match.sides, compare(match.sides, tolerance)
    return {
        "member_code": match.farm_code,
        "docket": match.docket,
        "matched_by": match.how,
        "state": compared.state.value,
        "picked_from": match.picked_from,
        "sent_on": match.sent_on,
        "received_from": match.received_from,
        "received_to": match.received_to,
        "sent_kg": _kg(sides.sent_g),
        "received_kg": _kg(sides.received_g),
        "difference_kg": _kg(compared.difference_g),
        "difference_percent": None if compared.share is None else compared.share * 100,
        "days_between": sides.days,
        "weighings": match.weighings,
        "unweighed": sides.unweighed,
        "member": match.farm_id,
        "deliveries": match.delivery_ids,
        "intakes": match.intake_ids,
    }


def _shrink(found: Any) -> dict[str, Any]:
    return {
        "days": found.days,
        "matches": found.matches,
        "sent_kg": _kg(found.sent_g),
        "received_kg": _kg(found.received_g),
        "g_per_kg_and_day": found.g_per_kg_and_day,
    }


def _kg(grams: int | None) -> float | None:
    return None if grams is None else grams / 1000
