"""`crop-plans`: late prunings and leaf strippings for a further crop."""

from collections.abc import Iterable
from typing import Any, ClassVar

import django_filters
from django.db import transaction
from django.db.models import Model
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard import clock
from orchard.access import Area
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import RecordViewSet
from planning.api.filters import ScheduleFilter, after, before
from planning.choices import CropWork, StageAhead
from planning.compute.crop_plans import State
from planning.models import CropPlan
from planning.services.crop_plans import Outlook, outlooks

BLOOM, PICKING = StageAhead.FIRST_BLOOM.value, StageAhead.FIRST_PICKING.value


class StageExpectedSerializer(serializers.Serializer):
    """A stage of the planned crop: a date with its 80 % interval, or why there is none."""

    stage = serializers.ChoiceField(choices=StageAhead.choices)
    on_date = serializers.DateField(allow_null=True)
    low_on = serializers.DateField(allow_null=True)
    high_on = serializers.DateField(allow_null=True)
    observed_on = serializers.DateField(allow_null=True)
    method = serializers.CharField()
    reason = serializers.CharField()


class PlansAtOnce(serializers.ListSerializer):
    """The outlook of a whole page, computed once."""

    def to_representation(self, data: Any) -> list[Any]:
        plans = list(data)
        child: Any = self.child
        child.outlooks = outlooks(plans, clock.today)
        return [child.to_representation(plan) for plan in plans]


class CropPlanSerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", read_only=True)
    state = serializers.SerializerMethodField()
    done_on = serializers.SerializerMethodField()
    done_by = serializers.SerializerMethodField(help_text="The task log that did it.")
    reason = serializers.SerializerMethodField()
    first_bloom_on = serializers.SerializerMethodField()
    first_picking_on = serializers.SerializerMethodField()
    stages = serializers.SerializerMethodField(
        help_text="Forecast from the plan; once the crop is there, its own forecasts."
    )

    class Meta(RecordSerializer.Meta):
        model = CropPlan
        list_serializer_class = PlansAtOnce
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "farm_code",
            "block",
            "block_code",
            "name",
            "work",
            "planned_on",
            "note",
            "state",
            "done_on",
            "done_by",
            "first_bloom_on",
            "first_picking_on",
            "stages",
            "reason",
        )
        fixed = ("block",)
        blame: ClassVar[dict[str, str]] = {
            "crop_plan_once_a_day": "planned_on",
            "crop_plan_is_named": "name",
            "crop_plan_is_of_a_further_crop": "name",
        }

    def outlook(self, plan: CropPlan) -> Outlook:
        """Of a list all at once; of a plan by itself when it is shown."""
        known: dict[Any, Outlook] = getattr(self, "outlooks", {})
        if plan.pk not in known:
            self.outlooks = known = outlooks([plan], clock.today)
        return known[plan.pk]

    @extend_schema_field({"type": "string", "enum": [state.value for state in State]})
    def get_state(self, plan: CropPlan) -> str:
        return self.outlook(plan).standing.state.value

    @extend_schema_field({"type": ["string", "null"], "format": "date"})
    def get_done_on(self, plan: CropPlan) -> Any:
        done = self.outlook(plan).standing.done
        return done.on if done else None

    @extend_schema_field({"type": ["string", "null"], "format": "uuid"})
    def get_done_by(self, plan: CropPlan) -> str | None:
        done = self.outlook(plan).standing.done
        return done.record if done else None

    def get_reason(self, plan: CropPlan) -> str:
        return self.outlook(plan).standing.reason

    @extend_schema_field({"type": ["string", "null"], "format": "date"})
    def get_first_bloom_on(self, plan: CropPlan) -> Any:
        return self.outlook(plan).on(BLOOM)

    @extend_schema_field({"type": ["string", "null"], "format": "date"})
    def get_first_picking_on(self, plan: CropPlan) -> Any:
        return self.outlook(plan).on(PICKING)

    @extend_schema_field(StageExpectedSerializer(many=True))
    def get_stages(self, plan: CropPlan) -> Iterable[Any]:
        return StageExpectedSerializer(self.outlook(plan).stages, many=True).data


class CropPlanFilter(ScheduleFilter):
    work = django_filters.ChoiceFilter(choices=CropWork.choices)
    planned_on_after = after("planned_on")
    planned_on_before = before("planned_on")


class CropPlanViewSet(RecordViewSet):
    """Plans to bring a block to flower once more, with the bloom and harvest to be expected.

    A plan is done by the pruning or leaf stripping that is recorded around its day. The return is
    uncertain: the season summary holds the further crop against the main one.
    """

    area = Area.SCHEDULE
    queryset = CropPlan.objects.select_related("farm", "block")
    serializer_class = CropPlanSerializer
    filterset_class = CropPlanFilter
    orderings = ("created_at", "planned_on")
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        with transaction.atomic():
            record = serializer.candidate({**serializer.validated_data, **extra})
            record.save(force_insert=record._state.adding)
        saved: Model = record
        return saved
