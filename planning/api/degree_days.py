"""`degree-days`: a farm's heat above a threshold, day by day and summed."""

import datetime as dt
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import DateFilter, NumberFilter
from planning.api.computed import ComputedViewSet, ReadableFarmFilter, WholeAnswer, refused
from planning.api.season_summaries import Rounded
from planning.choices import DegreeDayCutoff, DegreeDayMethod, FarmDayKind
from planning.compute.degree_days import Cutoff, DegreeDayError, Method
from planning.services.degree_day_sums import DegreeDaySum, Missing, SumAsked, degree_day_sum

MOST_DAYS = 3_700
UNITS = ("C", "F")


class DegreeDayFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(Area.WEATHER, required=True)
    to = DateFilter(required=True, label="The last day.")
    lower = django_filters.NumberFilter(
        required=True, label="The lower threshold, or base temperature, in `unit`."
    )
    upper = django_filters.NumberFilter(label="The upper threshold, in `unit`; none unless given.")
    method = django_filters.ChoiceFilter(
        choices=DegreeDayMethod.choices, label="single-sine unless given."
    )
    cutoff = django_filters.ChoiceFilter(
        choices=DegreeDayCutoff.choices,
        label="What happens above `upper`; horizontal unless given.",
    )
    unit = django_filters.ChoiceFilter(
        choices=[(unit, unit) for unit in UNITS],
        label="Of thresholds and degree days: C unless given, or F.",
    )
    interpolate_days = NumberFilter(
        min_value=0, max_value=14, label="Gaps of so many days at most are filled; 0 unless given."
    )
    vars()["from"] = DateFilter(required=True, label="The first day.")  # a word of the language's


class DegreeDaySerializer(serializers.Serializer):
    day = serializers.DateField()
    kind = serializers.ChoiceField(
        FarmDayKind.choices,
        allow_null=True,
        help_text="Null: nothing is recorded of the day.",
    )
    is_interpolated = serializers.BooleanField()
    tmin_c = Rounded(1)
    tmax_c = Rounded(1)
    degree_days = Rounded(3)
    cumulative = Rounded(3, help_text="Null from the first unknown day on.")


SPAN: dict[str, Any] = {
    "type": "object",
    "required": ["first_on", "last_on", "days"],
    "properties": {
        "first_on": {"type": "string", "format": "date"},
        "last_on": {"type": "string", "format": "date"},
        "days": {"type": "integer"},
    },
}


class DegreeDayAnswer(WholeAnswer):
    """All days at once, with the gaps among them."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        spans = {"type": "array", "items": SPAN}
        return {
            "type": "object",
            "required": ["inputs", "gaps", "interpolated", "warnings", "results"],
            "properties": {
                "inputs": {"type": "object", "additionalProperties": True},
                "gaps": spans,
                "interpolated": spans,
                "warnings": {"type": "array", "items": {"type": "string"}},
                "results": schema,
            },
        }


class DegreeDayViewSet(ComputedViewSet):
    """Degree days by the farm's stations: of each day, and summed from the first.

    Observed days count, else the newest forecast of them. A missing day makes the sum unknown from
    there, and `gaps` names it; `interpolate_days` fills short gaps along a straight line, and
    `interpolated` says which.
    """

    area = Area.WEATHER
    serializer_class = DegreeDaySerializer
    filterset_class = DegreeDayFilter
    pagination_class = DegreeDayAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        asked = self.asked(request)
        found = self._sum(asked)
        rows = self.get_serializer(found.days, many=True).data
        if request.accepted_renderer.format != "json":
            return Response(rows)
        return Response(
            {
                "inputs": _inputs(asked),
                "gaps": [_span(gap) for gap in found.gaps],
                "interpolated": [_span(gap) for gap in found.interpolated],
                "warnings": found.warnings,
                "results": rows,
            }
        )

    def rows(self, asked: dict[str, Any]) -> Any:
        return self._sum(asked).days

    def _sum(self, asked: dict[str, Any]) -> DegreeDaySum:
        farm = asked["farm"]
        _check_days(asked["from"], asked["to"])
        wanted = SumAsked(
            first=asked["from"],
            last=asked["to"],
            lower=float(asked["lower"]),
            upper=None if asked["upper"] is None else float(asked["upper"]),
            method=Method(asked["method"] or Method.SINE),
            cutoff=Cutoff(asked["cutoff"] or Cutoff.HORIZONTAL),
            is_fahrenheit=asked["unit"] == "F",
            interpolate_days=asked["interpolate_days"] or 0,
        )
        try:
            return degree_day_sum(farm, clock.today(farm.time_zone), wanted)
        except DegreeDayError as error:
            raise refused("lower", str(error), "thresholds-contradict") from error


def _check_days(first: dt.date, last: dt.date) -> None:
    if last < first:
        raise refused("to", "The last day is before the first.", "ends-before-it-starts")
    if (last - first).days >= MOST_DAYS:
        raise refused("to", f"At most {MOST_DAYS:,} days are summed at one go.", "too-many")


def _inputs(asked: dict[str, Any]) -> dict[str, Any]:
    return {
        "farm": str(asked["farm"].pk),
        "from": asked["from"],
        "to": asked["to"],
        "method": asked["method"] or Method.SINE.value,
        "lower": asked["lower"],
        "upper": asked["upper"],
        "cutoff": asked["cutoff"] or Cutoff.HORIZONTAL.value,
        "unit": asked["unit"] or UNITS[0],
        "interpolate_days": asked["interpolate_days"] or 0,
    }


def _span(gap: Missing) -> dict[str, Any]:
    return {"first_on": gap.first_on, "last_on": gap.last_on, "days": gap.days}
