"""Fruit counted on marked flowers or on trees, and fruit measured one by one."""

from decimal import Decimal
from typing import Any, ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Greatest, Least

from orchard.access import Area
from records.choices import (
    MAX_FLOWERS,
    MAX_FRUIT,
    MAX_FRUIT_G,
    MAX_FRUIT_MM,
    MAX_SEEDS,
    MAX_TREES,
    CountedOn,
    CountKind,
)
from records.models.base import (
    FarmOwned,
    Recorded,
    audited,
    child_key,
    farm_copy,
    farm_key,
    minutes_field,
    once_an_import_key,
    people_field,
    removed_tree_warnings,
)
from records.models.plants import Block, Tree
from records.models.pollination import PollinationRound
from records.querysets import FarmOwnedQuerySet

MARKED, WHOLE = CountedOn.MARKED_FLOWERS, CountedOn.WHOLE_TREES


@audited(exclude=("recorded_at",))
class FruitCount(Recorded, FarmOwned):
    """Fruit counted on the marked flowers of rounds, or on whole trees.

    Only marked flowers give a set share: whole trees include natural fruit. Rounds whose marks
    do not tell visits apart share one count.
    """

    area = Area.OBSERVATION
    dated_by: ClassVar[str | None] = "counted_on"

    block: Any = farm_key(Block, related_name="fruit_counts")
    counted_on = models.DateField()
    kind = models.CharField(max_length=8, choices=CountKind)
    counted = models.CharField(max_length=14, choices=CountedOn, default=MARKED)
    rounds: Any = models.ManyToManyField(
        PollinationRound, through="records.FruitCountRound", related_name="fruit_counts"
    )
    trees: Any = models.ManyToManyField(
        Tree, through="records.FruitCountTree", related_name="fruit_counts"
    )
    flowers_looked_at = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_FLOWERS)],
        help_text="Marked flowers looked at, which a sample keeps as its own denominator.",
    )
    trees_looked_at = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_TREES)]
    )
    fruit = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_FRUIT)])
    thinned_because = models.CharField(max_length=120, blank=True)
    people = people_field()
    minutes = minutes_field()

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="fruit_count_listed"),
            models.Index(fields=["block", "counted_on"], name="fruit_count_block"),
        ]
        constraints = [
            once_an_import_key("fruit_count"),
            models.CheckConstraint(
                condition=Q(counted=MARKED, flowers_looked_at__isnull=False)
                | Q(counted=WHOLE, flowers_looked_at__isnull=True),
                name="fruit_count_has_its_denominator",
                violation_error_message=(
                    "Say how many marked flowers were looked at; whole trees have none."
                ),
            ),
            models.CheckConstraint(
                condition=Q(counted=MARKED)
                | Q(trees_looked_at__isnull=False, trees_looked_at__gte=1),
                name="fruit_count_of_so_many_whole_trees",
                violation_error_message="Say how many whole trees were looked at.",
            ),
            models.CheckConstraint(
                condition=Q(flowers_looked_at__isnull=True) | Q(fruit__lte=F("flowers_looked_at")),
                name="fruit_count_within_flowers_looked_at",
                violation_error_message="More fruit than marked flowers looked at.",
            ),
            models.CheckConstraint(
                condition=(Q(kind=CountKind.THINNED) & ~Q(thinned_because=""))
                | (~Q(kind=CountKind.THINNED) & Q(thinned_because="")),
                name="fruit_count_thinned_for_a_reason",
                violation_error_message="Thinned fruit has a reason, and only thinned fruit.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fruit} fruit on {self.counted_on}"

    @property
    def set_share(self) -> float | None:
        """Fruit a marked flower looked at; null where the count cannot tell."""
        if self.counted != MARKED or self.kind == CountKind.THINNED or not self.flowers_looked_at:
            return None
        return self.fruit / self.flowers_looked_at

    @property
    def warnings(self) -> list[dict[str, str]]:
        return removed_tree_warnings(self.trees.all(), self.counted_on)


@audited()
class FruitCountRound(models.Model):
    farm = farm_copy()
    fruit_count = child_key(FruitCount, "round_links")
    round: Any = farm_key(PollinationRound)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fruit_count", "round"], name="round_once_a_count")
        ]

    def __str__(self) -> str:
        return str(self.round)


@audited()
class FruitCountTree(models.Model):
    farm = farm_copy()
    fruit_count = child_key(FruitCount, "tree_links")
    tree: Any = farm_key(Tree)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fruit_count", "tree"], name="tree_once_a_count")
        ]

    def __str__(self) -> str:
        return str(self.tree)


MEASURES = (
    "weight_g",
    "length_mm",
    "width_mm",
    "shape_score",
    "seeds",
    "soluble_solids_brix",
)


def _any_measure() -> Q:
    condition = Q()
    for name in MEASURES:
        condition |= Q(**{f"{name}__isnull": False})
    return condition


@audited(exclude=("recorded_at",))
class FruitSample(Recorded, FarmOwned):
    """One fruit, measured: from a round, a tree or a block."""

    area = Area.OBSERVATION
    dated_by: ClassVar[str | None] = "sampled_on"

    block: Any = farm_key(Block, related_name="fruit_samples")
    tree: Any = farm_key(Tree, null=True, related_name="fruit_samples")
    round: Any = farm_key(PollinationRound, null=True, related_name="fruit_samples")
    sampled_on = models.DateField()
    label = models.CharField(max_length=60, blank=True, help_text="The fruit's or sample's name.")
    weight_g = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_FRUIT_G)]
    )
    length_mm = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_FRUIT_MM)]
    )
    width_mm = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_FRUIT_MM)]
    )
    shape_score = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    shape_best = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="The score of a perfect fruit on the scale that was used.",
    )
    shape_worst = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    seeds = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_SEEDS)]
    )
    soluble_solids_brix = models.DecimalField(
        max_digits=3,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(60))],
    )

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="fruit_sample_listed")]
        constraints = [
            once_an_import_key("fruit_sample"),
            models.CheckConstraint(
                condition=_any_measure(),
                name="fruit_sample_measures_something",
                violation_error_message="Give at least one measure of the fruit.",
            ),
            models.CheckConstraint(
                condition=Q(
                    shape_score__isnull=True, shape_best__isnull=True, shape_worst__isnull=True
                )
                | Q(shape_score__isnull=False, shape_best__isnull=False, shape_worst__isnull=False),
                name="fruit_sample_shape_has_its_scale",
                violation_error_message=(
                    "A shape score comes with the best and worst scores of its scale."
                ),
            ),
            models.CheckConstraint(
                condition=Q(shape_score__isnull=True)
                | (
                    Q(shape_score__gte=Least("shape_best", "shape_worst"))
                    & Q(shape_score__lte=Greatest("shape_best", "shape_worst"))
                ),
                name="fruit_sample_shape_on_its_scale",
                violation_error_message="The shape score lies outside its scale.",
            ),
        ]

    def __str__(self) -> str:
        return self.label or f"fruit of {self.sampled_on}"

    @property
    def warnings(self) -> list[dict[str, str]]:
        trees = [self.tree] if self.tree_id else []
        return removed_tree_warnings(trees, self.sampled_on, "tree")
