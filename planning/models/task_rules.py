"""What sets off a piece of work on a farm's blocks, and the settings of its schedule."""

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from orchard.access import Area
from planning.choices import (
    Climate,
    CountDetail,
    OnlyWhile,
    RuleOrigin,
    RuleTrigger,
    SeasonEvent,
    Which,
    WorkKind,
)
from planning.models.rule_checks import RULE_CHECKS, given, missing
from planning.querysets import ScheduleQuerySet
from records.models.base import FarmOwned, audited, farm_key

MAX_DAYS = 730
MAX_TIMES = 100
MAX_CREW = 1_000


def day_field(text: str) -> Any:
    return models.CharField(
        max_length=5,
        blank=True,
        validators=[RegexValidator(r"^\d\d-\d\d\Z", "A day of the year is month and day: 03-07.")],
        help_text=text,
    )


def days_field(text: str = "", *, least: int = 0) -> Any:
    return models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(least), MaxValueValidator(MAX_DAYS)],
        help_text=text,
    )


def stage_field(text: str = "") -> Any:
    return models.CharField(
        max_length=2,
        blank=True,
        validators=[RegexValidator(r"^[0-9]{2}\Z", "A BBCH stage is two digits, 00 to 99.")],
        help_text=text,
    )


@audited()
class TaskRule(FarmOwned):
    """One rule: which work, on which blocks, when, how often and until when.

    It holds on one block, else on the blocks of one species, else on all. A nearer rule takes
    the place of a wider one with the same `code`, also when it is switched off. Defaults come
    with the species that a farm grows; one that a person has changed is the farm's own.
    """

    area = Area.SCHEDULE

    block: Any = farm_key("records.Block", null=True)
    species = models.ForeignKey(
        "records.Species",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="The blocks it holds on are those with most trees of this species.",
    )
    code = models.SlugField(max_length=40, help_text="Its lasting name: tasks are known by it.")
    kind = models.CharField(max_length=16, choices=WorkKind)
    detail = models.CharField(
        max_length=8, choices=CountDetail, blank=True, help_text="Of counting: which count."
    )
    title = models.CharField(max_length=80, help_text="What heads a task: Pollination visit.")
    noun = models.CharField(max_length=40, help_text="What its reason calls it: visit.")
    is_active = models.BooleanField(default=True)
    origin = models.CharField(
        max_length=7, choices=RuleOrigin, default=RuleOrigin.OWN, editable=False
    )
    source = models.CharField(max_length=600, blank=True, help_text="Where its figures are from.")

    trigger = models.CharField(max_length=12, choices=RuleTrigger)
    opens_on_day = day_field("The first day of every year, as month and day: 02-22.")
    best_on_day = day_field("The day by which it is best done.")
    closes_on_day = day_field("The last day; it may lie past New Year.")
    because = models.CharField(
        max_length=200, blank=True, help_text="Of dates: why then, as a sentence."
    )
    opens_days = days_field("Days after what sets it off; before a stage, days ahead of it.")
    best_days = days_field("As before.")
    closes_days = days_field("Days after what sets it off; a stage too.")
    after_kind = models.CharField(max_length=16, choices=WorkKind, blank=True)
    after_which = models.CharField(max_length=5, choices=Which, blank=True)
    after_bbch_from = stage_field("The first of the stages that set it off.")
    after_bbch_to = stage_field("The last of them.")
    after_stage = models.CharField(
        max_length=40, blank=True, help_text="What a grower calls them: first bloom."
    )
    shown_by = models.CharField(
        max_length=16, choices=WorkKind, blank=True, help_text="Work that shows the stage too."
    )
    after_event = models.CharField(max_length=13, choices=SeasonEvent, blank=True)
    after_degree_days = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.1), MaxValueValidator(20_000)],
        help_text="Degree days (C) since work or a stage.",
    )
    base_c = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-5), MaxValueValidator(25)],
        help_text="The temperature (C) above which they are counted.",
    )
    early_days = models.PositiveSmallIntegerField(
        default=0,
        validators=[MaxValueValidator(MAX_DAYS)],
        help_text="Work so many days before it opens counts as done.",
    )

    repeat_opens_days = days_field("Days after the day on which the last was done.", least=1)
    repeat_best_days = days_field(least=1)
    repeat_closes_days = days_field(least=1)
    repeat_times = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(MAX_TIMES)],
        help_text="How often in all.",
    )
    repeat_for_days = days_field("For so many days after the first.", least=1)
    until_bbch_from = stage_field("Nothing is due once a stage from here is seen.")
    until_bbch_to = stage_field("The last of those stages.")
    until_stage = models.CharField(max_length=40, blank=True)
    only_while = models.CharField(
        max_length=15,
        choices=OnlyWhile,
        blank=True,
        help_text="What is still to be done is listed only while this record is missing.",
    )
    only_while_kind = models.CharField(max_length=16, choices=WorkKind, blank=True)
    only_while_detail = models.CharField(max_length=8, choices=CountDetail, blank=True)
    only_while_days = days_field("Of a round: when it is so many days old.")

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="task_rule_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "block", "species", "code"],
                name="task_rule_code_once",
                nulls_distinct=False,
                violation_error_message="There is a rule of this code here: change that one.",
            ),
            *RULE_CHECKS,
        ]

    def __str__(self) -> str:
        return self.title


@audited()
class ScheduleSetting(FarmOwned):
    """How a farm's schedule is made; a farm without one goes by its latitude."""

    area = Area.SCHEDULE

    climate = models.CharField(
        max_length=20, choices=Climate, blank=True, help_text="Empty: by the farm's latitude."
    )
    days_ahead = models.PositiveSmallIntegerField(
        default=3,
        validators=[MaxValueValidator(60)],
        help_text="How many days before it opens a task is announced; 0 for not at all.",
    )
    crew_size = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(MAX_CREW)],
        help_text="People on hand for pollinating; empty: not known.",
    )
    works_from = models.TimeField(
        null=True, blank=True, help_text="When work starts, by the farm's clock. Empty: daylight."
    )
    works_until = models.TimeField(null=True, blank=True, help_text="When work ends on that day.")

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["farm"],
                name="schedule_setting_once_a_farm",
                violation_error_message="The farm has settings: change those.",
            ),
            models.CheckConstraint(
                condition=missing("works_from", "works_until") | given("works_from", "works_until"),
                name="schedule_setting_has_both_hours",
                violation_error_message="Give both when work starts and when it ends, or neither.",
            ),
            models.CheckConstraint(
                condition=Q(works_from__lt=F("works_until")),
                name="schedule_setting_hours_in_order",
                violation_error_message="Work ends after it starts, on the same day.",
            ),
        ]

    def __str__(self) -> str:
        return f"schedule of {self.farm}"
