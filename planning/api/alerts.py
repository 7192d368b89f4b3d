"""`alerts`: what somebody should be told about next tasks."""

from typing import Any

import django_filters
from django.db.models import Model
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.serializers import RecordSerializer
from planning.api.base import DecisionViewSet
from planning.api.filters import AssignedFilter, ScheduleFilter, after, before
from planning.choices import AlertKind, AlertState
from planning.models import Alert
from planning.services.task_choices import handle


class AlertSerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", read_only=True)
    snoozed_until = serializers.DateField(
        allow_null=True,
        required=False,
        help_text="The day on which the task's alerts are told again.",
    )
    is_acknowledged = serializers.BooleanField(required=False)

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
    """One alert for one fact: opening soon, due, overdue, missed; closed when the fact ends.

    Snoozing keeps a task's alerts quiet until a day; acknowledging notes who has seen this one.
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
