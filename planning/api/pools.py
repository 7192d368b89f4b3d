"""`pools` and `pool-deductions`: what a co-op pays its members for, and what it keeps back."""

from typing import Any, ClassVar

import django_filters
from django.db import transaction
from django.db.models import Model, QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import DateFilter, VisibleFilter, check, refuse_unknown
from orchard.rest.problems import Problem
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from orchard.rest.viewsets import RecordViewSet
from planning.api.settlement_rows import DraftSerializer, draft_row
from planning.choices import PoolState
from planning.models import Pool, PoolDeduction
from planning.services.settlement import (
    draft,
    issue,
    lock_settlement,
    save_deduction,
    save_pool,
)
from records.models import CoOp, CoOpGrade, Cultivar, Farm, Species


class PoolSerializer(RecordSerializer):
    grades = VisibleRelatedField(many=True, required=False, queryset=CoOpGrade.objects.all())

    class Meta(RecordSerializer.Meta):
        model = Pool
        fields = (
            *RecordSerializer.base_fields,
            "co_op",
            "name",
            "species",
            "cultivar",
            "grades",
            "starts_on",
            "ends_on",
            "currency",
            "price_per_kg",
            "amount",
            "state",
            "basis",
            "issued_at",
        )
        read_only_fields = ("state", "basis", "issued_at")
        fixed = ("co_op",)
        blame: ClassVar[dict[str, str]] = {
            "pool_name_once": "name",
            "pool_has_a_name": "name",
            "pool_ends_after_it_starts": "ends_on",
            "pool_price_above_nothing": "price_per_kg",
            "pool_amount_above_nothing": "amount",
            "pool_pays_in_one_way": "amount",
            "pool_of_a_species_or_a_cultivar": "cultivar",
            "issued_pool_pays": "price_per_kg",
        }


class PoolFilter(django_filters.FilterSet):
    co_op = VisibleFilter(CoOp)
    species = VisibleFilter(Species)
    cultivar = VisibleFilter(Cultivar)
    state = django_filters.ChoiceFilter(choices=PoolState.choices)
    currency = django_filters.CharFilter()
    starts_on_after = DateFilter(field_name="starts_on", lookup_expr="gte")
    starts_on_before = DateFilter(field_name="starts_on", lookup_expr="lte")


class DraftFilter(django_filters.FilterSet):
    member = VisibleFilter(
        Farm, method="any_pool", label="One member, whose lines are told as well."
    )

    def any_pool(self, rows: QuerySet[Any], name: str, member: Farm) -> QuerySet[Any]:
        """It narrows the draft and not the pools."""
        return rows


class SettlingViewSet(RecordViewSet):
    """What staff write of a co-op's settlement: one after the other, as a pool is issued."""

    area = Area.SETTLEMENT

    def _locked(self, request: Request) -> Any:
        """The settlement's lock first, as issuing takes it: else the two could wait in a ring."""
        record = self.get_object()
        lock_settlement(getattr(record, "pool", record).co_op_id)
        return super()._locked(request)


class PoolViewSet(SettlingViewSet):
    """Fruit of some days that is paid together: at a price per kilo, or by sharing an amount.

    It pays for weighed kilos of marketable and ungraded fruit, on each member's basis. Records and
    arithmetic only: no money moves, and nothing here is tax or legal advice.
    """

    queryset = Pool.objects.select_related("co_op").prefetch_related("grades")
    serializer_class = PoolSerializer
    filterset_class = PoolFilter
    orderings = ("created_at", "starts_on")

    def write(self, serializer: Any, **extra: Any) -> Model:
        grades = serializer.validated_data.pop("grades", None)
        return save_pool(serializer.candidate({**serializer.validated_data, **extra}), grades)

    @extend_schema(responses=DraftSerializer, operation_id="draft_pool")
    @action(detail=True, filterset_class=DraftFilter)
    def draft(self, request: Request, pk: Any) -> Response:
        """What the pool's statements would be if they were issued now; nothing of it is stored.

        With `member`, that member's statement only, with its lines.
        """
        pool = self.get_object()
        filterset = DraftFilter(request.query_params, queryset=Farm.objects.none(), request=request)
        refuse_unknown(request, filterset.filters, {"format"})
        asked = check(filterset)["member"]
        return Response(DraftSerializer(draft_row(draft(pool), asked)).data)

    @extend_schema(request=None, responses=PoolSerializer, operation_id="issue_pool")
    @action(detail=True, methods=["post"])
    def issue(self, request: Request, pk: Any) -> Response:
        """Store the pool's statements for good, all or none.

        What changes afterwards is put right on the members' next statements.
        """
        refuse_body(request)
        with transaction.atomic():
            pool = self._locked(request)
            if pool.is_issued:
                raise Problem("conflict", "This pool has been issued.")
            issue(pool, by=self.caller.person_id, now=timezone.now())
        return self._answer(pool.pk, status.HTTP_200_OK)


class PoolDeductionSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = PoolDeduction
        fields = (*RecordSerializer.base_fields, "pool", "what_for", "kind", "rate", "member")
        fixed = ("pool",)
        blame: ClassVar[dict[str, str]] = {
            "deduction_says_what_for": "what_for",
            "deduction_above_nothing": "rate",
            "deduction_of_a_hundred_per_cent_at_most": "rate",
        }


class PoolDeductionFilter(django_filters.FilterSet):
    pool = VisibleFilter(Pool)
    member = VisibleFilter(Farm)


class PoolDeductionViewSet(SettlingViewSet):
    """What is kept back of every member's payment, or of one's: packing, levy, boxes, advances.

    Per kilo, per container, per cent of gross or fixed. What is kept back of a member beyond its
    payment is carried forward to its next statement.
    """

    queryset = PoolDeduction.objects.select_related("pool", "member")
    serializer_class = PoolDeductionSerializer
    filterset_class = PoolDeductionFilter

    def write(self, serializer: Any, **extra: Any) -> Model:
        return save_deduction(serializer.candidate({**serializer.validated_data, **extra}))


def refuse_body(request: Request) -> None:
    if request.data:
        unknown = ErrorDetail("There is no such field to write.", "unknown-field")
        raise ValidationError({name: [unknown] for name in request.data})
