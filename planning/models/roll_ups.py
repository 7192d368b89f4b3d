"""A co-op's kilos, added up as they come in, so that no table of whole seasons reads weighings.

Derived rows, without audit and in nobody's change feed. They hold what a co-op sees: fruit dated
within a membership, on the basis by which the member's season goes, with the columns of
`planning.queries.kilos`. A season is named by the year in which each member's own one starts.
"""

from typing import Any

from django.contrib.postgres.fields import ArrayField
from django.db import models

from records.choices import Basis


def of_co_op() -> Any:
    """Indexed together with the season."""
    return models.ForeignKey("records.CoOp", models.CASCADE, related_name="+", db_index=False)


def of_member() -> Any:
    return models.ForeignKey("records.Farm", models.CASCADE, related_name="+")


def link(to: str) -> Any:
    """To what the kilos themselves point at, and protect."""
    return models.ForeignKey(
        to, models.DO_NOTHING, null=True, related_name="+", db_constraint=False, db_index=False
    )


class KiloSums(models.Model):
    """Sums of some kilos of one season, basis, cultivar, grade and crop.

    `co_op_grade` is what the grade counts as in the co-op, null where it is not mapped;
    `marketable` is null for ungraded fruit and false for culls and for rejects, which have a
    `reject_reason`. `counted_g` and `counted_fruit` are of weighings that have both a weight and
    a count. `records` is the number of weighings, of intakes, or of lines of sorted intakes.
    """

    season_year = models.SmallIntegerField()
    basis = models.CharField(max_length=10, choices=Basis)
    cultivar = link("records.Cultivar")
    grade = link("records.Grade")
    co_op_grade = link("records.CoOpGrade")
    reject_reason = models.CharField(max_length=120, blank=True)
    marketable = models.BooleanField(null=True)
    crop_name = models.CharField(max_length=40, null=True)  # noqa: DJ001 - null: of no known crop

    net_g = models.BigIntegerField()
    estimated_g = models.BigIntegerField()
    fruit_count = models.BigIntegerField()
    counted_g = models.BigIntegerField()
    counted_fruit = models.BigIntegerField()
    records = models.IntegerField()

    class Meta:
        abstract = True


# What tells sums apart, and what is added up.
KEYS = (
    "cultivar_id",
    "grade_id",
    "co_op_grade_id",
    "reject_reason",
    "marketable",
    "crop_name",
)
SUMS = ("net_g", "estimated_g", "fruit_count", "counted_g", "counted_fruit", "records")


class MemberRollUp(KiloSums):
    """A member's whole season; `grade` is the farm's."""

    co_op = of_co_op()
    member = of_member()

    class Meta:
        indexes = [
            models.Index(fields=["co_op", "season_year", "member"], name="member_roll_up_season")
        ]

    def __str__(self) -> str:
        return f"{self.member} {self.season_year}"


class DayRollUp(KiloSums):
    """A day of all members together, on which fruit was picked, or received.

    `grade` is a member's, and set only where it is not mapped to one of the co-op's.
    """

    co_op = of_co_op()
    day = models.DateField()

    class Meta:
        indexes = [models.Index(fields=["co_op", "season_year", "day"], name="day_roll_up_season")]

    def __str__(self) -> str:
        return f"{self.co_op} {self.day}"


def column(of: Any) -> Any:
    return ArrayField(of, editable=False)


class MemberDays(models.Model):
    """A member's season day by day, as columns: the n-th values of all are of one day and key.

    Packed, since as rows of its own it would be nearly as long as the weighings.
    """

    co_op = of_co_op()
    member = of_member()
    season_year = models.SmallIntegerField()
    basis = models.CharField(max_length=10, choices=Basis)
    days = column(models.DateField())
    cultivar_ids = column(models.UUIDField(null=True))
    grade_ids = column(models.UUIDField(null=True))
    co_op_grade_ids = column(models.UUIDField(null=True))
    reject_reasons = column(models.CharField(max_length=120))
    marketables = column(models.BooleanField(null=True))
    crop_names = column(models.CharField(max_length=40, null=True))
    net_gs = column(models.BigIntegerField())
    estimated_gs = column(models.BigIntegerField())
    fruit_counts = column(models.BigIntegerField())
    counted_gs = column(models.BigIntegerField())
    counted_fruits = column(models.BigIntegerField())
    record_numbers = column(models.IntegerField())

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["co_op", "season_year", "member"], name="member_days_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.member} {self.season_year}"


class StaleSeason(models.Model):
    """Says that a member's season has moved since its co-op's was last added up.

    Rows are only added and, once the season is added up, deleted: whoever adds up first deletes
    those it sees, and then reads, so that none that comes meanwhile is lost.
    """

    co_op = models.ForeignKey("records.CoOp", models.CASCADE, related_name="+")
    season_year = models.SmallIntegerField()

    def __str__(self) -> str:
        return f"{self.co_op} {self.season_year}"


class SeenRecords(models.Model):
    """Digests of the records that a farm's summaries were last built from.

    Its own without a co-op, else those of what the co-op sees. `of_seasons` are by year.
    """

    farm = of_member()
    co_op = models.ForeignKey("records.CoOp", models.CASCADE, null=True, related_name="+")
    of_farm = models.CharField(max_length=64)
    of_seasons = models.JSONField()

    class Meta:
        verbose_name_plural = "seen records"
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "co_op"], name="seen_records_once", nulls_distinct=False
            )
        ]

    def __str__(self) -> str:
        return f"{self.farm} as seen by {self.co_op or 'itself'}"
