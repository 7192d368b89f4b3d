"""What grows where: species, cultivars, blocks, planting lines, trees and their top-working."""

import math
from decimal import Decimal
from typing import Any, ClassVar

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q, Value

from orchard.access import Area
from records.choices import MAX_AREA_M2, MAX_GIRTH_MM, MAX_ROW
from records.models.base import (
    DateRange,
    FarmOwned,
    Record,
    Recorded,
    audited,
    farm_key,
    once_an_import_key,
    removed_tree_warnings,
    stamp_trigger,
    tombstone_trigger,
)
from records.places import check_boundary
from records.querysets import CultivarQuerySet, FarmOwnedQuerySet, ReferenceQuerySet, TreeQuerySet

AREA_TOLERANCE = Decimal("0.15")  # a hand-drawn outline seldom agrees better


@audited(farm=None)
class Species(Record):
    """A species; reference data shared by all farms."""

    code = models.SlugField(max_length=40, unique=True)
    common_name = models.CharField(max_length=60)
    scientific_name = models.CharField(max_length=120)
    bearing_age_years = models.PositiveSmallIntegerField(
        help_text="Full years from planting until a tree is counted as bearing."
    )
    bearing_age_source = models.CharField(max_length=200)

    objects = ReferenceQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name_plural = "species"

    def __str__(self) -> str:
        return self.common_name


@audited()
class Cultivar(Record):
    """A cultivar. Without a farm it is shared by all; a farm may add its own."""

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    species = models.ForeignKey(Species, models.PROTECT, related_name="cultivars")
    name = models.CharField(max_length=80)
    bearing_age_years = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Where it differs from the species."
    )
    retired_on = models.DateField(null=True, blank=True)

    objects = CultivarQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [*Record.Meta.triggers, stamp_trigger(), tombstone_trigger()]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "name"], name="cultivar_name_once_a_farm", nulls_distinct=False
            ),
            models.CheckConstraint(condition=~Q(name=""), name="cultivar_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name


@audited()
class Block(FarmOwned):
    """A named planting inside a farm."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="blocks")
    code = models.CharField(max_length=20)
    name = models.CharField(max_length=120, blank=True)
    area_m2 = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MAX_AREA_M2)]
    )
    boundary = models.JSONField(
        null=True, blank=True, validators=[check_boundary], help_text="GeoJSON (RFC 7946) polygon."
    )
    boundary_area_m2 = models.PositiveIntegerField(null=True, blank=True, editable=False)
    retired_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "code"], name="block_code_once_a_farm"),
            models.CheckConstraint(condition=~Q(code=""), name="block_has_a_code"),
            models.CheckConstraint(
                condition=Q(area_m2__isnull=True) | Q(area_m2__range=(1, MAX_AREA_M2)),
                name="block_area_in_range",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def warnings(self) -> list[dict[str, str]]:
        if not self.area_m2 or not self.boundary_area_m2:
            return []
        if abs(self.boundary_area_m2 - self.area_m2) <= AREA_TOLERANCE * self.area_m2:
            return []
        text = (
            f"The outline covers {self.boundary_area_m2} m2, the entered area is {self.area_m2} m2."
        )
        return [{"code": "area-differs-from-outline", "pointer": "/area_m2", "detail": text}]


@audited()
class PlantingLine(FarmOwned):
    """Trees of one cultivar, rootstock and year in a block that does not list them one by one."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="planting_lines")
    block: Any = farm_key(Block, related_name="planting_lines")
    cultivar = models.ForeignKey(Cultivar, models.PROTECT, related_name="+")
    rootstock = models.CharField(max_length=80, blank=True)
    planted_year = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1850), MaxValueValidator(2200)]
    )
    tree_count = models.PositiveIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(1_000_000)]
    )
    area_m2 = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_AREA_M2)],
        help_text="Where known, so that yields by area can be given by cultivar.",
    )
    non_bearing = models.BooleanField(default=False)
    ended_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.CheckConstraint(condition=Q(tree_count__gte=1), name="planting_line_has_trees")
        ]

    def __str__(self) -> str:
        return f"{self.tree_count} trees in {self.block}"


@audited()
class Tree(FarmOwned):
    """One plant at a row and position, with one or more trunks."""

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="trees")
    block: Any = farm_key(Block, related_name="trees")
    row = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_ROW)])
    position = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_ROW)])
    number = models.CharField(max_length=30, blank=True, help_text="The label on the tree.")
    cultivar = models.ForeignKey(Cultivar, models.PROTECT, null=True, blank=True, related_name="+")
    rootstock = models.CharField(max_length=80, blank=True)
    planted_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(
        null=True, blank=True, help_text="The first day on which it no longer stood."
    )
    removal_reason = models.CharField(max_length=120, blank=True)
    non_bearing = models.BooleanField(default=False)
    moved_from: Any = farm_key("records.Tree", null=True, related_name="moved_to")
    mother: Any = farm_key("records.Tree", null=True, related_name="seedlings")

    objects = TreeQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True)
                | Q(planted_on__isnull=True)
                | Q(removed_on__gte=F("planted_on")),
                name="tree_removed_after_planting",
                violation_error_message="The tree was removed before it was planted.",
            ),
            ExclusionConstraint(
                name="one_tree_at_a_place_on_a_day",
                expressions=[
                    ("block", RangeOperators.EQUAL),
                    ("row", RangeOperators.EQUAL),
                    ("position", RangeOperators.EQUAL),
                    (DateRange("planted_on", "removed_on", Value("[)")), RangeOperators.OVERLAPS),
                ],
                violation_error_code="place-taken",
                violation_error_message="Another tree stands at this place on these days.",
            ),
        ]

    def __str__(self) -> str:
        return self.number or f"{self.row}/{self.position}"


@audited()
class Graft(FarmOwned):
    """Top-working: from a date on, a share of a tree's crown carries another cultivar.

    A tree's cultivar on a day is its planted one, unless grafts stood that day; several, or a
    share below 100 %, make the tree a mixture whose kilos belong to no single cultivar.
    """

    farm = models.ForeignKey("records.Farm", models.PROTECT, related_name="grafts")
    tree: Any = farm_key(Tree, related_name="grafts")
    cultivar = models.ForeignKey(Cultivar, models.PROTECT, related_name="+")
    share_percent = models.PositiveSmallIntegerField(
        default=100, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    grafted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(share_percent__range=(1, 100)), name="graft_share_in_range"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("grafted_on")),
                name="graft_removed_after_grafting",
                violation_error_message="The graft was removed before it was made.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.share_percent} % {self.cultivar}"


@audited(exclude=("recorded_at",))
class TrunkGirth(Recorded, FarmOwned):
    """The girth of one trunk of a tree on a day. Sections add up; diameters do not."""

    area = Area.FIELD
    dated_by: ClassVar[str | None] = "measured_on"

    tree: Any = farm_key(Tree, related_name="trunk_girths")
    trunk = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )
    measured_on = models.DateField()
    girth_mm = models.PositiveIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(MAX_GIRTH_MM)]
    )

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            once_an_import_key("trunk_girth"),
            models.UniqueConstraint(
                fields=["tree", "trunk", "measured_on"],
                name="trunk_girth_once_a_day",
                violation_error_message="This trunk has a girth of this day.",
            ),
            models.CheckConstraint(
                condition=Q(girth_mm__range=(1, MAX_GIRTH_MM)), name="trunk_girth_in_range"
            ),
            models.CheckConstraint(condition=Q(trunk__gte=1), name="trunk_girth_of_a_trunk"),
        ]

    def __str__(self) -> str:
        return f"{self.girth_mm} mm on {self.measured_on}"

    @property
    def section_cm2(self) -> float:
        """Cross-section of the trunk, taken as round: C^2 / (4 pi)."""
        return (self.girth_mm / 10) ** 2 / (4 * math.pi)

    @property
    def warnings(self) -> list[dict[str, str]]:
        return removed_tree_warnings([self.tree], self.measured_on, "tree")
