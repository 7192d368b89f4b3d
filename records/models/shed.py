"""Fruit on its way out: deliveries, intakes and what sorting found, and the lots packed."""

from decimal import Decimal
from typing import Any, ClassVar

import pgtrigger
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from orchard.access import Area
from records.choices import MAX_CONTAINERS, MAX_WEIGHING_G, WeightKind, WeightUnit
from records.models.base import (
    FarmOwned,
    Record,
    Recorded,
    audited,
    child_key,
    farm_copy,
    farm_key,
    once_an_import_key,
    stamp_trigger,
    tombstone_trigger,
)
from records.models.harvest import Container, CoOpGrade, Grade, HarvestWeight, to_grams
from records.models.plants import Block, Cultivar
from records.querysets import FarmOwnedQuerySet, LotLineQuerySet, LotQuerySet


def entered_weight() -> Any:
    return models.DecimalField(
        max_digits=12, decimal_places=4, validators=[MinValueValidator(Decimal("0.0001"))]
    )


def document_field() -> Any:
    return models.CharField(
        max_length=60, blank=True, help_text="Type and number of the document: packing list 4711."
    )


@audited(exclude=("recorded_at",))
class Delivery(Recorded, FarmOwned):
    """Weighings that left the farm together, for one or more intakes."""

    area = Area.HARVEST
    dated_by: ClassVar[str | None] = "delivered_on"

    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="+"
    )
    delivered_on = models.DateField()
    docket = models.CharField(max_length=40, blank=True)
    weights: Any = models.ManyToManyField(
        HarvestWeight, through="records.DeliveryWeight", related_name="deliveries"
    )

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        verbose_name_plural = "deliveries"
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="delivery_listed")]
        constraints = [once_an_import_key("delivery")]

    def __str__(self) -> str:
        return self.docket or f"delivery of {self.delivered_on}"


@audited()
class DeliveryWeight(models.Model):
    farm = farm_copy()
    delivery = child_key(Delivery, "weight_links")
    weight: Any = farm_key(HarvestWeight)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["delivery", "weight"], name="weight_once_a_delivery")
        ]

    def __str__(self) -> str:
        return str(self.weight)


@audited(exclude=("recorded_at",))
class Intake(Recorded, FarmOwned):
    """One line of what a packing shed received from a farm: weighed, and later sorted."""

    area = Area.HARVEST
    dated_by: ClassVar[str | None] = "received_on"

    co_op = models.ForeignKey(
        "records.CoOp",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="intakes",
        help_text="Who received it; null for the farm's own shed.",
    )
    delivery: Any = farm_key(Delivery, null=True, related_name="intakes")
    received_on = models.DateField()
    received_at = models.TimeField(null=True, blank=True, help_text="The farm's time of day.")
    docket = models.CharField(max_length=40, blank=True)
    cultivar = models.ForeignKey(Cultivar, models.PROTECT, null=True, blank=True, related_name="+")
    block: Any = farm_key(Block, null=True, related_name="intakes")

    weight = entered_weight()
    unit = models.CharField(max_length=2, choices=WeightUnit)
    weight_kind = models.CharField(max_length=5, choices=WeightKind, default=WeightKind.GROSS)
    containers = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_CONTAINERS)]
    )
    container: Any = farm_key(Container, null=True)
    tare_g = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(MAX_WEIGHING_G)],
        help_text="Of all containers, where it was read; else counted from the container.",
    )
    container_tare_g = models.PositiveIntegerField(null=True, blank=True, editable=False)
    net_g = models.PositiveIntegerField(editable=False)
    cooled_on = models.DateField(
        null=True, blank=True, help_text="The day of cooling before packing, if it was cooled."
    )
    cooling_location = models.CharField(
        max_length=200, blank=True, help_text="Where it was cooled: name, phone and address."
    )

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="intake_listed"),
            models.Index(fields=["farm", "received_on", "id"], name="intake_received"),
        ]
        constraints = [
            once_an_import_key("intake"),
            models.CheckConstraint(
                condition=Q(net_g__range=(0, MAX_WEIGHING_G)), name="intake_net_in_range"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.docket or 'intake'} of {self.received_on}"

    @property
    def scale_g(self) -> int:
        """What the scale showed, in whole grams."""
        return to_grams(self.weight, self.unit)


@audited()
class SortedWeight(models.Model):
    """What sorting found in an intake: kilos of a grade, or rejects with a reason."""

    farm = farm_copy()
    intake = child_key(Intake, "sorted_weights")
    grade: Any = farm_key(Grade, null=True)
    co_op_grade = models.ForeignKey(
        CoOpGrade, models.PROTECT, null=True, blank=True, related_name="+"
    )
    reject_reason = models.CharField(max_length=120, blank=True)
    weight = entered_weight()
    unit = models.CharField(max_length=2, choices=WeightUnit)
    net_g = models.PositiveIntegerField(editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(grade__isnull=False, co_op_grade__isnull=True, reject_reason="")
                | Q(grade__isnull=True, co_op_grade__isnull=False, reject_reason="")
                | (Q(grade__isnull=True, co_op_grade__isnull=True) & ~Q(reject_reason="")),
                name="sorted_weight_has_a_grade_or_a_reason",
                violation_error_message=(
                    "Give a grade of the farm or of the co-op, or the reason of the rejects."
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.net_g} g"


@audited()
class Lot(Recorded, Record):
    """What a shed packed under one code, given once, at packing. It belongs to the packer.

    A code is assigned at initial packing only (21 CFR 1.1320): shipping adds none, and a trigger
    keeps what was assigned.
    """

    area = Area.HARVEST

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="lots"
    )
    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="lots"
    )
    code = models.CharField(max_length=40)
    packed_on = models.DateField()
    product = models.CharField(
        max_length=120,
        blank=True,
        help_text="Fruit, cultivar and brand, packaging size and style.",
    )
    pack_unit = models.CharField(
        max_length=40, blank=True, help_text="What the packed fruit is counted in: cartons of 5 kg."
    )
    pack_count = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_CONTAINERS)]
    )
    packing_document = document_field()
    shipped_on = models.DateField(null=True, blank=True)
    shipped_to = models.CharField(max_length=120, blank=True)
    shipped_to_location = models.CharField(
        max_length=200, blank=True, help_text="The recipient's phone and address."
    )
    shipped_count = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_CONTAINERS)],
        help_text="In the pack unit.",
    )
    shipping_document = document_field()

    objects = LotQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [
            *Record.Meta.triggers,
            stamp_trigger(),
            tombstone_trigger(),
            pgtrigger.Trigger(
                name="keep_code",
                when=pgtrigger.After,  # so that a broken rule of the row is named first
                operation=pgtrigger.UpdateOf("code", "farm_id", "co_op_id"),
                condition=pgtrigger.Condition(
                    "((OLD.code, OLD.farm_id, OLD.co_op_id)"
                    " IS DISTINCT FROM (NEW.code, NEW.farm_id, NEW.co_op_id))"
                ),
                func=(
                    "RAISE EXCEPTION 'A lot keeps its code and its packer.'"
                    " USING ERRCODE = 'check_violation', CONSTRAINT = 'lot_keeps_its_code';"
                ),
            ),
        ]
        indexes = [models.Index(fields=["created_at", "id"], name="lot_listed")]
        constraints = [
            models.CheckConstraint(
                condition=Q(farm__isnull=True, co_op__isnull=False)
                | Q(farm__isnull=False, co_op__isnull=True),
                name="lot_of_one_farm_or_one_co_op",
                violation_error_message="A lot is packed by a farm or by a co-op.",
            ),
            models.UniqueConstraint(
                fields=["farm", "co_op", "code"],
                name="lot_code_once_a_packer",
                nulls_distinct=False,
                violation_error_message="This lot code has been assigned already.",
            ),
            models.CheckConstraint(condition=~Q(code=""), name="lot_has_a_code"),
            models.CheckConstraint(
                condition=Q(shipped_on__isnull=True) | Q(shipped_on__gte=F("packed_on")),
                name="lot_shipped_after_packing",
                violation_error_message="The lot was shipped before it was packed.",
            ),
            models.CheckConstraint(
                condition=Q(pack_count__isnull=True) | ~Q(pack_unit=""),
                name="lot_count_has_a_unit",
                violation_error_message="Say what is counted: the pack unit.",
            ),
            models.CheckConstraint(
                condition=Q(shipped_count__isnull=True)
                | Q(pack_count__isnull=False, shipped_count__lte=F("pack_count")),
                name="lot_ships_what_was_packed",
                violation_error_message="No more is shipped than was packed: give both counts.",
            ),
        ]

    def __str__(self) -> str:
        return self.code


@audited()
class LotLine(models.Model):
    """How much of an intake went into a lot. `farm` is the intake's: a lot may mix farms."""

    area = Area.HARVEST
    dated_by: ClassVar[str | None] = None

    farm = farm_copy()
    lot = models.ForeignKey(Lot, models.CASCADE, related_name="lines")
    intake: Any = farm_key(Intake, related_name="lot_lines")
    weight = entered_weight()
    unit = models.CharField(max_length=2, choices=WeightUnit)
    net_g = models.PositiveIntegerField(editable=False)

    objects = LotLineQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "intake"], name="intake_once_a_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.net_g} g"
