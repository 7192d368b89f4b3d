"""`deliveries`, `intakes` and `lots`."""

from decimal import Decimal
from typing import Any, ClassVar

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import LineSerializer, RecordSerializer, VisibleRelatedField
from records.api.base import BlockFilter, FarmFilter, FarmRecordViewSet
from records.models import (
    CoOp,
    Cultivar,
    Delivery,
    HarvestWeight,
    Intake,
    Lot,
    LotLine,
    SortedWeight,
)

MAX_LINES = 200


@extend_schema_field({"type": ["number", "null"]})
class NetKilograms(serializers.Field):
    """The net in kilograms, as stored in whole grams."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(read_only=True, source="net_g", **kwargs)

    def to_representation(self, net_g: int) -> float:
        return net_g / 1000


class DeliverySerializer(RecordSerializer):
    weights = VisibleRelatedField(many=True, required=False, queryset=HarvestWeight.objects.all())
    intakes: Any = serializers.PrimaryKeyRelatedField(
        many=True, read_only=True, pk_field=serializers.UUIDField()
    )

    class Meta(RecordSerializer.Meta):
        model = Delivery
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "delivered_on",
            "docket",
            "weights",
            "intakes",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        shared = ()


class DeliveryFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    weight = VisibleFilter(HarvestWeight, field_name="weights")
    docket = django_filters.CharFilter()
    delivered_on_after = django_filters.DateFilter(field_name="delivered_on", lookup_expr="gte")
    delivered_on_before = django_filters.DateFilter(field_name="delivered_on", lookup_expr="lte")


class DeliveryViewSet(FarmRecordViewSet):
    """Weighings that left the farm together, for one or more intakes."""

    area = Area.HARVEST
    queryset = Delivery.objects.prefetch_related("weights", "intakes")
    serializer_class = DeliverySerializer
    filterset_class = DeliveryFilter
    orderings = ("created_at", "delivered_on")
    tabular = True


class SortedWeightSerializer(LineSerializer):
    net_kg = NetKilograms()

    class Meta(LineSerializer.Meta):
        model = SortedWeight
        fields = ("grade", "co_op_grade", "reject_reason", "weight", "unit", "net_kg")
        blame: ClassVar[dict[str, str]] = {"sorted_weight_has_a_grade_or_a_reason": "grade"}


class IntakeSerializer(RecordSerializer):
    net_kg = NetKilograms()
    sorted_weights = SortedWeightSerializer(many=True, required=False, max_length=MAX_LINES)  # type: ignore[call-arg]  # of the list

    class Meta(RecordSerializer.Meta):
        model = Intake
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "delivery",
            "received_on",
            "received_at",
            "docket",
            "cultivar",
            "block",
            "weight",
            "unit",
            "weight_kind",
            "containers",
            "container",
            "tare_g",
            "net_kg",
            "cooled_on",
            "cooling_location",
            "sorted_weights",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        shared = tuple(
            set(fields) - {"delivery", "cooled_on", "cooling_location", "note", "recorded_at"}
        )
        fixed = ("co_op",)

    def candidate(self, attrs: dict[str, Any]) -> Intake:
        intake: Intake = super().candidate(attrs)
        if intake.weight is not None:
            intake.weight = Decimal(intake.weight)
        return intake


class IntakeFilter(BlockFilter):
    co_op = VisibleFilter(CoOp)
    delivery = VisibleFilter(Delivery)
    cultivar = VisibleFilter(Cultivar)
    docket = django_filters.CharFilter()
    received_on_after = django_filters.DateFilter(field_name="received_on", lookup_expr="gte")
    received_on_before = django_filters.DateFilter(field_name="received_on", lookup_expr="lte")


class IntakeViewSet(FarmRecordViewSet):
    """What a packing shed received from a farm, weighed and sorted."""

    area = Area.HARVEST
    queryset = Intake.objects.prefetch_related("sorted_weights")
    serializer_class = IntakeSerializer
    filterset_class = IntakeFilter
    orderings = ("created_at", "received_on")
    tabular = True


class LotLineSerializer(LineSerializer):
    net_kg = NetKilograms()

    class Meta(LineSerializer.Meta):
        model = LotLine
        fields = ("intake", "weight", "unit", "net_kg")


class LotSerializer(RecordSerializer):
    lines = LotLineSerializer(many=True, required=False, max_length=MAX_LINES)  # type: ignore[call-arg]  # of the list

    class Meta(RecordSerializer.Meta):
        model = Lot
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "code",
            "packed_on",
            "product",
            "pack_unit",
            "pack_count",
            "packing_document",
            "shipped_on",
            "shipped_to",
            "shipped_to_location",
            "shipped_count",
            "shipping_document",
            "lines",
            "note",
            "recorded_at",
            "retired_on",
        )
        read_only_fields = ("retired_on",)
        shared = ()
        fixed = ("co_op", "code")
        blame: ClassVar[dict[str, str]] = {
            "lot_of_one_farm_or_one_co_op": "farm",
            "lot_code_once_a_packer": "code",
            "lot_shipped_after_packing": "shipped_on",
            "lot_count_has_a_unit": "pack_unit",
            "lot_ships_what_was_packed": "shipped_count",
        }

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """What a co-op notes on a lot may be about another member's fruit."""
        shown = super().to_representation(instance)
        return {**shown, "note": None} if instance.of_others else shown


class LotFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    intake = VisibleFilter(Intake, field_name="lines__intake")
    code = django_filters.CharFilter()
    packed_on_after = django_filters.DateFilter(field_name="packed_on", lookup_expr="gte")
    packed_on_before = django_filters.DateFilter(field_name="packed_on", lookup_expr="lte")


class LotViewSet(FarmRecordViewSet):
    """What a farm or a co-op packed under one code; of a co-op's lot a farm sees its own lines."""

    area = Area.HARVEST
    queryset = Lot.objects.all()
    serializer_class = LotSerializer
    filterset_class = LotFilter
    orderings = ("created_at", "packed_on")
    tabular = True
