"""`fruit-counts` and `fruit-samples`."""

from typing import ClassVar

import django_filters

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from records.api.base import BlockFilter, FarmRecordViewSet
from records.choices import CountKind
from records.models import FruitCount, FruitSample, PollinationRound, Tree


class FruitCountSerializer(RecordSerializer):
    rounds = VisibleRelatedField(many=True, required=False, queryset=PollinationRound.objects.all())
    trees = VisibleRelatedField(many=True, required=False, queryset=Tree.objects.all())

    class Meta(RecordSerializer.Meta):
        model = FruitCount
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "counted_on",
            "kind",
            "counted",
            "rounds",
            "trees",
            "flowers_looked_at",
            "trees_looked_at",
            "fruit",
            "thinned_because",
            "set_share",
            "people",
            "minutes",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        blame: ClassVar[dict[str, str]] = {
            "fruit_count_has_its_denominator": "flowers_looked_at",
            "fruit_count_of_so_many_whole_trees": "trees_looked_at",
            "fruit_count_within_flowers_looked_at": "fruit",
            "fruit_count_thinned_for_a_reason": "thinned_because",
        }


class FruitCountFilter(BlockFilter):
    round = VisibleFilter(PollinationRound, field_name="rounds")
    tree = VisibleFilter(Tree, field_name="trees")
    kind = django_filters.ChoiceFilter(choices=CountKind)
    counted_on_after = django_filters.DateFilter(field_name="counted_on", lookup_expr="gte")
    counted_on_before = django_filters.DateFilter(field_name="counted_on", lookup_expr="lte")


class FruitCountViewSet(FarmRecordViewSet):
    """Fruit counted on marked flowers or on whole trees."""

    area = Area.OBSERVATION
    queryset = FruitCount.objects.prefetch_related("rounds", "trees")
    serializer_class = FruitCountSerializer
    filterset_class = FruitCountFilter
    orderings = ("created_at", "counted_on")
    tabular = True


class FruitSampleSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = FruitSample
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "tree",
            "round",
            "sampled_on",
            "label",
            "weight_g",
            "length_mm",
            "width_mm",
            "shape_score",
            "shape_best",
            "shape_worst",
            "seeds",
            "soluble_solids_brix",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        blame: ClassVar[dict[str, str]] = {
            "fruit_sample_measures_something": "weight_g",
            "fruit_sample_shape_has_its_scale": "shape_score",
            "fruit_sample_shape_on_its_scale": "shape_score",
        }


class FruitSampleFilter(BlockFilter):
    round = VisibleFilter(PollinationRound)
    tree = VisibleFilter(Tree)
    sampled_on_after = django_filters.DateFilter(field_name="sampled_on", lookup_expr="gte")
    sampled_on_before = django_filters.DateFilter(field_name="sampled_on", lookup_expr="lte")


class FruitSampleViewSet(FarmRecordViewSet):
    """Fruit measured one by one."""

    area = Area.OBSERVATION
    queryset = FruitSample.objects.select_related("tree")
    serializer_class = FruitSampleSerializer
    filterset_class = FruitSampleFilter
    orderings = ("created_at", "sampled_on")
    tabular = True
