"""`containers`, `grades`, `grade-mappings`, `crops` and `harvest-weights`."""

from decimal import Decimal
from typing import Any, ClassVar

import django_filters
from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Exists, FloatField, OuterRef, Prefetch, Q, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Cast
from drf_spectacular.utils import extend_schema
from rest_framework import renderers, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import DateFilter, FlagFilter, VisibleFilter
from orchard.rest.pagination import chosen_ordering, sort_keys
from orchard.rest.problems import Problem
from orchard.rest.renderers import CSVRenderer, XLSXRenderer
from orchard.rest.rows import PlainRows
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from orchard.rest.viewsets import MAX_TABLE_ROWS
from records.api.base import BlockFilter, FarmFilter, FarmRecordViewSet
from records.api.harvest_sheets import read_weighings, sheet_of
from records.choices import CropChoice
from records.models import (
    Container,
    CoOp,
    Crop,
    Cultivar,
    Grade,
    GradeMapping,
    HarvestImport,
    HarvestWeight,
    HarvestWeightTree,
    Tree,
)
from records.querysets import GradeMappingQuerySet


class ContainerSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Container
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "code",
            "name",
            "tare_g",
            "usual_net_g",
            "retired_on",
        )


class ContainerViewSet(FarmRecordViewSet):
    """Kinds of boxes and crates."""

    queryset = Container.objects.all()
    serializer_class = ContainerSerializer


class GradeSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Grade
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "code",
            "name",
            "is_marketable",
            "cull_reason",
            "retired_on",
        )
        blame: ClassVar[dict[str, str]] = {"cull_grade_has_a_reason": "cull_reason"}


class GradeViewSet(FarmRecordViewSet):
    """A farm's grades: marketable, or culls with a reason."""

    queryset = Grade.objects.all()
    serializer_class = GradeSerializer


class GradeMappingSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = GradeMapping
        fields = (*RecordSerializer.base_fields, "farm", "grade", "co_op_grade", "applies_from")
        fixed = ("grade",)


class GradeMappingFilter(FarmFilter):
    grade = VisibleFilter(Grade)
    co_op = VisibleFilter(CoOp, field_name="co_op_grade__co_op")


class GradeMappingViewSet(FarmRecordViewSet):
    """Which of a co-op's grades a farm's grade counts as, from a date on."""

    queryset = GradeMappingQuerySet(GradeMapping)
    serializer_class = GradeMappingSerializer
    filterset_class = GradeMappingFilter


class CropSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Crop
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "name",
            "opened_by",
            "opened_on",
            "bloom_began_on",
            "picking_starts_on",
            "picking_ends_on",
        )
        shared = ("farm", "block", "name")
        fixed = ("block",)
        blame: ClassVar[dict[str, str]] = {
            "crop_picking_ends_after_it_starts": "picking_ends_on",
            "crop_blooms_after_opening": "bloom_began_on",
        }


class CropViewSet(FarmRecordViewSet):
    """Runs of flush, bloom and harvest on a block."""

    queryset = Crop.objects.all()
    serializer_class = CropSerializer
    filterset_class = BlockFilter


class HarvestWeightSerializer(RecordSerializer):
    trees = VisibleRelatedField(many=True, required=False, queryset=Tree.objects.all())
    net_kg = serializers.SerializerMethodField()
    estimated_kg = serializers.SerializerMethodField()

    class Meta(RecordSerializer.Meta):
        model = HarvestWeight
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "block",
            "trees",
            "picked_on",
            "weight",
            "unit",
            "weight_kind",
            "containers",
            "container",
            "tare_g",
            "fruit_count",
            "net_kg",
            "estimated_kg",
            "grade",
            "entered_cultivar",
            "cultivar",
            "crop",
            "crop_chosen_by",
            "docket",
            "ticket",
            "pickers",
            "minutes",
            "note",
            "harvest_import",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("cultivar", "crop_chosen_by", "harvest_import", "retired_on")
        shared = tuple(set(fields) - {"pickers", "minutes", "note", "recorded_at"})
        fixed = ()
        blame: ClassVar[dict[str, str]] = {
            "harvest_weight_says_how_much": "weight",
            "harvest_weight_has_a_unit": "unit",
        }

    def get_net_kg(self, weight: HarvestWeight) -> float | None:
        return None if weight.net_g is None else weight.net_g / 1000

    def get_estimated_kg(self, weight: HarvestWeight) -> float | None:
        estimate = weight.estimated_from_containers_g
        return None if estimate is None else estimate / 1000

    def candidate(self, attrs: dict[str, Any]) -> HarvestWeight:
        weight: HarvestWeight = super().candidate(attrs)
        if weight.weight is not None:
            weight.weight = Decimal(weight.weight)
        if "crop" in attrs:
            weight.crop_chosen_by = CropChoice.PERSON if attrs["crop"] else CropChoice.DATE
        return weight


class HarvestWeightFilter(BlockFilter):
    tree = VisibleFilter(Tree, field_name="trees")
    cultivar = VisibleFilter(Cultivar)
    grade = VisibleFilter(Grade)
    crop = VisibleFilter(Crop)
    harvest_import = VisibleFilter(HarvestImport)
    docket = django_filters.CharFilter()
    picked_on_after = DateFilter(field_name="picked_on", lookup_expr="gte")
    picked_on_before = DateFilter(field_name="picked_on", lookup_expr="lte")
    retired = FlagFilter(field_name="retired_on", lookup_expr="isnull", exclude=True)


def kilos(grams: str) -> Combinable:
    return Cast(grams, FloatField()) / Value(1000.0)


PICKED_TREES = HarvestWeightTree.objects.filter(weight_id=OuterRef("pk"))
# As `HarvestWeight.warnings` has it.
GONE_BEFORE = PICKED_TREES.filter(tree__removed_on__lte=OuterRef("picked_on"))
WEIGHINGS = PlainRows(
    serializer=HarvestWeightSerializer,
    computed={
        "trees": ArraySubquery(PICKED_TREES.order_by("tree_id").values("tree_id")),
        "net_kg": kilos("net_g"),
        "estimated_kg": kilos("estimated_from_containers_g"),
    },
    needs_record=Q(Exists(GONE_BEFORE)),
)


class HarvestSheetSerializer(serializers.Serializer):
    results = serializers.ListField(
        child=serializers.DictField(), help_text="Lines, by the headings of the file."
    )


class HarvestWeightViewSet(FarmRecordViewSet):
    """Weighings (or counts) of picked fruit."""

    area = Area.HARVEST
    queryset = HarvestWeight.objects.prefetch_related(
        Prefetch("trees", Tree.objects.order_by("pk"))
    )
    plain_rows = WEIGHINGS
    serializer_class = HarvestWeightSerializer
    filterset_class = HarvestWeightFilter
    orderings = ("created_at", "picked_on")
    tabular = True

    def get_renderers(self) -> list[renderers.BaseRenderer]:
        extra = [CSVRenderer(), XLSXRenderer()] if self.action == "sheet" else []
        return [*super().get_renderers(), *extra]

    @extend_schema(responses=HarvestSheetSerializer)
    @action(detail=False)
    def sheet(self, request: Request) -> Response:
        """Weighings as `harvest-imports` reads them: by codes, as CSV or XLSX.

        Takes the list's filters and leaves out what was retired. Meant for another farm record, or
        for what came by file in the first place: weighings that were entered one by one are not
        known again, and would be added a second time. An import has one tree a line, so that the
        trees of a weighing of several stand in a last column that it does not read. Where you may
        not see pickers, minutes and note, there are no such columns.
        """
        rows = self.filter_queryset(self.get_queryset())
        ordering = chosen_ordering(request, self)
        found = read_weighings(rows.order_by(*sort_keys(ordering)), MAX_TABLE_ROWS + 1)
        if len(found) > MAX_TABLE_ROWS:
            raise Problem("rule-broken", f"More than {MAX_TABLE_ROWS} rows; filter the list.")
        made = sheet_of(found)
        if request.accepted_renderer.format != "json":
            return Response(made)
        return Response(
            {"results": [dict(zip(made.headings, row, strict=True)) for row in made.rows]}
        )
