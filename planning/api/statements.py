"""`statements` and `statement-lines`: what members are owed, as issued."""

from typing import Any

import django_filters
from django.db.models import Prefetch, QuerySet
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import ReadOnlyViewSet
from planning.api.settlement_rows import AMOUNTS, LINE, AmountsSerializer, LineSerializer
from planning.choices import StatementLineKind
from planning.models import Statement, StatementLine
from records.models import CoOp, Farm


class StatementSerializer(RecordSerializer, AmountsSerializer):
    pool_name = serializers.CharField(source="pool.name")
    starts_on = serializers.DateField(source="pool.starts_on")
    ends_on = serializers.DateField(source="pool.ends_on")

    class Meta(RecordSerializer.Meta):
        model = Statement
        fields: Any = (
            *RecordSerializer.base_fields,
            "co_op",
            "pool",
            "pool_name",
            "starts_on",
            "ends_on",
            "member",
            "member_code",
            "member_name",
            "number",
            "issued_at",
            "currency",
            *AMOUNTS,
        )
        read_only_fields = fields


class StatementInFullSerializer(StatementSerializer):
    lines = LineSerializer(many=True)

    class Meta(StatementSerializer.Meta):
        fields = (*StatementSerializer.Meta.fields, "lines")
        read_only_fields = fields


class StatementFilter(django_filters.FilterSet):
    co_op = VisibleFilter(CoOp)
    member = VisibleFilter(Farm)
    pool = django_filters.UUIDFilter(field_name="pool_id")
    number = django_filters.NumberFilter()


class StatementViewSet(ReadOnlyViewSet):
    """What members are owed by a pool, as issued: a row a member, and with its id every line.

    An issued statement never changes; corrections stand as adjustments on the member's next one. A
    net below nothing is not paid but carried forward to it. Records and arithmetic only: no money
    moves, and nothing here is tax or legal advice.
    """

    area = Area.SETTLEMENT
    queryset = Statement.objects.select_related("pool")
    serializer_class = StatementSerializer
    filterset_class = StatementFilter
    orderings = ("created_at", "issued_at", "number")
    tabular = True

    def get_serializer_class(self) -> Any:
        return StatementInFullSerializer if self.action == "retrieve" else StatementSerializer

    def get_queryset(self) -> QuerySet[Any]:
        statements = super().get_queryset()
        if self.action != "retrieve":
            return statements
        lines = StatementLine.objects.select_related("pool", "statement").order_by("number")
        return statements.prefetch_related(Prefetch("lines", lines))


class StatementLineSerializer(LineSerializer):
    id = serializers.UUIDField()
    statement = serializers.UUIDField(source="statement_id")
    statement_number = serializers.IntegerField(source="statement.number")
    member_code = serializers.CharField(source="statement.member_code")
    currency = serializers.CharField()
    pool = serializers.UUIDField(source="pool_id", help_text="Whose account it belongs to.")

    class Meta:
        fields = ("id", "statement", "statement_number", "member_code", "pool", *LINE, "currency")


class StatementLineFilter(django_filters.FilterSet):
    statement = VisibleFilter(Statement)
    member = VisibleFilter(Farm, field_name="statement__member")
    pool = django_filters.UUIDFilter(
        field_name="statement__pool_id", label="Of the statements of a pool."
    )
    kind = django_filters.ChoiceFilter(choices=StatementLineKind.choices)
    docket = django_filters.CharFilter()


class StatementLineViewSet(ReadOnlyViewSet):
    """Every line of statements, for spreadsheets: dockets, deductions, adjustments, balances."""

    area = Area.SETTLEMENT
    queryset = StatementLine.objects.select_related("statement", "pool")
    serializer_class = StatementLineSerializer
    filterset_class = StatementLineFilter
    orderings = ("id",)
    tabular = True
