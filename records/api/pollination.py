"""`pollen-batches` and `pollination-rounds`."""

from typing import Any, ClassVar
from uuid import UUID

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from records.api.base import BlockFilter, FarmFilter, FarmRecordViewSet
from records.api.field import TreesByPlace
from records.choices import MAX_FLOWERS, PollinationMethod
from records.models import Cultivar, PollenBatch, PollinationRound, Tree


class PollenBatchSerializer(RecordSerializer):
    donor_trees = VisibleRelatedField(many=True, required=False, queryset=Tree.objects.all())
    donor_cultivars = VisibleRelatedField(
        many=True, required=False, queryset=Cultivar.objects.all()
    )

    class Meta(RecordSerializer.Meta):
        model = PollenBatch
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "name",
            "collected_at",
            "collected_on",
            "stage",
            "donor_trees",
            "donor_cultivars",
            "donor_flowers",
            "storage_c",
            "people",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("collected_on", "retired_on")


class PollenBatchFilter(FarmFilter):
    collected_on_after = django_filters.DateFilter(field_name="collected_on", lookup_expr="gte")
    collected_on_before = django_filters.DateFilter(field_name="collected_on", lookup_expr="lte")


class PollenBatchViewSet(FarmRecordViewSet):
    """Pollen collected at one time, from donor trees or cultivars."""

    area = Area.OBSERVATION
    queryset = PollenBatch.objects.prefetch_related("donor_trees", "donor_cultivars")
    serializer_class = PollenBatchSerializer
    filterset_class = PollenBatchFilter
    orderings = ("created_at", "collected_on")
    tabular = True


class OneBatchField(VisibleRelatedField):
    """A round uses one pollen batch."""

    default_error_messages: ClassVar[dict[str, Any]] = {
        "two": "A round has one pollen batch; another batch is another round."
    }

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, list):
            raise serializers.ValidationError(self.error_messages["two"], "invalid-value")
        return super().to_internal_value(data)


@extend_schema_field(
    {
        "type": "object",
        "description": "Flowers by the id of a tree of the round, where they were counted so.",
        "additionalProperties": {"type": "integer", "minimum": 1, "maximum": MAX_FLOWERS},
    }
)
class FlowersByTreeField(serializers.DictField):
    """Read from and written to the rows of the round's trees."""

    child = serializers.IntegerField(min_value=1, max_value=MAX_FLOWERS)

    def get_attribute(self, instance: Any) -> dict[str, int]:
        return {
            str(link.tree_id): link.flowers
            for link in instance.tree_links.all()
            if link.flowers is not None
        }

    def to_internal_value(self, data: Any) -> dict[Any, int]:
        counted = super().to_internal_value(data)
        key = serializers.UUIDField()
        return {UUID(str(key.to_internal_value(tree))): n for tree, n in counted.items()}


class PollinationRoundSerializer(TreesByPlace):
    pollen_batch = OneBatchField(
        queryset=PollenBatch.objects.all(), required=False, allow_null=True
    )
    flowers_by_tree = FlowersByTreeField(required=False)

    class Meta(RecordSerializer.Meta):
        model = PollinationRound
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            *TreesByPlace.place_fields,
            "cultivar",
            "method",
            "pollen_batch",
            "is_bagged",
            "pollinated_on",
            "started_at",
            "flowers",
            "flowers_by_tree",
            "people",
            "minutes",
            "is_self",
            "pollen_age_minutes",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("is_self", "retired_on")
        rows = ("flowers_by_tree",)
        blame: ClassVar[dict[str, str]] = {
            "round_has_the_pollen_of_its_method": "pollen_batch",
            "round_has_the_bagging_of_its_method": "is_bagged",
        }


class PollinationRoundFilter(BlockFilter):
    tree = VisibleFilter(Tree, field_name="trees")
    cultivar = VisibleFilter(Cultivar)
    pollen_batch = VisibleFilter(PollenBatch)
    method = django_filters.ChoiceFilter(choices=PollinationMethod)
    pollinated_on_after = django_filters.DateFilter(field_name="pollinated_on", lookup_expr="gte")
    pollinated_on_before = django_filters.DateFilter(field_name="pollinated_on", lookup_expr="lte")


class PollinationRoundViewSet(FarmRecordViewSet):
    """One visit's pollinated flowers, which is also the work done."""

    area = Area.OBSERVATION
    queryset = PollinationRound.objects.select_related("farm", "pollen_batch").prefetch_related(
        "trees", "tree_links"
    )
    serializer_class = PollinationRoundSerializer
    filterset_class = PollinationRoundFilter
    orderings = ("created_at", "pollinated_on")
    tabular = True
