"""`season-summaries`: seasons in figures, of a farm's parts or of a co-op."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import FlagFilter, VisibleFilter
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import ReadOnlyViewSet
from planning.api.filters import SeasonFilter
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.work import PICKING, POLLINATION
from planning.querysets import SeasonSummaryQuerySet
from records.choices import Basis, TaskKind
from records.models import Block, CoOp, Crop, Cultivar, Farm


class Rounded(serializers.FloatField):
    """A figure, rounded only here, on its way out."""

    def __init__(self, places: int, **kwargs: Any) -> None:
        self.places = places
        super().__init__(allow_null=True, read_only=True, **kwargs)

    def to_representation(self, value: float) -> Any:
        return round(float(value), self.places)


class Kilos(Rounded):
    """Kilograms, given exactly: grams are whole."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(3, **kwargs)


class KilosOfGrams(Kilos):
    def to_representation(self, value: float) -> Any:
        return super().to_representation(value / 1000)


class GradeKilosSerializer(serializers.Serializer):
    grade = serializers.CharField(allow_null=True, help_text="Null: not graded.")
    marketable = serializers.BooleanField(allow_null=True)
    net_kg = Kilos()
    estimated_kg = Kilos()


class WeekKilosSerializer(serializers.Serializer):
    week_starts_on = serializers.DateField(help_text="A Monday.")
    net_kg = Kilos()
    estimated_kg = Kilos()
    cumulative_kg = Kilos()


class TreeSpreadSerializer(serializers.Serializer):
    """Between trees that were weighed by themselves."""

    n = serializers.IntegerField(help_text="Trees weighed by themselves.")
    net_kg = Kilos()
    mean_kg = Rounded(3)
    sd_kg = Rounded(3)
    cv = Rounded(4)


class AgainstMainSerializer(serializers.Serializer):
    """A further crop against the main crop of its block and season."""

    kilos_ratio = Rounded(3)
    p50_days_later = serializers.IntegerField(allow_null=True)
    kg_per_picking_hour_ratio = Rounded(3)
    minutes_ratio = Rounded(3)
    reasons = serializers.DictField(child=serializers.CharField())


@extend_schema_field({"type": ["object", "null"], "additionalProperties": {"type": "integer"}})
class Minutes(serializers.JSONField):
    """Minutes of all people together, by kind of work."""


@extend_schema_field({"type": ["integer", "null"]})
class MinutesOf(serializers.Field):
    """Minutes of one kind of work, or of all, in a column of its own."""

    def __init__(self, *kinds: str, **kwargs: Any) -> None:
        self.kinds = kinds
        super().__init__(source="minutes", allow_null=True, read_only=True, **kwargs)

    def to_representation(self, value: dict[str, int]) -> int:
        return sum(value.get(kind, 0) for kind in self.kinds or value)


@extend_schema_field({"type": "object", "additionalProperties": {"type": "string"}})
class Reasons(serializers.JSONField):
    """Figure by figure, why it is null or what to be careful of."""


@extend_schema_field({"type": "object", "additionalProperties": True})
class Inputs(serializers.JSONField):
    """What the figures were computed from."""


class SeasonSummarySerializer(RecordSerializer):
    farm_code = serializers.CharField(source="farm.code", default=None)
    member_code = serializers.CharField(source="member.code", default=None)
    block_code = serializers.CharField(source="block.code", default=None)
    cultivar_name = serializers.CharField(source="cultivar.name", default=None)
    crop_name = serializers.CharField(source="crop.name", default=None)
    net_kg = KilosOfGrams(source="net_g")
    estimated_kg = KilosOfGrams(source="estimated_g")
    grades = GradeKilosSerializer(many=True)
    marketable_share = Rounded(4)
    ungraded_share = Rounded(4)
    mean_fruit_g = Rounded(1)
    area_m2 = Rounded(1)
    kg_per_tree = Rounded(3)
    t_per_ha = Rounded(3)
    total_minutes = MinutesOf(help_text="Of all work, of all people together.")
    picking_minutes = MinutesOf(PICKING)
    pollination_minutes = MinutesOf(POLLINATION)
    pruning_minutes = MinutesOf(TaskKind.PRUNING)
    kg_per_picking_hour = Rounded(2)
    minutes = Minutes(read_only=True)
    weeks = WeekKilosSerializer(many=True)
    spread = TreeSpreadSerializer(allow_null=True)
    against_main = AgainstMainSerializer(allow_null=True)
    reasons = Reasons()
    inputs = Inputs()

    class Meta(RecordSerializer.Meta):
        model = SeasonSummary
        fields = (
            *RecordSerializer.base_fields,
            "level",
            "season_label",
            "season_year",
            "starts_on",
            "ends_on",
            "is_closed",
            "basis",
            "farm",
            "farm_code",
            "co_op",
            "member",
            "member_code",
            "block",
            "block_code",
            "cultivar",
            "cultivar_name",
            "crop",
            "crop_name",
            "net_kg",
            "estimated_kg",
            "marketable_share",
            "ungraded_share",
            "fruit_count",
            "mean_fruit_g",
            "bearing_trees",
            "area_m2",
            "kg_per_tree",
            "t_per_ha",
            "first_on",
            "p10_on",
            "p50_on",
            "p90_on",
            "last_on",
            "total_minutes",
            "picking_minutes",
            "pollination_minutes",
            "pruning_minutes",
            "kg_per_picking_hour",
            "method",
            "minutes",
            "grades",
            "weeks",
            "spread",
            "against_main",
            "reasons",
            "inputs",
        )
        read_only_fields = fields


class SeasonSummaryFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm, method="filter_farm", label="A farm's own, and a co-op's about it.")
    co_op = VisibleFilter(CoOp)
    block = VisibleFilter(Block)
    cultivar = VisibleFilter(Cultivar)
    crop = VisibleFilter(Crop)
    level = django_filters.ChoiceFilter(choices=SummaryLevel.choices)
    season = SeasonFilter()
    basis = django_filters.ChoiceFilter(choices=Basis.choices)
    is_closed = FlagFilter()

    def filter_farm(self, rows: SeasonSummaryQuerySet, name: str, farm: Farm) -> Any:
        return rows.of_farm(farm.pk)


class SeasonSummaryViewSet(ReadOnlyViewSet):
    """Seasons in figures: of blocks, cultivars, crops and farms, and of co-ops."""

    area = Area.SUMMARY
    queryset = SeasonSummary.objects.select_related("farm", "member", "block", "cultivar", "crop")
    serializer_class = SeasonSummarySerializer
    filterset_class = SeasonSummaryFilter
    orderings = ("created_at", "season_year")
    tabular = True
