"""`next-tasks` and `undated-tasks`: what is due next, and what has no date yet."""

import datetime as dt
from typing import Any, ClassVar

import django_filters
from django.db.models import Model, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import DateFilter
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from orchard.rest.viewsets import ReadOnlyViewSet
from planning.api.base import DecisionViewSet
from planning.api.filters import AssignedFilter, ScheduleFilter, SeasonFilter, after, before
from planning.choices import DUE_STATES, TaskState, UndatedWhy, WorkKind
from planning.compute.cautions import cautions
from planning.models import NextTask, UndatedTask
from planning.querysets import assignable_by
from planning.services.task_choices import choose
from records.models import Person


class AssigneeField(VisibleRelatedField):
    """Somebody with a role on a farm whose schedule the caller writes."""

    def get_queryset(self) -> QuerySet[Any]:
        return assignable_by(Person.objects.all(), self.context["request"].auth)

    def to_representation(self, value: Any) -> str:
        return str(value)


class SessionSerializer(serializers.Serializer[Any]):
    """A part of the day in which the work is done."""

    work = serializers.CharField(help_text="brushing or gathering, of pollination.")
    starts_at = serializers.DateTimeField(help_text="Local time, with its UTC offset.")
    ends_at = serializers.DateTimeField()

    def to_representation(self, instance: Any) -> Any:
        """As it is stored: in the farm's own time, wherever it is read."""
        return instance


class NextTaskSerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", read_only=True)
    block_code = serializers.CharField(source="block.code", read_only=True)
    skipped_because = serializers.CharField(
        max_length=200,
        allow_blank=True,
        required=False,
        help_text="Why it is skipped; empty: it is not.",
    )
    assigned_to = AssigneeField(
        many=True, required=False, queryset=Person.objects.all(), help_text="People's ids."
    )
    hours = SessionSerializer(many=True, read_only=True)
    cautions = serializers.SerializerMethodField(
        help_text="What to mind. The label, local law and licensed practice come first."
    )

    class Meta(RecordSerializer.Meta):
        model = NextTask
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "farm_code",
            "block",
            "block_code",
            "season_label",
            "season_year",
            "crop",
            "crop_name",
            "kind",
            "title",
            "number",
            "of",
            "opens_on",
            "best_on",
            "closes_on",
            "state",
            "reason",
            "hours",
            "expected_minutes",
            "expected_people",
            "done_on",
            "done_by_kind",
            "done_by",
            "days_late",
            "skipped_because",
            "assigned_to",
            "assigned_names",
            "cautions",
            "rule",
            "rule_code",
        )
        read_only_fields = tuple(
            name for name in fields if name not in {"skipped_because", "assigned_to"}
        )

    @extend_schema_field({"type": "array", "items": {"type": "string"}})
    def get_cautions(self, task: NextTask) -> list[str]:
        return list(cautions(task.kind))


class NextTaskFilter(ScheduleFilter):
    season = SeasonFilter()
    kind = django_filters.ChoiceFilter(choices=WorkKind.choices)
    rule_code = django_filters.CharFilter()
    state = django_filters.MultipleChoiceFilter(
        choices=TaskState.choices, label="May be given several times."
    )
    opens_on_after = after("opens_on")
    opens_on_before = before("opens_on")
    best_on_after = after("best_on")
    best_on_before = before("best_on")
    closes_on_after = after("closes_on")
    closes_on_before = before("closes_on")
    due_by = DateFilter(
        method="filter_due_by", label="Still to be done, and best done by this day."
    )
    assigned_to = AssignedFilter()

    def filter_due_by(self, rows: QuerySet[Any], name: str, day: dt.date) -> QuerySet[Any]:
        return rows.filter(state__in=DUE_STATES, best_on__lte=day)


class NextTaskViewSet(DecisionViewSet):
    """Dated pieces of work, each with why, computed from the farm's rules and records.

    Recording the work closes a task; correcting or removing the record opens it again. People
    skip a task with a reason and say who is to do it; everything else follows by itself.
    """

    area = Area.SCHEDULE
    queryset = NextTask.objects.select_related("farm", "block")
    serializer_class = NextTaskSerializer
    filterset_class = NextTaskFilter
    orderings = ("best_on", "opens_on", "closes_on", "created_at")
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        task = serializer.instance
        return choose(task, today=self.today_of(task), **serializer.validated_data)


class UndatedTaskSerializer(RecordSerializer):
    block_code = serializers.CharField(source="block.code", default=None)

    class Meta(RecordSerializer.Meta):
        model = UndatedTask
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "block_code",
            "why",
            "season_year",
            "crop_name",
            "about",
            "reason",
        )
        read_only_fields = fields


class UndatedTaskFilter(ScheduleFilter):
    why = django_filters.ChoiceFilter(choices=UndatedWhy.choices)
    about = django_filters.CharFilter()


class UndatedTaskViewSet(ReadOnlyViewSet):
    """Work without a date: what a rule waits for, what does not apply, and what is not known."""

    area: ClassVar[Area | None] = Area.SCHEDULE
    queryset = UndatedTask.objects.select_related("block")
    serializer_class = UndatedTaskSerializer
    filterset_class = UndatedTaskFilter
    tabular = True
