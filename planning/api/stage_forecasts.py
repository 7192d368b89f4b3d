"""`stage-forecasts` and `stage-backtests`: when stages are expected, and how that has done."""

from collections.abc import Sequence
from typing import Any, ClassVar

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import NumberFilter, VisibleFilter
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import ReadOnlyViewSet
from planning.api.computed import (
    BlockFilter,
    ComputedViewSet,
    ReadableFarmFilter,
    WholeAnswer,
    refused,
)
from planning.api.filters import ScheduleFilter, SeasonFilter, after, before
from planning.choices import ForecastMethod, StageAhead
from planning.compute.stage_forecasts import Score, Stage
from planning.models import StageForecast
from planning.services.stage_backtests import (
    Asked,
    Backtest,
    PastForecast,
    TooManyForecastsError,
    backtest,
)
from records.models import Cultivar


@extend_schema_field({"type": "object", "additionalProperties": True})
class ForecastInputs(serializers.JSONField):
    """What the date was computed from."""


class StageForecastSerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", read_only=True)
    cultivar_name = serializers.CharField(source="cultivar.name", default=None)
    inputs = ForecastInputs()

    class Meta(RecordSerializer.Meta):
        model = StageForecast
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "farm_code",
            "block",
            "block_code",
            "cultivar",
            "cultivar_name",
            "season_label",
            "season_year",
            "crop",
            "crop_name",
            "stage",
            "bbch",
            "on_date",
            "low_on",
            "high_on",
            "observed_on",
            "expected_on",
            "expected_low_on",
            "expected_high_on",
            "method",
            "anchor",
            "anchor_on",
            "inputs",
            "reason",
        )
        read_only_fields = fields


class StageForecastFilter(ScheduleFilter):
    cultivar = VisibleFilter(Cultivar)
    season = SeasonFilter()
    stage = django_filters.ChoiceFilter(choices=StageAhead.choices)
    method = django_filters.ChoiceFilter(choices=ForecastMethod.choices)
    on_date_after = after("on_date")
    on_date_before = before("on_date")


class StageForecastViewSet(ReadOnlyViewSet):
    """Leaf-out to last picking of each crop: a date with its 80 % interval, and why.

    A stage that was seen has its day, and what had been forecast the day before. One without a
    date says what is missing. Rows without a cultivar are about the block as a whole.
    """

    area: ClassVar[Area | None] = Area.SCHEDULE
    queryset = StageForecast.objects.select_related("farm", "block", "cultivar")
    serializer_class = StageForecastSerializer
    filterset_class = StageForecastFilter
    orderings = ("created_at", "season_year")
    tabular = True


class BacktestSerializer(serializers.Serializer):
    block = serializers.UUIDField(source="subject.block.pk")
    block_code = serializers.CharField(source="subject.block.code")
    cultivar = serializers.UUIDField(source="subject.cultivar_id", allow_null=True)
    season_label = serializers.CharField(source="crop.season.label")
    season_year = serializers.IntegerField(source="crop.season.year")
    crop_name = serializers.CharField(source="crop.cycle.crop")
    stage = serializers.ChoiceField(StageAhead.choices, source="trial.stage")
    made_on = serializers.DateField(source="trial.made_on")
    on_date = serializers.DateField(source="trial.on")
    low_on = serializers.DateField(source="trial.low")
    high_on = serializers.DateField(source="trial.high")
    observed_on = serializers.DateField(source="trial.observed_on")
    days_ahead = serializers.IntegerField(
        source="trial.days_ahead", help_text="From the day it was made to the day it came."
    )
    error_days = serializers.IntegerField(
        source="trial.error_days",
        help_text="Below nought: forecast too early; above it: too late.",
    )
    is_held = serializers.BooleanField(
        source="trial.is_held", help_text="Whether it came within the interval."
    )
    method = serializers.ChoiceField(ForecastMethod.choices, source="trial.method")
    reason = serializers.CharField(source="trial.reason")


SCORE: dict[str, Any] = {
    "type": "object",
    "required": [
        "stage",
        "forecasts",
        "mean_absolute_error_days",
        "mean_error_days",
        "held_share",
    ],
    "properties": {
        "stage": {"type": "string", "enum": StageAhead.values},
        "forecasts": {"type": "integer"},
        "mean_absolute_error_days": {"type": ["number", "null"]},
        "mean_error_days": {"type": ["number", "null"]},
        "held_share": {
            "type": ["number", "null"],
            "description": "Of the 80 % intervals, the share that held.",
        },
    },
}


class BacktestAnswer(WholeAnswer):
    """All forecasts at once, and their scores by stage."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["summary", "results"],
            "properties": {"summary": {"type": "array", "items": SCORE}, "results": schema},
        }


class BacktestFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    block = BlockFilter()
    season = NumberFilter(
        min_value=1900, max_value=2200, label="The year in which the season starts."
    )
    stage = django_filters.ChoiceFilter(choices=StageAhead.choices)
    every_days = NumberFilter(
        min_value=1, max_value=60, label="Days from one forecast to the next; 7 unless given."
    )


class StageBacktestViewSet(ComputedViewSet):
    """For past seasons, the forecast made on each date against what happened, error in days.

    Each is made with what was known on its date: no later record, and the weather recorded and
    forecast by then. It goes by the figures in force today.
    """

    serializer_class = BacktestSerializer
    filterset_class = BacktestFilter
    pagination_class = BacktestAnswer

    def list(self, request: Request, **kwargs: Any) -> Response:
        found = self._backtest(self.asked(request))
        rows = self.get_serializer(found.forecasts, many=True).data
        if request.accepted_renderer.format != "json":
            return Response(rows)
        return Response({"summary": [_score(each) for each in found.scores], "results": rows})

    def rows(self, asked: dict[str, Any]) -> Sequence[PastForecast]:
        return self._backtest(asked).forecasts

    def _backtest(self, asked: dict[str, Any]) -> Backtest:
        farm, block = asked["farm"], asked["block"]
        if block is not None and block.farm_id != farm.pk:
            raise refused("block", "This block belongs to another farm.", "other-farm")
        wanted = Asked(
            block_id=block.pk if block else None,
            season_year=asked["season"],
            stage=Stage(asked["stage"]) if asked["stage"] else None,
            every_days=asked["every_days"] or 7,
        )
        try:
            return backtest(farm, clock.today(farm.time_zone), wanted)
        except TooManyForecastsError as error:
            raise refused("farm", str(error), "too-many") from error


def _score(score: Score) -> dict[str, Any]:
    return {
        "stage": score.stage.value,
        "forecasts": score.forecasts,
        "mean_absolute_error_days": _rounded(score.mean_absolute_error_days, 2),
        "mean_error_days": _rounded(score.mean_error_days, 2),
        "held_share": _rounded(score.held_share, 4),
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
