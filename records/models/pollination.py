"""Pollen batches, and the pollination rounds that used them."""

import datetime as dt
import zoneinfo
from typing import Any, ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from orchard.access import Area
from records.choices import (
    BY_HAND,
    CHILLED_BELOW_C,
    FROZEN_BELOW_C,
    MAX_FLOWERS,
    FlowerStage,
    PollinationMethod,
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
    warning,
)
from records.models.plants import Block, Cultivar, Tree
from records.querysets import FarmOwnedQuerySet

# Cherimoya pollen is fine to 90 minutes after it is shed and clearly weaker by 120: La Mayora,
# record 10261/5413.
WARM_LIFE = dt.timedelta(minutes=90)
# About three days in the refrigerator: du Preez 2001.
CHILLED_LIFE = dt.timedelta(days=3)


@audited(exclude=("recorded_at",))
class PollenBatch(Recorded, FarmOwned):
    """Pollen collected at one time and kept together, from trees or cultivars."""

    area = Area.OBSERVATION
    dated_by: ClassVar[str | None] = "collected_on"

    name = models.CharField(max_length=60, blank=True, help_text="The label on the jar.")
    collected_at = models.DateTimeField()
    collected_on = models.DateField(editable=False, help_text="The farm's date of that instant.")
    stage = models.CharField(
        max_length=6, choices=FlowerStage, help_text="The flowers it was collected from."
    )
    donor_trees: Any = models.ManyToManyField(
        Tree, through="records.PollenDonorTree", related_name="pollen_batches"
    )
    donor_cultivars: Any = models.ManyToManyField(
        Cultivar, through="records.PollenDonorCultivar", related_name="pollen_batches"
    )
    donor_flowers = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_FLOWERS)]
    )
    storage_c = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(-200), MaxValueValidator(60)],
        help_text="Null: not stored, at the temperature of the air.",
    )
    people = people_field()

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        verbose_name_plural = "pollen batches"
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="pollen_batch_listed")]
        constraints = [
            once_an_import_key("pollen_batch"),
            models.CheckConstraint(
                condition=Q(storage_c__isnull=True) | Q(storage_c__range=(-200, 60)),
                name="pollen_batch_storage_in_range",
            ),
        ]

    def __str__(self) -> str:
        return self.name or f"pollen of {self.collected_on}"

    @property
    def lasts(self) -> dt.timedelta | None:
        """How long it is known to stay good; frozen pollen keeps for months, so None."""
        if self.storage_c is None or self.storage_c >= CHILLED_BELOW_C:
            return WARM_LIFE
        return CHILLED_LIFE if self.storage_c > FROZEN_BELOW_C else None


@audited()
class PollenDonorTree(models.Model):
    farm = farm_copy()
    pollen_batch = child_key(PollenBatch, "donor_tree_links")
    tree: Any = farm_key(Tree)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["pollen_batch", "tree"], name="donor_tree_once_a_pollen_batch"
            )
        ]

    def __str__(self) -> str:
        return str(self.tree)


@audited()
class PollenDonorCultivar(models.Model):
    farm = farm_copy()
    pollen_batch = child_key(PollenBatch, "donor_cultivar_links")
    cultivar = models.ForeignKey(Cultivar, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["pollen_batch", "cultivar"], name="donor_cultivar_once_a_pollen_batch"
            )
        ]

    def __str__(self) -> str:
        return str(self.cultivar)


@audited(exclude=("recorded_at",))
class PollinationRound(Recorded, FarmOwned):
    """One visit's flowers: one mother cultivar, method, pollen batch and bagging, on one day.

    Anything else is another round. The round is the work done: it has no task log beside it.
    """

    area = Area.OBSERVATION
    dated_by: ClassVar[str | None] = "pollinated_on"

    block: Any = farm_key(Block, related_name="pollination_rounds")
    cultivar = models.ForeignKey(
        Cultivar, models.PROTECT, related_name="+", help_text="Of the mother trees."
    )
    method = models.CharField(max_length=8, choices=PollinationMethod)
    pollen_batch: Any = farm_key(PollenBatch, null=True, related_name="rounds")
    is_bagged = models.BooleanField(default=False, help_text="Bagged to keep other pollen out.")
    pollinated_on = models.DateField()
    started_at = models.TimeField(null=True, blank=True, help_text="The farm's time of day.")
    flowers = models.PositiveIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(MAX_FLOWERS)], help_text="In all."
    )
    trees: Any = models.ManyToManyField(
        Tree, through="records.PollinationRoundTree", related_name="pollination_rounds"
    )
    people = people_field()
    minutes = minutes_field()
    is_self = models.BooleanField(
        null=True,
        editable=False,
        help_text="Own pollen: the same clone; for seedlings, the same tree. Null: not known.",
    )

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [
            models.Index(fields=["farm", "created_at", "id"], name="pollination_round_listed"),
            models.Index(fields=["block", "pollinated_on"], name="pollination_round_block"),
        ]
        constraints = [
            once_an_import_key("pollination_round"),
            models.CheckConstraint(
                condition=Q(method__in=BY_HAND, pollen_batch__isnull=False)
                | (~Q(method__in=BY_HAND) & Q(pollen_batch__isnull=True)),
                name="round_has_the_pollen_of_its_method",
                violation_error_message=(
                    "Brush and puffer need a pollen batch; flowers left alone have none."
                ),
            ),
            models.CheckConstraint(
                condition=Q(method__in=BY_HAND)
                | Q(method=PollinationMethod.NATURAL, is_bagged=False)
                | Q(method=PollinationMethod.BAGGED, is_bagged=True),
                name="round_has_the_bagging_of_its_method",
                violation_error_message=(
                    "Flowers left to nature have no bag, and those bagged and left alone have one."
                ),
            ),
            models.CheckConstraint(condition=Q(flowers__gte=1), name="round_has_flowers"),
        ]

    def __str__(self) -> str:
        return f"{self.flowers} flowers on {self.pollinated_on}"

    @property
    def starts(self) -> dt.datetime | None:
        """The instant, where the hour is known."""
        if self.started_at is None:
            return None
        zone = zoneinfo.ZoneInfo(self.farm.time_zone)
        return dt.datetime.combine(self.pollinated_on, self.started_at, tzinfo=zone)

    @property
    def pollen_age_minutes(self) -> int | None:
        """How old the pollen was; null without a batch or an hour."""
        if self.pollen_batch is None or self.starts is None:
            return None
        age = self.starts - self.pollen_batch.collected_at
        return int(age.total_seconds() // 60)

    @property
    def warnings(self) -> list[dict[str, str]]:
        return [
            *removed_tree_warnings(self.trees.all(), self.pollinated_on),
            *self._old_pollen(),
        ]

    def _old_pollen(self) -> list[dict[str, str]]:
        """Only where it is sure: without an hour, the round is taken to start with the day."""
        batch = self.pollen_batch
        if batch is None or batch.lasts is None:
            return []
        zone = zoneinfo.ZoneInfo(self.farm.time_zone)
        earliest = dt.datetime.combine(self.pollinated_on, dt.time(), tzinfo=zone)
        age = (self.starts or earliest) - batch.collected_at
        if age <= batch.lasts:
            return []
        if batch.lasts == WARM_LIFE:
            text = "The pollen was over 90 minutes old, and not chilled (La Mayora, 10261/5413)."
        else:
            text = "The pollen was over three days old, which chilled pollen lasts (du Preez 2001)."
        return [warning("pollen-old", "pollen_batch", text)]


@audited()
class PollinationRoundTree(models.Model):
    """A tree of a round, and its flowers if they were counted by tree."""

    farm = farm_copy()
    round = child_key(PollinationRound, "tree_links")
    tree: Any = farm_key(Tree)
    flowers = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["round", "tree"], name="tree_once_a_round")]

    def __str__(self) -> str:
        return f"{self.tree}: {self.flowers}"
