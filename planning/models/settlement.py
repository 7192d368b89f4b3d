"""Pools that pay a co-op's members for their fruit, and the statements issued from them.

Records and arithmetic only: no money moves. Amounts of statements are whole minor units of the
pool's currency (cents of EUR); a pool's own price, amount and rates are in the currency itself.
"""

from typing import Any

import pgtrigger
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q
from uuid_utils.compat import uuid7

from orchard.access import Area
from planning.choices import DeductionKind, PoolState, StatementLineKind
from planning.querysets import (
    PoolDeductionQuerySet,
    PoolQuerySet,
    SettlementQuerySet,
    StatementLineQuerySet,
)
from records.choices import Basis
from records.models.base import Record, audited

MAX_RATE = 100_000_000  # a kilo, a container or in all: sums stay within what a column holds


def rate_field(**options: Any) -> Any:
    return models.DecimalField(max_digits=14, decimal_places=4, **options)


def issued_for_good() -> pgtrigger.Trigger:
    """Whoever writes, in whatever way: what was issued stays as it was issued."""
    return pgtrigger.Protect(name="issued_for_good", operation=pgtrigger.Update | pgtrigger.Delete)


@audited(farm=None)
class Pool(Record):
    """Fruit of some days that is paid together: at a price per kilo, or by sharing an amount.

    It pays for payable kilos only (`planning.compute.bases.is_payable`), on each member's basis.
    Once it is issued, price, amount and deductions may still be corrected; what then differs is
    put right on the members' next statements.
    """

    area = Area.SETTLEMENT

    co_op = models.ForeignKey("records.CoOp", models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    species: Any = models.ForeignKey(
        "records.Species",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it pays for one species only.",
    )
    cultivar: Any = models.ForeignKey(
        "records.Cultivar",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it pays for one cultivar only.",
    )
    grades: Any = models.ManyToManyField(
        "records.CoOpGrade",
        through="planning.PoolGrade",
        blank=True,
        related_name="+",
        help_text="Of the co-op; none means every payable grade, and ungraded fruit.",
    )
    starts_on = models.DateField(help_text="The first day picked, or received.")
    ends_on = models.DateField(help_text="The last day.")
    currency = models.CharField(max_length=3, help_text="By ISO 4217, such as EUR.")
    price_per_kg: Any = rate_field(null=True, blank=True, validators=[MaxValueValidator(MAX_RATE)])
    amount = models.DecimalField(
        max_digits=17,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="To share by kilos, in the place of a price.",
    )
    state = models.CharField(
        max_length=6, choices=PoolState, default=PoolState.DRAFT, editable=False
    )
    # The co-op's when the pool was issued: a later change of it leaves issued pools alone.
    basis = models.CharField(max_length=10, choices=Basis, blank=True, editable=False)
    issued_at = models.DateTimeField(null=True, editable=False)
    issued_by = models.ForeignKey(
        "records.Person", models.PROTECT, null=True, editable=False, related_name="+"
    )

    objects = PoolQuerySet.as_manager()

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["created_at", "id"], name="pool_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["co_op", "name"],
                name="pool_name_once",
                violation_error_code="already-taken",
                violation_error_message="The co-op has a pool of this name.",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="pool_has_a_name"),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("starts_on")),
                name="pool_ends_after_it_starts",
                violation_error_message="The last day is before the first.",
            ),
            models.CheckConstraint(
                condition=Q(price_per_kg__isnull=True) | Q(price_per_kg__gt=0),
                name="pool_price_above_nothing",
                violation_error_message="A price per kilo is above zero.",
            ),
            models.CheckConstraint(
                condition=Q(amount__isnull=True) | Q(amount__gt=0),
                name="pool_amount_above_nothing",
                violation_error_message="An amount to share is above zero.",
            ),
            models.CheckConstraint(
                condition=Q(price_per_kg__isnull=True) | Q(amount__isnull=True),
                name="pool_pays_in_one_way",
                violation_error_message="Give a price per kilo or an amount to share, not both.",
            ),
            models.CheckConstraint(
                condition=Q(species__isnull=True) | Q(cultivar__isnull=True),
                name="pool_of_a_species_or_a_cultivar",
                violation_error_message="Give a species or a cultivar, not both.",
            ),
            models.CheckConstraint(
                condition=Q(state=PoolState.DRAFT, issued_at__isnull=True, basis="")
                | (Q(state=PoolState.ISSUED, issued_at__isnull=False) & ~Q(basis="")),
                name="pool_issued_at_a_time",
            ),
            models.CheckConstraint(
                condition=Q(state=PoolState.DRAFT)
                | Q(price_per_kg__isnull=False)
                | Q(amount__isnull=False),
                name="issued_pool_pays",
                violation_error_message="An issued pool keeps a price or an amount.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_issued(self) -> bool:
        return self.state == PoolState.ISSUED


@audited(farm=None)
class PoolGrade(models.Model):
    """A grade of the co-op for which a pool pays."""

    pool = models.ForeignKey(Pool, models.CASCADE, related_name="grade_links")
    co_op_grade = models.ForeignKey("records.CoOpGrade", models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["pool", "co_op_grade"], name="grade_once_a_pool")
        ]

    def __str__(self) -> str:
        return str(self.co_op_grade)


@audited(farm=None)
class PoolDeduction(Record):
    """What is kept back of the members' payments, or of one member's: packing, levy, an advance."""

    area = Area.SETTLEMENT

    pool = models.ForeignKey(Pool, models.CASCADE, related_name="deductions")
    what_for = models.CharField(max_length=80, help_text="Such as packing, levy, boxes, advance.")
    kind = models.CharField(max_length=13, choices=DeductionKind)
    rate: Any = rate_field(
        validators=[MaxValueValidator(MAX_RATE)],
        help_text="In the pool's currency, or per cent of gross.",
    )
    member: Any = models.ForeignKey(
        "records.Farm",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Whose payment it is kept back of; empty for every member with kilos.",
    )

    objects = PoolDeductionQuerySet.as_manager()

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["created_at", "id"], name="pool_deduction_listed")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what_for=""),
                name="deduction_says_what_for",
                violation_error_message="Say what is kept back for.",
            ),
            models.CheckConstraint(
                condition=Q(rate__gt=0),
                name="deduction_above_nothing",
                violation_error_message="A deduction is above zero.",
            ),
            models.CheckConstraint(
                condition=~Q(kind=DeductionKind.PER_CENT) | Q(rate__lte=100),
                name="deduction_of_a_hundred_per_cent_at_most",
                violation_error_message="More than 100 per cent cannot be kept back.",
            ),
        ]

    def __str__(self) -> str:
        return self.what_for


@audited(farm=None)
class Statement(Record):
    """What a member is owed by a pool, as issued. It never changes.

    `number` counts the member's statements in the co-op. Names are as they were that day. The net
    is to be paid, or carried forward to the member's next statement in the co-op and currency.
    """

    area = Area.SETTLEMENT

    co_op = models.ForeignKey("records.CoOp", models.PROTECT, related_name="+")
    pool = models.ForeignKey(Pool, models.PROTECT, related_name="statements")
    member = models.ForeignKey("records.Farm", models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    member_code = models.CharField(max_length=20)
    member_name = models.CharField(max_length=120)
    currency = models.CharField(max_length=3)
    payable_g = models.BigIntegerField()
    containers = models.BigIntegerField()
    gross_minor = models.BigIntegerField()
    deductions_minor = models.BigIntegerField()
    adjustments_minor = models.BigIntegerField()
    carried_in_minor = models.BigIntegerField()
    net_minor = models.BigIntegerField()
    to_pay_minor = models.BigIntegerField()
    carried_out_minor = models.BigIntegerField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey("records.Person", models.PROTECT, null=True, related_name="+")

    objects = SettlementQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [*Record.Meta.triggers, issued_for_good()]
        indexes = [models.Index(fields=["created_at", "id"], name="statement_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["co_op", "member", "number"], name="statement_number_once"
            ),
            models.UniqueConstraint(fields=["pool", "member"], name="statement_once_a_pool"),
            models.CheckConstraint(
                condition=Q(
                    net_minor=F("gross_minor")
                    + F("deductions_minor")
                    + F("adjustments_minor")
                    + F("carried_in_minor")
                )
                & Q(net_minor=F("to_pay_minor") + F("carried_out_minor")),
                name="statement_adds_up",
            ),
            models.CheckConstraint(
                condition=Q(to_pay_minor__gte=0, carried_out_minor__lte=0, carried_in_minor__lte=0),
                name="statement_below_nothing_is_carried_forward",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member_code} {self.number}"


class StatementLine(models.Model):
    """A line of a statement: kilos, a deduction, an adjustment, or what was brought forward.

    `pool` is the one whose account the line belongs to: an earlier one for an adjustment. `key` is
    what the line is about, the same on the first line and on all that adjust it; for each member
    the lines of a pool are its ledger. Kept out of the audit: a line is written once.
    """

    area = Area.SETTLEMENT

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    statement = models.ForeignKey(Statement, models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=15, choices=StatementLineKind)
    pool = models.ForeignKey(Pool, models.PROTECT, related_name="+")
    key = models.CharField(max_length=100)
    amount_minor = models.BigIntegerField()
    grams = models.BigIntegerField(null=True)
    containers = models.BigIntegerField(null=True)
    rate: Any = rate_field(null=True)
    deduction = models.CharField(max_length=13, choices=DeductionKind, blank=True)
    text = models.CharField(max_length=300, blank=True)
    day = models.DateField(null=True)
    docket = models.CharField(max_length=40, blank=True)
    block = models.CharField(max_length=20, blank=True)
    cultivar = models.CharField(max_length=80, blank=True)
    grade = models.CharField(max_length=20, blank=True)
    basis = models.CharField(max_length=10, choices=Basis, blank=True)
    adjusts_statement: Any = models.ForeignKey(
        Statement, models.PROTECT, null=True, related_name="+"
    )
    adjusts_line = models.PositiveIntegerField(null=True)

    objects = StatementLineQuerySet.as_manager()

    class Meta:
        triggers = [issued_for_good()]
        constraints = [
            models.UniqueConstraint(fields=["statement", "number"], name="line_number_once"),
        ]

    def __str__(self) -> str:
        return f"line {self.number}"

    @property
    def version(self) -> int:
        """Of a row that never changes."""
        return 1

    @property
    def currency(self) -> str:
        return self.statement.currency

    @property
    def pool_name(self) -> str:
        return self.pool.name
