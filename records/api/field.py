"""`task-logs`, `growth-stages` and `trunk-girths`."""

from typing import Any, ClassVar

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer, Strict, VisibleRelatedField
from records import details
from records.api.base import BlockFilter, FarmFilter, FarmRecordViewSet
from records.choices import MAX_ROW, TaskKind
from records.models import GrowthStage, TaskLog, Tree, TrunkGirth
from records.services.saving.pollination import trees_at


class PlaceRangeSerializer(Strict):
    """Positions of one row, both ends included."""

    row = serializers.IntegerField(min_value=0, max_value=MAX_ROW)
    from_position = serializers.IntegerField(min_value=0, max_value=MAX_ROW)
    to_position = serializers.IntegerField(min_value=0, max_value=MAX_ROW)


class TreesByPlace(RecordSerializer):
    """Trees by id, or by row and range of positions: those standing there on the day."""

    trees = VisibleRelatedField(many=True, required=False, queryset=Tree.objects.all())
    places = PlaceRangeSerializer(many=True, write_only=True, required=False)

    place_fields = ("trees", "places")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        places = attrs.pop("places", None)
        if places is not None:
            record = self.candidate(attrs)
            day = getattr(record, type(record).dated_by)
            found = {tree.pk: tree for tree in trees_at(record.block_id, day, places)}
            named = {tree.pk: tree for tree in attrs.get("trees", ())}
            attrs["trees"] = list({**named, **found}.values())
        return super().validate(attrs)


@extend_schema_field(details.schema())
class DetailsField(serializers.JSONField):
    """What a kind of work carries besides; checked by `records.details`."""


class TaskLogSerializer(TreesByPlace):
    details = DetailsField(required=False)

    class Meta(RecordSerializer.Meta):
        model = TaskLog
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            *TreesByPlace.place_fields,
            "kind",
            "done_on",
            "people",
            "minutes",
            "details",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)


class TaskLogFilter(BlockFilter):
    tree = VisibleFilter(Tree, field_name="trees")
    kind = django_filters.ChoiceFilter(choices=TaskKind)
    done_on_after = django_filters.DateFilter(field_name="done_on", lookup_expr="gte")
    done_on_before = django_filters.DateFilter(field_name="done_on", lookup_expr="lte")


class TaskLogViewSet(FarmRecordViewSet):
    """Work done: pruning, thinning, spraying and the rest; a pollination round is its own log."""

    area = Area.FIELD
    queryset = TaskLog.objects.prefetch_related("trees")
    serializer_class = TaskLogSerializer
    filterset_class = TaskLogFilter
    orderings = ("created_at", "done_on")
    tabular = True


class GrowthStageSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = GrowthStage
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "tree",
            "observed_on",
            "bbch",
            "trees_seen",
            "trees_looked_at",
            "people",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        blame: ClassVar[dict[str, str]] = {
            "growth_stage_of_a_tree_or_of_so_many": "trees_seen",
            "growth_stage_seen_on_trees_looked_at": "trees_seen",
        }


class GrowthStageFilter(BlockFilter):
    tree = VisibleFilter(Tree)
    bbch = django_filters.CharFilter()
    observed_on_after = django_filters.DateFilter(field_name="observed_on", lookup_expr="gte")
    observed_on_before = django_filters.DateFilter(field_name="observed_on", lookup_expr="lte")


class GrowthStageViewSet(FarmRecordViewSet):
    """Stages of the BBCH scale, seen on a tree or on so many of a block's trees."""

    area = Area.OBSERVATION
    queryset = GrowthStage.objects.select_related("tree")
    serializer_class = GrowthStageSerializer
    filterset_class = GrowthStageFilter
    orderings = ("created_at", "observed_on")
    tabular = True


class TrunkGirthSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = TrunkGirth
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "tree",
            "trunk",
            "measured_on",
            "girth_mm",
            "section_cm2",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        fixed = ("tree",)


class TrunkGirthFilter(FarmFilter):
    tree = VisibleFilter(Tree)
    measured_on_after = django_filters.DateFilter(field_name="measured_on", lookup_expr="gte")
    measured_on_before = django_filters.DateFilter(field_name="measured_on", lookup_expr="lte")


class TrunkGirthViewSet(FarmRecordViewSet):
    """Girths of trunks; the sections of a tree's trunks add up, their diameters do not."""

    area = Area.FIELD
    queryset = TrunkGirth.objects.select_related("tree")
    serializer_class = TrunkGirthSerializer
    filterset_class = TrunkGirthFilter
    orderings = ("created_at", "measured_on")
    tabular = True
