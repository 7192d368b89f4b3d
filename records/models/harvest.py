"""Picked fruit: containers, grades, crops and weighings."""

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any, ClassVar

from django.contrib.postgres.fields import ArrayField
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from orchard.access import Area
from records.choices import (
    GRAMS,
    MAX_CONTAINERS,
    MAX_FRUIT,
    MAX_WEIGHING_G,
    MINUTES_A_DAY,
    CropChoice,
    CropOpening,
    WeightKind,
    WeightUnit,
)
from records.models.base import FarmOwned, Record, audited, farm_key, links_version_field
from records.models.plants import Block, Cultivar, Tree
from records.querysets import CoOpGradeQuerySet, FarmOwnedQuerySet, HarvestWeightQuerySet


@audited()
class Container(FarmOwned):
    """A kind of box or crate: what it weighs empty and what it usually holds."""

    code = models.CharField(max_length=20)
    name = models.CharField(max_length=80, blank=True)
    tare_g = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_WEIGHING_G)])
    usual_net_g = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_WEIGHING_G)]
    )
    retired_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "code"], name="container_code_once_a_farm"),
            models.CheckConstraint(condition=~Q(code=""), name="container_has_a_code"),
        ]

    def __str__(self) -> str:
        return self.code


@audited()
class Grade(FarmOwned):
    """A farm's grade: marketable, or cull with a reason. Ungraded fruit has no grade at all."""

    code = models.CharField(max_length=20)
    name = models.CharField(max_length=80, blank=True)
    is_marketable = models.BooleanField()
    cull_reason = models.CharField(max_length=120, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "code"], name="grade_code_once_a_farm"),
            models.CheckConstraint(condition=~Q(code=""), name="grade_has_a_code"),
            models.CheckConstraint(
                condition=Q(is_marketable=True, cull_reason="")
                | (Q(is_marketable=False) & ~Q(cull_reason="")),
                name="cull_grade_has_a_reason",
                violation_error_message="A cull needs a reason; a marketable grade has none.",
            ),
        ]

    def __str__(self) -> str:
        return self.code


@audited(farm=None)
class CoOpGrade(Record):
    """A co-op's grade, to which its members' grades are mapped."""

    co_op = models.ForeignKey("records.CoOp", models.PROTECT, related_name="grades")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=80, blank=True)
    is_marketable = models.BooleanField()

    objects = CoOpGradeQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name = "co-op grade"
        constraints = [
            models.UniqueConstraint(fields=["co_op", "code"], name="co_op_grade_code_once")
        ]

    def __str__(self) -> str:
        return self.code


@audited()
class GradeMapping(FarmOwned):
    """From a date on, which of a co-op's grades a farm's grade counts as."""

    grade: Any = farm_key(Grade, related_name="mappings")
    co_op_grade = models.ForeignKey(CoOpGrade, models.PROTECT, related_name="mappings")
    applies_from = models.DateField()

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["grade", "co_op_grade", "applies_from"], name="grade_mapping_once_a_date"
            )
        ]

    def __str__(self) -> str:
        return f"{self.grade} is {self.co_op_grade}"


@audited()
class Crop(FarmOwned):
    """One run of flush, bloom and harvest on a block within a season.

    It belongs to the season in which its bloom begins, however late it is picked; until bloom
    is seen, to the season in which it was opened.
    """

    block: Any = farm_key(Block, related_name="crops")
    name = models.CharField(max_length=40, default="main")
    opened_by = models.CharField(max_length=20, choices=CropOpening)
    opened_on = models.DateField()
    bloom_began_on = models.DateField(null=True, blank=True)
    picking_starts_on = models.DateField(null=True, blank=True)
    picking_ends_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["block", "name", "opened_on"], name="crop_once_an_opening"
            ),
            models.CheckConstraint(
                condition=Q(picking_ends_on__isnull=True)
                | Q(picking_ends_on__gte=Coalesce("picking_starts_on", "opened_on")),
                name="crop_picking_ends_after_it_starts",
                violation_error_message="Picking ends before it starts.",
            ),
            models.CheckConstraint(
                condition=Q(bloom_began_on__isnull=True) | Q(bloom_began_on__gte=F("opened_on")),
                name="crop_blooms_after_opening",
                violation_error_message="Bloom began before the crop was opened.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.opened_on.year}"


def to_grams(weight: Decimal, unit: str) -> int:
    """Whole grams, rounded half to even; a sum may differ by half a gram a row."""
    grams = weight * GRAMS[WeightUnit(unit)]
    return int(grams.quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


@audited(exclude=("recorded_at",))
class HarvestWeight(FarmOwned):
    """One weighing (or count) of picked fruit.

    `net_g` is what the scale says of the fruit alone; null when there was no scale, and then the
    kilos are estimated from containers or fruit, flagged and totalled apart.
    """

    area = Area.HARVEST
    dated_by: ClassVar[str | None] = "picked_on"

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, related_name="harvest_weights", db_constraint=False
    )
    block: Any = farm_key(Block, related_name="harvest_weights")
    trees: Any = models.ManyToManyField(
        Tree, through="records.HarvestWeightTree", related_name="harvest_weights"
    )
    picked_on = models.DateField()

    weight = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal("0.0001"))],
    )
    unit = models.CharField(max_length=2, choices=WeightUnit, blank=True)
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
    # As on the day of weighing: a container weighed anew later changes no old weighing.
    container_tare_g = models.PositiveIntegerField(null=True, blank=True, editable=False)
    fruit_count = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_FRUIT)]
    )
    net_g = models.PositiveIntegerField(null=True, blank=True, editable=False)
    estimated_from_containers_g = models.PositiveIntegerField(null=True, blank=True, editable=False)

    grade: Any = farm_key(Grade, null=True)
    entered_cultivar = models.ForeignKey(
        Cultivar, models.PROTECT, null=True, blank=True, related_name="+"
    )
    cultivar = models.ForeignKey(
        Cultivar, models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    crop: Any = farm_key(Crop, null=True, related_name="harvest_weights")
    crop_chosen_by = models.CharField(
        max_length=6, choices=CropChoice, default=CropChoice.DATE, editable=False
    )

    docket = models.CharField(max_length=40, blank=True)
    ticket = models.CharField(max_length=40, blank=True)
    pickers = ArrayField(models.CharField(max_length=80), default=list, blank=True)
    minutes = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MINUTES_A_DAY * 50)]
    )
    note = models.CharField(max_length=500, blank=True)

    harvest_import: Any = farm_key("records.HarvestImport", null=True, related_name="weights")
    import_key = models.CharField(max_length=64, null=True, editable=False)  # noqa: DJ001 - null is "not imported", and stays out of the unique index
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    recorded_at = models.DateTimeField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    links_version = links_version_field()

    objects = HarvestWeightQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="harvest_weight_listed"),
            models.Index(fields=["farm", "picked_on", "id"], name="harvest_weight_picked"),
            models.Index(fields=["block", "picked_on"], name="harvest_weight_block"),
            # Fruit that was counted and nothing else: few rows, whose kilos are estimated.
            models.Index(
                fields=["farm"],
                name="harvest_weight_bare",
                condition=Q(net_g__isnull=True, estimated_from_containers_g__isnull=True),
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "import_key"], name="harvest_weight_once_an_import_key"
            ),
            models.CheckConstraint(
                condition=Q(weight__isnull=False)
                | Q(containers__isnull=False)
                | Q(fruit_count__isnull=False),
                name="harvest_weight_says_how_much",
                violation_error_message="Give a weight, or a number of containers or fruit.",
            ),
            models.CheckConstraint(
                condition=Q(weight__isnull=True, unit="") | (Q(weight__isnull=False) & ~Q(unit="")),
                name="harvest_weight_has_a_unit",
                violation_error_message="A weight needs a unit, and a unit a weight.",
            ),
            models.CheckConstraint(
                condition=Q(net_g__isnull=True) | Q(net_g__range=(0, MAX_WEIGHING_G)),
                name="harvest_weight_net_in_range",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.picked_on} {self.block}"

    @property
    def scale_g(self) -> int | None:
        """What the scale showed, in whole grams."""
        return None if self.weight is None else to_grams(self.weight, self.unit)

    @property
    def warnings(self) -> list[dict[str, str]]:
        gone = [
            tree
            for tree in self.trees.all()
            if tree.removed_on and tree.removed_on <= self.picked_on
        ]
        return [
            {
                "code": "tree-was-removed",
                "pointer": "/trees",
                "detail": f"Tree {tree} was removed on {tree.removed_on}, before this picking.",
            }
            for tree in gone
        ]


@audited()
class HarvestWeightTree(models.Model):
    """A tree picked into a weighing."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="+", db_constraint=False)
    weight = models.ForeignKey(
        HarvestWeight, models.CASCADE, related_name="tree_links", db_constraint=False
    )
    tree: Any = farm_key(Tree, related_name="weight_links")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["weight", "tree"], name="tree_once_a_weighing")
        ]

    def __str__(self) -> str:
        return str(self.tree)
