"""Seasons that a co-op has closed, with their kilos as they stood."""

from typing import Any

from django.db import models
from django.db.models import functions

from orchard.access import Area
from planning.querysets import ClosedSeasonQuerySet
from records.choices import Basis
from records.models.base import Record, audited


@audited(farm=None)
class ClosedSeason(Record):
    """A co-op's season, closed once and for all: a later correction shows as a difference.

    `objections` are what spoke against closing it, where it was closed all the same.
    """

    area = Area.SETTLEMENT

    co_op = models.ForeignKey("records.CoOp", models.PROTECT, related_name="+")
    season_year = models.SmallIntegerField(
        help_text="The year in which each farm's own season starts."
    )
    basis = models.CharField(max_length=10, choices=Basis, editable=False)
    closed_at = models.DateTimeField(db_default=functions.Now(), editable=False)
    closed_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )
    note = models.CharField(max_length=500, blank=True)
    objections = models.JSONField(default=list, blank=True, editable=False)

    objects = ClosedSeasonQuerySet.as_manager()

    class Meta(Record.Meta):
        indexes = [models.Index(fields=["created_at", "id"], name="closed_season_listed")]
        constraints = [
            models.UniqueConstraint(fields=["co_op", "season_year"], name="closed_season_once")
        ]

    def __str__(self) -> str:
        return f"{self.season_year} of {self.co_op}"


class ClosedKilos(models.Model):
    """A closed season's kilos of one day, block, cultivar, crop and grade, on one basis.

    Ids are kept as they were and hold nothing fast: what they name may be gone by now.
    """

    closed_season = models.ForeignKey(
        ClosedSeason, models.CASCADE, related_name="kilos", db_constraint=False
    )
    farm_id = models.UUIDField()
    block_id = models.UUIDField(null=True)
    cultivar_id = models.UUIDField(null=True)
    species_id = models.UUIDField(null=True)
    grade_id = models.UUIDField(null=True)
    co_op_grade_id = models.UUIDField(null=True)
    reject_reason = models.CharField(max_length=120)
    marketable = models.BooleanField(null=True)
    crop_name = models.CharField(max_length=40, null=True)  # noqa: DJ001 - null is fruit of no crop
    day = models.DateField()
    basis = models.CharField(max_length=10)
    member_basis = models.CharField(max_length=10)
    net_g = models.BigIntegerField()
    estimated_g = models.BigIntegerField()
    fruit_count = models.BigIntegerField()
    counted_g = models.BigIntegerField()
    counted_fruit = models.BigIntegerField()
    records = models.BigIntegerField()

    class Meta:
        verbose_name_plural = "closed kilos"

    def __str__(self) -> str:
        return f"{self.net_g} g of {self.day}"


class ClosedStand(models.Model):
    """Bearing trees and area of a member, or of its block or cultivar, in a closed season."""

    closed_season = models.ForeignKey(ClosedSeason, models.CASCADE, related_name="stands")
    by = models.CharField(max_length=10)
    farm_id = models.UUIDField()
    block_id = models.UUIDField(null=True)
    cultivar_id = models.UUIDField(null=True)
    species_id = models.UUIDField(null=True)
    member_basis = models.CharField(max_length=10)
    bearing_trees = models.PositiveIntegerField(null=True)
    area_m2 = models.FloatField(null=True)

    def __str__(self) -> str:
        trees: Any = self.bearing_trees
        return f"{trees} trees"
