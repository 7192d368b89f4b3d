"""When each stage of a crop is expected, or was seen."""

from typing import Any, ClassVar

from django.db import models

from orchard.access import Area
from planning.choices import ForecastMethod, StageAhead
from planning.models.base import DerivedOfFarm, farm_part
from planning.querysets import ScheduleQuerySet

FORECAST_KEY = ("block", "cultivar", "season_year", "crop_name", "stage")


class StageForecast(DerivedOfFarm):
    """A stage of a block's crop: a date with its 80 % interval, the day it was seen, or why not.

    Without a cultivar the row is about the block as a whole. `expected_*` is the forecast as it
    stood the day before the stage was seen; of leaf-out the day before pruning, which brings it on.
    """

    area = Area.SCHEDULE
    dated_by: ClassVar[str | None] = None

    block: Any = farm_part("records.Block")
    cultivar = models.ForeignKey("records.Cultivar", models.CASCADE, null=True, related_name="+")
    season_year = models.SmallIntegerField(help_text="The year the season starts in.")
    season_label = models.CharField(max_length=7)
    crop: Any = farm_part("records.Crop", null=True, on_delete=models.SET_NULL)
    crop_name = models.CharField(max_length=60)
    stage = models.CharField(max_length=14, choices=StageAhead)
    bbch = models.PositiveSmallIntegerField()
    on_date = models.DateField(null=True)
    low_on = models.DateField(null=True, help_text="The 80 % interval starts here.")
    high_on = models.DateField(null=True, help_text="And ends here.")
    observed_on = models.DateField(null=True)
    expected_on = models.DateField(null=True, help_text="As it stood the day before it was seen.")
    expected_low_on = models.DateField(null=True)
    expected_high_on = models.DateField(null=True)
    method = models.CharField(max_length=14, choices=ForecastMethod)
    anchor = models.CharField(max_length=16, blank=True, help_text="What its days are from.")
    anchor_on = models.DateField(null=True)
    inputs = models.JSONField(default=dict)
    reason = models.CharField(max_length=1000)

    objects = ScheduleQuerySet.as_manager()

    class Meta(DerivedOfFarm.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["farm", *FORECAST_KEY], name="stage_forecast_once", nulls_distinct=False
            )
        ]
        indexes = [
            models.Index(fields=["farm", "on_date", "id"], name="stage_forecast_of_a_farm"),
            models.Index(fields=["created_at", "id"], name="stage_forecast_listed"),
        ]

    def __str__(self) -> str:
        return f"{self.get_stage_display()} {self.on_date or 'not known'}"
