"""`species`, `cultivars`, `blocks`, `planting-lines`, `trees` and `grafts`."""

from typing import Any, ClassVar

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.rest.filters import DateFilter, NumberFilter, VisibleFilter
from orchard.rest.serializers import RecordSerializer
from records.api.base import BlockFilter, FarmFilter, FarmRecordViewSet, ReferenceViewSet
from records.api.filling import Fillable
from records.choices import MAX_ROW
from records.models import Block, Cultivar, Graft, PlantingLine, Species, Tree

POLYGON = {
    "type": ["object", "null"],
    "description": "GeoJSON (RFC 7946) Polygon or MultiPolygon, in longitude and latitude.",
    "required": ["type", "coordinates"],
    "properties": {
        "type": {"type": "string", "enum": ["Polygon", "MultiPolygon"]},
        "coordinates": {"type": "array", "items": {}},
    },
}


class SpeciesSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Species
        fields = (
            *RecordSerializer.base_fields,
            "code",
            "common_name",
            "scientific_name",
            "bearing_age_years",
            "bearing_age_source",
        )


class SpeciesViewSet(ReferenceViewSet):
    """Species: reference data, the same for all."""

    area = None
    queryset = Species.objects.all()
    serializer_class = SpeciesSerializer
    orderings = ("created_at", "code")


class CultivarSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Cultivar
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "species",
            "name",
            "bearing_age_years",
            "retired_on",
        )
        fixed = ("species",)


class CultivarFilter(FarmFilter):
    species = VisibleFilter(Species)
    name = django_filters.CharFilter(lookup_expr="iexact")


class CultivarViewSet(FarmRecordViewSet):
    """Cultivars shared by all, and those a farm keeps for itself."""

    queryset = Cultivar.objects.all()
    serializer_class = CultivarSerializer
    filterset_class = CultivarFilter
    orderings = ("created_at", "name")


@extend_schema_field(POLYGON)
class BoundaryField(serializers.JSONField):
    """An outline; what is wrong with it is said by `records.places`."""


class BlockSerializer(RecordSerializer):
    boundary = BoundaryField(required=False, allow_null=True)

    class Meta(RecordSerializer.Meta):
        model = Block
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "code",
            "name",
            "area_m2",
            "boundary",
            "boundary_area_m2",
            "retired_on",
        )
        read_only_fields = ("boundary_area_m2",)
        shared = ("farm", "code", "area_m2", "boundary_area_m2")

    def validate_boundary(self, value: Any) -> Any:
        check: Any = Block._meta.get_field("boundary").run_validators
        if value is not None:
            check(value)
        return value


class BlockViewSet(Fillable, FarmRecordViewSet):
    """Named plantings inside farms."""

    queryset = Block.objects.all()
    serializer_class = BlockSerializer
    orderings = ("created_at", "code")


class PlantingLineSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = PlantingLine
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "cultivar",
            "rootstock",
            "planted_year",
            "tree_count",
            "area_m2",
            "non_bearing",
            "ended_on",
        )
        shared = ("farm", "block", "cultivar", "tree_count", "area_m2")
        fixed = ("block",)


class PlantingLineViewSet(FarmRecordViewSet):
    """Trees that are counted, not listed."""

    queryset = PlantingLine.objects.all()
    serializer_class = PlantingLineSerializer
    filterset_class = BlockFilter


class TreeSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Tree
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "row",
            "position",
            "number",
            "cultivar",
            "rootstock",
            "planted_on",
            "removed_on",
            "removal_reason",
            "non_bearing",
            "moved_from",
            "mother",
        )
        shared = ("farm", "block", "number", "cultivar")
        fixed = ("block",)
        blame: ClassVar[dict[str, str]] = {
            "tree_removed_after_planting": "removed_on",
            "one_tree_at_a_place_on_a_day": "position",
        }


class TreeFilter(BlockFilter):
    cultivar = VisibleFilter(Cultivar)
    row = NumberFilter(min_value=0, max_value=MAX_ROW)
    standing_on = DateFilter(method="filter_standing", label="Trees standing then.")

    def filter_standing(self, trees: Any, name: str, day: Any) -> Any:
        return trees.standing_on(day)


class TreeViewSet(FarmRecordViewSet):
    """Single plants at a row and position."""

    queryset = Tree.objects.all()
    serializer_class = TreeSerializer
    filterset_class = TreeFilter


class GraftSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Graft
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "tree",
            "cultivar",
            "share_percent",
            "grafted_on",
            "removed_on",
        )
        shared = ("farm", "tree", "cultivar", "share_percent")
        fixed = ("tree",)
        blame: ClassVar[dict[str, str]] = {"graft_removed_after_grafting": "removed_on"}


class GraftFilter(FarmFilter):
    tree = VisibleFilter(Tree)


class GraftViewSet(FarmRecordViewSet):
    """Top-working: cultivars grafted onto standing trees."""

    queryset = Graft.objects.select_related("tree")
    serializer_class = GraftSerializer
    filterset_class = GraftFilter
