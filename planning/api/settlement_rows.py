"""How statements and their lines are told, whether issued or drafted."""

from collections.abc import Iterator
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.fields import get_attribute

from planning.api.season_summaries import KilosOfGrams
from planning.choices import DeductionKind, StatementLineKind
from planning.compute.settlement import Line, money
from planning.services.settlement import Draft, DraftStatement, named
from records.choices import Basis
from records.models import Farm


@extend_schema_field({"type": "number"})
class Amount(serializers.Field):
    """Of the row's minor units, in its currency."""

    def __init__(self, minor: str, **kwargs: Any) -> None:
        self.minor = minor
        super().__init__(source="*", read_only=True, **kwargs)

    def to_representation(self, row: Any) -> Decimal:
        return money(get_attribute(row, [self.minor]), get_attribute(row, ["currency"]))


class AmountsSerializer(serializers.Serializer):
    """What a statement, or several, come to."""

    payable_kg = KilosOfGrams(source="payable_g")
    containers = serializers.IntegerField()
    gross = Amount("gross_minor", help_text="Of the kilos, before deductions.")
    deductions = Amount("deductions_minor", help_text="Not above nothing.")
    adjustments = Amount("adjustments_minor", help_text="Of earlier pools' statements.")
    carried_in = Amount("carried_in_minor", help_text="Brought forward; not above nothing.")
    net = Amount("net_minor")
    to_pay = Amount("to_pay_minor", help_text="The net, if it is above nothing.")
    carried_out = Amount("carried_out_minor", help_text="Carried forward; not above nothing.")


AMOUNTS = tuple(AmountsSerializer().fields)


class LineSerializer(serializers.Serializer):
    """One line: kilos of a docket, a deduction, an adjustment, or what is brought forward."""

    number = serializers.IntegerField()
    kind = serializers.ChoiceField(StatementLineKind.choices)
    pool_name = serializers.CharField(help_text="Whose account the line belongs to.")
    day = serializers.DateField(allow_null=True)
    docket = serializers.CharField()
    block = serializers.CharField()
    cultivar = serializers.CharField()
    grade = serializers.CharField(help_text="The co-op's, or the farm's own where it is unmapped.")
    basis = serializers.ChoiceField(Basis.choices, allow_blank=True)
    containers = serializers.IntegerField(allow_null=True)
    kilos = KilosOfGrams(source="grams")
    rate = serializers.DecimalField(None, None, allow_null=True)
    deduction = serializers.ChoiceField(DeductionKind.choices, allow_blank=True)
    text = serializers.CharField()
    amount = Amount("amount_minor")
    adjusts_statement = serializers.UUIDField(source="adjusts_statement_id", allow_null=True)
    adjusts_line = serializers.IntegerField(allow_null=True)


LINE = tuple(LineSerializer().fields)


class ProblemSerializer(serializers.Serializer):
    field = serializers.CharField()
    code = serializers.CharField()
    detail = serializers.CharField(source="text")

    class Meta:
        ref_name = "PoolProblem"


class DraftStatementSerializer(AmountsSerializer):
    member = serializers.UUIDField()
    member_code = serializers.CharField()
    number = serializers.IntegerField()
    lines = LineSerializer(many=True, help_text="Of the member that was asked for.")


class DraftSerializer(AmountsSerializer):
    """A pool's statements as they would be issued now, and together."""

    pool = serializers.UUIDField()
    currency = serializers.CharField()
    problems = ProblemSerializer(many=True, help_text="Why it cannot be issued.")
    notes = serializers.ListField(
        child=serializers.CharField(), help_text="What to look at before issuing."
    )
    statements = DraftStatementSerializer(many=True)


def draft_row(draft: Draft, asked: Farm | None) -> dict[str, Any]:
    """Of all members without their lines, or of one with them."""
    pool = draft.pool
    statements = [each for each in draft.statements if asked is None or each.member == asked]
    return {
        **asdict(draft.totals),
        "pool": pool.pk,
        "currency": pool.currency,
        "problems": draft.problems,
        "notes": draft.notes,
        "statements": [
            _statement_row(each, pool.currency, with_lines=asked is not None) for each in statements
        ],
    }


def _statement_row(statement: DraftStatement, currency: str, *, with_lines: bool) -> dict[str, Any]:
    return {
        **asdict(statement.totals),
        "currency": currency,
        "member": statement.member.pk,
        "member_code": statement.member.code,
        "number": statement.number,
        "lines": list(_line_rows(statement, currency)) if with_lines else [],
    }


def _line_rows(statement: DraftStatement, currency: str) -> Iterator[dict[str, Any]]:
    pools = [line.pool for line in named(statement)]
    for number, (line, pool) in enumerate(zip(statement.lines, pools, strict=True), start=1):
        yield {**_line_row(line), "number": number, "pool_name": pool, "currency": currency}


def _line_row(line: Line) -> dict[str, Any]:
    told = {name: getattr(line, name) for name in ("kind", "containers", "grams", "rate", "text")}
    adjusts = {"adjusts_statement_id": line.adjusts_statement, "adjusts_line": line.adjusts_line}
    return {
        **told,
        **adjusts,
        **asdict(line.fruit),
        "deduction": line.deduction or "",
        "amount_minor": line.amount_minor,
    }
