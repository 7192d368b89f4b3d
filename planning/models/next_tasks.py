"""What is due next, what has no date yet, and what people decided about a task."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from orchard.access import Area
from planning.choices import RecordKind, TaskState, UndatedWhy, WorkKind
from planning.models.base import DerivedOfFarm, farm_part, people_ids, people_names
from planning.querysets import ScheduleQuerySet
from records.models.base import FarmOwned, audited

KEY_LENGTH = 200


class NextTask(DerivedOfFarm):
    """A dated piece of work on a block: computed, and rebuilt when anything it rests on changes.

    `key` stays the same whatever is recorded, and so does the row's id.
    """

    area = Area.SCHEDULE
    dated_by: ClassVar[str | None] = "best_on"

    # Its block is one of the farm: a check of its own would tell nothing more, at every row.
    farm = models.ForeignKey(
        "records.Farm", models.CASCADE, related_name="+", db_constraint=False, db_index=False
    )
    key = models.CharField(max_length=KEY_LENGTH)
    block: Any = farm_part("records.Block")
    crop: Any = farm_part("records.Crop", null=True, on_delete=models.SET_NULL)
    rule: Any = farm_part("planning.TaskRule", null=True, on_delete=models.SET_NULL)
    rule_code = models.CharField(max_length=40)
    season_year = models.SmallIntegerField(help_text="The year the season starts in.")
    season_label = models.CharField(max_length=7)
    crop_name = models.CharField(max_length=60)
    kind = models.CharField(max_length=16, choices=WorkKind)
    title = models.CharField(max_length=120)
    number = models.PositiveSmallIntegerField(help_text="Of a repeat: which one.")
    of = models.PositiveSmallIntegerField(null=True, help_text="How many, where that is known.")
    opens_on = models.DateField()
    best_on = models.DateField()
    closes_on = models.DateField()
    state = models.CharField(max_length=9, choices=TaskState)
    reason = models.CharField(max_length=2000)
    hours = models.JSONField(
        default=list,
        help_text="Parts of the day: the work, from and until, with the UTC offset.",
    )
    expected_minutes = models.PositiveIntegerField(null=True, help_text="Of all people together.")
    expected_people = models.PositiveSmallIntegerField(null=True)
    done_on = models.DateField(null=True)
    done_by_kind = models.CharField(max_length=20, choices=RecordKind, blank=True)
    done_by = models.UUIDField(null=True)
    days_late = models.PositiveSmallIntegerField(
        null=True, help_text="How many days after its best day it was done; null: it is not."
    )
    skipped_because = models.CharField(max_length=200, blank=True)
    assigned_to = people_ids()
    assigned_names = people_names()

    objects = ScheduleQuerySet.as_manager()

    class Meta(DerivedOfFarm.Meta):
        constraints = [models.UniqueConstraint(fields=["farm", "key"], name="next_task_once")]
        indexes = [
            models.Index(fields=["farm", "best_on", "id"], name="next_task_due"),
            models.Index(fields=["best_on", "id"], name="next_task_listed"),
        ]

    def __str__(self) -> str:
        return self.title


class UndatedTask(DerivedOfFarm):
    """Work that has no date: what it waits for, or why it does not apply."""

    area = Area.SCHEDULE

    block: Any = farm_part("records.Block", null=True)
    why = models.CharField(max_length=14, choices=UndatedWhy)
    season_year = models.SmallIntegerField(null=True)
    crop_name = models.CharField(max_length=60, blank=True)
    about = models.CharField(max_length=40, blank=True, help_text="A rule's code or a kind.")
    reason = models.CharField(max_length=400)

    objects = ScheduleQuerySet.as_manager()

    class Meta(DerivedOfFarm.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "block", "why", "season_year", "crop_name", "about"],
                name="undated_task_once",
                nulls_distinct=False,
            )
        ]
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="undated_task_listed")]

    def __str__(self) -> str:
        return self.reason


UNDATED_KEY = ("block", "why", "season_year", "crop_name", "about")


@audited()
class TaskChoice(FarmOwned):
    """What people decided about a task, by its key: it outlives every rebuild.

    What alerts about other facts are put off to is kept likewise, by what they are about.
    """

    area = Area.SCHEDULE

    block: Any = farm_part("records.Block", null=True)
    task_key = models.CharField(max_length=KEY_LENGTH)
    skipped_because = models.CharField(max_length=200, blank=True)
    assigned_to = people_ids()
    snoozed_until = models.DateField(
        null=True, blank=True, help_text="The day on which its alerts are told again."
    )

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["farm", "task_key"], name="task_choice_once_a_task"),
            models.CheckConstraint(condition=~Q(task_key=""), name="task_choice_has_a_task"),
        ]

    def __str__(self) -> str:
        return self.task_key


class ScheduleRun(models.Model):
    """The local date that a farm's schedule was last computed for."""

    farm = models.OneToOneField(
        "records.Farm", models.CASCADE, primary_key=True, related_name="schedule_run"
    )
    computed_for = models.DateField()

    def __str__(self) -> str:
        return f"{self.farm} on {self.computed_for}"
