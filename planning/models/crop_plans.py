"""Further crops that a farm means to bring on."""

from typing import Any

from django.db import models
from django.db.models import Q

from orchard.access import Area
from planning.choices import CropWork
from planning.querysets import ScheduleQuerySet
from records.models.base import FarmOwned, audited, farm_key


@audited()
class CropPlan(FarmOwned):
    """A late pruning, leaf stripping or both, by which a block is to flower once more.

    Whether it is done follows from what is recorded of the block; nothing of that is stored here.
    """

    area = Area.SCHEDULE

    block: Any = farm_key("records.Block")
    name = models.CharField(
        max_length=40, default="second", help_text="What the crop is to be called."
    )
    work = models.CharField(
        max_length=16,
        choices=CropWork,
        default=CropWork.STRIP_AND_PRUNE,
        help_text="What opens it.",
    )
    planned_on = models.DateField()
    note = models.CharField(max_length=500, blank=True)

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="crop_plan_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["block", "planned_on"],
                name="crop_plan_once_a_day",
                violation_error_message="The block has a plan for this day: change that one.",
            ),
            models.CheckConstraint(
                condition=~Q(name=""),
                name="crop_plan_is_named",
                violation_error_message="Say what the crop is to be called.",
            ),
            models.CheckConstraint(
                condition=~Q(name__iexact="main"),
                name="crop_plan_is_of_a_further_crop",
                violation_error_message=(
                    "The main crop is opened by the year's own pruning: name a further one."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} crop of {self.planned_on}"
