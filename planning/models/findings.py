"""What in a farm's weighings and intakes somebody must look at, and what was decided about it."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from orchard.access import Area
from planning.choices import FindingKind, FindingState, Sure
from planning.models.base import DerivedOfFarm, farm_part
from planning.querysets import FindingQuerySet
from records.models.base import audited


@audited(exclude=("sentence", "sure", "evidence", "fix", "effect_g"))
class Finding(DerivedOfFarm):
    """Rows of a farm that look wrong: computed, and decided about by people.

    `key` is the same as long as the rows say the same, so that a rebuild keeps ids and decisions;
    a row that is edited makes another finding, if any. What no longer holds becomes outdated and
    stays. `co_op` is the co-op whose intakes it is about, if any; of the co-ops only that one sees
    it then.
    """

    area = Area.HARVEST
    dated_by: ClassVar[str | None] = "about_on"

    key = models.CharField(max_length=60)
    co_op = models.ForeignKey("records.CoOp", models.CASCADE, null=True, related_name="+")
    block: Any = farm_part("records.Block", null=True)
    harvest_import: Any = models.ForeignKey(
        "records.HarvestImport",
        models.SET_NULL,
        null=True,
        related_name="+",
        db_constraint=False,
        help_text="The file by which its rows came in, if they did by one.",
    )
    kind = models.CharField(max_length=16, choices=FindingKind)
    season_year = models.SmallIntegerField(help_text="The year the season starts in.")
    season_label = models.CharField(max_length=7)
    about_on = models.DateField(help_text="The first day of the rows that it is about.")
    rows: Any = models.JSONField(help_text="What it is about: kind and id of each record.")
    sentence = models.CharField(max_length=600)
    sure = models.CharField(max_length=6, choices=Sure)
    evidence: Any = models.JSONField()
    fix: Any = models.JSONField(null=True)
    effect_g = models.BigIntegerField(default=0)

    state = models.CharField(max_length=9, choices=FindingState, default=FindingState.OPEN)
    # Kept while it is outdated, for when its rows say the same again.
    decision = models.CharField(max_length=9, choices=FindingState, blank=True)
    note = models.CharField(max_length=500, blank=True)
    decided_by = models.CharField(max_length=254, blank=True)
    decided_at = models.DateTimeField(null=True)
    applied: Any = models.JSONField(
        null=True, help_text="The rows as they were before the fix, and their versions after it."
    )

    objects = FindingQuerySet.as_manager()

    class Meta(DerivedOfFarm.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "key"], name="finding_once"),
            models.CheckConstraint(
                condition=Q(decision="", decided_at__isnull=True)
                | (~Q(decision="") & Q(decided_at__isnull=False)),
                name="finding_decided_at_some_time",
            ),
            models.CheckConstraint(
                condition=~Q(decision="dismissed") | ~Q(note=""),
                name="finding_dismissed_with_a_note",
            ),
        ]
        indexes = [
            models.Index(fields=["farm", "about_on", "id"], name="finding_of_a_farm"),
            models.Index(fields=["about_on", "id"], name="finding_by_day"),
            models.Index(fields=["created_at", "id"], name="finding_listed"),
        ]

    def __str__(self) -> str:
        return self.sentence


class FindingRun(models.Model):
    """Up to which change a farm's rows were looked at."""

    farm = models.OneToOneField(
        "records.Farm", models.CASCADE, primary_key=True, related_name="finding_run"
    )
    tick = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.farm} up to {self.tick}"
