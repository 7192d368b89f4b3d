"""`alerts`: what somebody should be told about work, bloom, weather and crew."""

from typing import Any

import django_filters
from django.db.models import Model
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.serializers import RecordSerializer
from planning.api.base import DecisionViewSet
from planning.api.filters import AssignedFilter, ScheduleFilter, after, before
from planning.choices import AlertKind, AlertState
from planning.compute.cautions import alert_cautions
from planning.models import Alert
from planning.services.task_choices import handle


class AlertSerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", default=None)
    snoozed_until = serializers.DateField(
        allow_null=True,
        required=False,
        help_text="The day on which alerts about the same are told again.",
    )
    is_acknowledged = serializers.BooleanField(required=False)
    cautions = serializers.SerializerMethodField(
        help_text="What to mind where people may come to harm."
    )

    class Meta(RecordSerializer.Meta):
        model = Alert
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "farm_code",
            "block",
            "block_code",
            "task",
            "season_year",
            "kind",
            "about_on",
            "state",
            "message",
            "reason",
            "cautions",
            "assigned_to",
            "assigned_names",
            "snoozed_until",
            "is_acknowledged",
            "acknowledged_at",
            "acknowledged_by",
            "closed_on",
        )
        read_only_fields = tuple(
            name for name in fields if name not in {"snoozed_until", "is_acknowledged"}
        )

    @extend_schema_field({"type": "array", "items": {"type": "string"}})
    def get_cautions(self, alert: Alert) -> list[str]:
        return list(alert_cautions(alert.kind))

    def candidate(self, attrs: dict[str, Any]) -> Any:
        """The row itself: what is decided about it is stored elsewhere."""
        return self.instance


class AlertFilter(ScheduleFilter):
    kind = django_filters.ChoiceFilter(choices=AlertKind.choices)
    state = django_filters.MultipleChoiceFilter(
        choices=AlertState.choices, label="May be given several times."
    )
    about_on_after = after("about_on")
    about_on_before = before("about_on")
    assigned_to = AssignedFilter()


class AlertViewSet(DecisionViewSet):
    """One alert for one fact about a task, a block's bloom or the crew; closed when it ends.

    Snoozing keeps alerts about the same task or bloom quiet until a day; acknowledging notes who
    has seen this one.
    """

    area = Area.SCHEDULE
    queryset = Alert.objects.select_related("farm", "block")
    serializer_class = AlertSerializer
    filterset_class = AlertFilter
    orderings = ("about_on", "created_at")
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        alert = serializer.instance
        wanted = serializer.validated_data
        return handle(alert, today=self.today_of(alert), by=self.caller.name, **wanted)
