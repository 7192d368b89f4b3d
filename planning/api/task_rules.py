"""`task-rules` and `schedule-settings`: what sets off a farm's work, and by which climate."""

from typing import Any, ClassVar

import django_filters
from django.db import transaction
from django.db.models import Model

from orchard.access import Area
from orchard.rest.filters import FlagFilter, VisibleFilter
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import RecordViewSet
from planning.api.filters import ScheduleFilter
from planning.choices import RuleOrigin, WorkKind
from planning.models import ScheduleSetting, TaskRule
from planning.services.task_rules import delete_rule, save_rule
from records.models import Farm, Species


class TaskRuleSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = TaskRule
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "species",
            "code",
            "kind",
            "detail",
            "title",
            "noun",
            "is_active",
            "origin",
            "source",
            "trigger",
            "opens_on_day",
            "best_on_day",
            "closes_on_day",
            "because",
            "opens_days",
            "best_days",
            "closes_days",
            "after_kind",
            "after_which",
            "after_bbch_from",
            "after_bbch_to",
            "after_stage",
            "shown_by",
            "after_event",
            "after_degree_days",
            "base_c",
            "early_days",
            "repeat_opens_days",
            "repeat_best_days",
            "repeat_closes_days",
            "repeat_times",
            "repeat_for_days",
            "until_bbch_from",
            "until_bbch_to",
            "until_stage",
            "only_while",
            "only_while_kind",
            "only_while_detail",
            "only_while_days",
        )
        read_only_fields = ("origin",)
        fixed = ("block", "species", "code")
        blame: ClassVar[dict[str, str]] = {
            "task_rule_of_a_block_or_a_species": "species",
            "task_rule_is_named": "title",
            "task_rule_of_dates_has_its_dates": "best_on_day",
            "task_rule_counts_its_days": "best_days",
            "task_rule_days_in_order": "best_days",
            "task_rule_after_work_names_it": "after_kind",
            "task_rule_after_a_stage_names_it": "after_stage",
            "task_rule_shown_by_of_a_stage": "shown_by",
            "task_rule_after_an_event_names_it": "after_event",
            "task_rule_of_heat_has_its_sum": "after_degree_days",
            "task_rule_of_heat_has_one_anchor": "after_stage",
            "task_rule_only_while_names_the_work": "only_while_kind",
            "task_rule_only_while_has_its_days": "only_while_days",
            "task_rule_only_while_is_whole": "only_while",
            "task_rule_stages_in_order": "after_bbch_to",
            "task_rule_end_in_order": "until_bbch_to",
            "task_rule_repeat_is_whole": "repeat_best_days",
            "task_rule_repeat_in_order": "repeat_best_days",
            "task_rule_end_is_whole": "until_stage",
            "task_rule_detail_of_counting": "detail",
        }


class TaskRuleFilter(ScheduleFilter):
    species = VisibleFilter(Species)
    code = django_filters.CharFilter()
    kind = django_filters.ChoiceFilter(choices=WorkKind.choices)
    origin = django_filters.ChoiceFilter(choices=RuleOrigin.choices)
    is_active = FlagFilter()


class TaskRuleViewSet(RecordViewSet):
    """What sets off a piece of work: dates, work, a stage, an event, heat. Defaults by species.

    A nearer rule (of a block, of a species) takes the place of a wider one of the same code.
    Changing a default makes it the farm's own; `is_active` switches a rule off.
    """

    area = Area.SCHEDULE
    queryset = TaskRule.objects.all()
    serializer_class = TaskRuleSerializer
    filterset_class = TaskRuleFilter
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        return save_rule(serializer.candidate({**serializer.validated_data, **extra}))

    def remove(self, record: Any) -> None:
        delete_rule(record)


class ScheduleSettingSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = ScheduleSetting
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "climate",
            "days_ahead",
            "works_from",
            "works_until",
            "crew_size",
        )
        blame: ClassVar[dict[str, str]] = {
            "schedule_setting_has_both_hours": "works_until",
            "schedule_setting_hours_in_order": "works_until",
        }


class ScheduleSettingFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)


class ScheduleSettingViewSet(RecordViewSet):
    """By which climate a farm's default rules are chosen, how early its work is announced, and
    in which hours it works.
    """

    area = Area.SCHEDULE
    queryset = ScheduleSetting.objects.all()
    serializer_class = ScheduleSettingSerializer
    filterset_class = ScheduleSettingFilter

    def write(self, serializer: Any, **extra: Any) -> Model:
        with transaction.atomic():
            record = serializer.candidate({**serializer.validated_data, **extra})
            record.save(force_insert=record._state.adding)
        saved: Model = record
        return saved
