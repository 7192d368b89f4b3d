"""Seasons in figures, as last computed."""

from typing import Any

from django.db import models
from django.db.models import Q

from orchard.access import Area
from planning.querysets import SeasonSummaryQuerySet
from records.choices import Basis
from records.models.base import Record, stamp_trigger, tombstone_trigger


class SummaryLevel(models.TextChoices):
    """What one row sums up. The last four are a co-op's, from what its members share."""

    BLOCK = "block", "block"
    CULTIVAR = "cultivar", "cultivar"
    CROP = "crop", "crop"
    FARM = "farm", "farm"
    MEMBER = "member", "member of a co-op"
    MEMBER_CULTIVAR = "member-cultivar", "cultivar of a member"
    CO_OP = "co-op", "co-op"
    CO_OP_CULTIVAR = "co-op-cultivar", "cultivar of a co-op"


def part_of(to: str, **kwargs: Any) -> Any:
    """What a row is about; the row goes with it."""
    return models.ForeignKey(to, models.CASCADE, null=True, blank=True, related_name="+", **kwargs)


# What tells one row from another.
SUMMARY_KEY = (
    "farm",
    "co_op",
    "member",
    "level",
    "block",
    "cultivar",
    "crop",
    "season_year",
    "basis",
)


class SeasonSummary(Record):
    """A season of a block, cultivar, crop or farm, or of a co-op, in figures.

    A row belongs to a farm or to a co-op. Those of a co-op name the `member` they are about, if
    any, and not its farm: they are no part of the farm's change feed. A cultivar row without a
    cultivar is the fruit whose cultivar is not known.
    """

    area = Area.SUMMARY

    farm = part_of("records.Farm")
    co_op = part_of("records.CoOp")
    member = part_of("records.Farm")
    level = models.CharField(max_length=16, choices=SummaryLevel)
    # Blocks and crops are checked together with their farm (migration 0002).
    block = part_of("records.Block", db_constraint=False)
    cultivar = part_of("records.Cultivar")
    crop = part_of("records.Crop", db_constraint=False)

    season_year = models.SmallIntegerField(help_text="The year the season starts in.")
    season_label = models.CharField(max_length=7)
    starts_on = models.DateField()
    ends_on = models.DateField()
    is_closed = models.BooleanField(help_text="False while the figures are to date.")
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.PICKED)

    net_g = models.BigIntegerField()
    estimated_g = models.BigIntegerField()
    grades = models.JSONField()
    marketable_share = models.FloatField(null=True)
    ungraded_share = models.FloatField(null=True)
    fruit_count = models.BigIntegerField(null=True)
    mean_fruit_g = models.FloatField(null=True)
    bearing_trees = models.PositiveIntegerField(null=True)
    area_m2 = models.FloatField(null=True)
    kg_per_tree = models.FloatField(null=True)
    t_per_ha = models.FloatField(null=True)
    first_on = models.DateField(null=True)
    p10_on = models.DateField(null=True)
    p50_on = models.DateField(null=True)
    p90_on = models.DateField(null=True)
    last_on = models.DateField(null=True)
    minutes = models.JSONField(null=True, help_text="Of all people together, by kind of work.")
    kg_per_picking_hour = models.FloatField(null=True)
    weeks = models.JSONField()
    spread = models.JSONField(null=True)
    against_main = models.JSONField(
        null=True, help_text="Of a further crop: held against the block's main crop."
    )
    reasons = models.JSONField()
    inputs = models.JSONField()
    method = models.CharField(max_length=300)
    sums = models.JSONField(
        null=True, editable=False, help_text="Of a member's row: what its co-op's add up."
    )

    objects = SeasonSummaryQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name_plural = "season summaries"
        triggers = [
            *Record.Meta.triggers,
            stamp_trigger(derived="true"),
            tombstone_trigger(derived=True),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=SUMMARY_KEY,
                name="season_summary_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=Q(farm__isnull=False, co_op__isnull=True, member__isnull=True)
                | Q(farm__isnull=True, co_op__isnull=False, block__isnull=True, crop__isnull=True),
                name="season_summary_of_a_farm_or_a_co_op",
            ),
        ]
        indexes = [models.Index(fields=["created_at", "id"], name="season_summary_listed")]

    def __str__(self) -> str:
        return f"{self.get_level_display()} {self.season_label}"
