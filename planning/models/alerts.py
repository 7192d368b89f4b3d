"""What somebody should be told about work, bloom, weather and crew, and who has taken note."""

from typing import Any, ClassVar

from django.db import models

from orchard.access import Area
from planning.choices import AlertKind, AlertState
from planning.models.base import DerivedOfFarm, farm_part, people_ids, people_names
from planning.models.next_tasks import KEY_LENGTH
from planning.querysets import AlertQuerySet, ScheduleQuerySet
from records.models.base import FarmOwned, audited


class Alert(DerivedOfFarm):
    """One fact: one row, closed when the fact ends, reopened if it is back.

    It is about a next task, else about a block, else about the farm; `subject` is the key of
    that, by which its alerts are put off.
    """

    area = Area.SCHEDULE
    dated_by: ClassVar[str | None] = "about_on"

    key = models.CharField(max_length=KEY_LENGTH + 40)
    subject = models.CharField(max_length=KEY_LENGTH)
    task: Any = farm_part("planning.NextTask", null=True, on_delete=models.SET_NULL)
    block: Any = farm_part("records.Block", null=True)
    season_year = models.SmallIntegerField(null=True)
    kind = models.CharField(max_length=12, choices=AlertKind)
    about_on = models.DateField(help_text="The day that the fact is about.")
    state = models.CharField(max_length=12, choices=AlertState)
    message = models.CharField(max_length=400)
    reason = models.CharField(max_length=2000)
    assigned_to = people_ids()
    assigned_names = people_names()
    snoozed_until = models.DateField(null=True)
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.CharField(max_length=254, blank=True)
    closed_on = models.DateField(null=True)

    objects = AlertQuerySet.as_manager()

    class Meta(DerivedOfFarm.Meta):
        constraints = [models.UniqueConstraint(fields=["farm", "key"], name="alert_once_a_fact")]
        indexes = [
            models.Index(fields=["farm", "about_on", "id"], name="alert_of_a_farm"),
            models.Index(fields=["about_on", "id"], name="alert_listed"),
        ]

    def __str__(self) -> str:
        return self.message

    @property
    def is_acknowledged(self) -> bool:
        return self.acknowledged_at is not None


@audited()
class AlertAcknowledgement(FarmOwned):
    """Who has taken note of an alert, and when."""

    area = Area.SCHEDULE

    block: Any = farm_part("records.Block", null=True)
    alert_key = models.CharField(max_length=KEY_LENGTH + 40)
    acknowledged_at = models.DateTimeField()
    acknowledged_by = models.CharField(max_length=254)

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "alert_key"], name="alert_acknowledged_once")
        ]

    def __str__(self) -> str:
        return f"{self.alert_key} by {self.acknowledged_by}"
