"""In which hours a farm brushes a species' flowers and gathers their pollen."""

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from orchard.access import Area
from planning.choices import SunEvent
from planning.models.rule_checks import empty, filled, given, missing
from planning.querysets import ScheduleQuerySet
from records.models.base import FarmOwned, audited

# Half a day before the sun's event of the opening date, to two days after it.
LEAST_MINUTES, MOST_MINUTES = -720, 2880
PARTS = ("brush", "gather")


def _event(text: str) -> Any:
    return models.CharField(max_length=10, choices=SunEvent, blank=True, help_text=text)


def _minutes(text: str = "") -> Any:
    return models.SmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(LEAST_MINUTES), MaxValueValidator(MOST_MINUTES)],
        help_text=text,
    )


def fields_of(part: str) -> tuple[str, str, str, str]:
    """The fields of one part's window: event and minutes, from and to."""
    return (f"{part}_from", f"{part}_from_minutes", f"{part}_to", f"{part}_to_minutes")


def _whole(part: str) -> Q:
    opens, opens_minutes, closes, closes_minutes = fields_of(part)
    return filled(opens, closes) & given(opens_minutes, closes_minutes)


def _none(part: str) -> Q:
    opens, opens_minutes, closes, closes_minutes = fields_of(part)
    return empty(opens, closes) & missing(opens_minutes, closes_minutes)


def _is_whole_or_none(part: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=_whole(part) | _none(part),
        name=f"flower_hours_{part}_is_whole",
        violation_error_message=(
            "Hours have an event of the sun and minutes after it, both from and to, or nothing."
        ),
    )


def _in_range(part: str) -> models.CheckConstraint:
    _, opens, _, closes = fields_of(part)
    bounds = (LEAST_MINUTES, MOST_MINUTES)
    return models.CheckConstraint(
        condition=missing(opens) | Q(**{f"{opens}__range": bounds, f"{closes}__range": bounds}),
        name=f"flower_hours_{part}_in_range",
        violation_error_message=f"Minutes lie between {LEAST_MINUTES} and {MOST_MINUTES}.",
    )


def _in_order(part: str) -> models.CheckConstraint:
    opens, opens_minutes, closes, closes_minutes = fields_of(part)
    return models.CheckConstraint(
        condition=missing(opens_minutes)
        | ~Q(**{opens: F(closes)})
        | Q(**{f"{opens_minutes}__lt": F(closes_minutes)}),
        name=f"flower_hours_{part}_in_order",
        violation_error_message="Hours end after they begin.",
    )


@audited()
class FlowerHours(FarmOwned):
    """A source that ships and that the farm goes by, or hours of its own; one row a species.

    Minutes count from the sun's event on the date on which a flower opens; negative ones are
    before it, and 1440 more are the same on the next date. Of a part that the farm leaves empty
    (when to brush, when to gather) the default that ships holds.
    """

    area = Area.SCHEDULE

    species = models.ForeignKey("records.Species", models.PROTECT, related_name="+")
    shipped_source = models.CharField(
        max_length=40, blank=True, help_text="A source's code from flower-hours/shipped."
    )
    brush_from = _event("Own hours: flowers are brushed from this event of the sun.")
    brush_from_minutes = _minutes("Minutes after it; negative: before.")
    brush_to = _event("Flowers are brushed until this event.")
    brush_to_minutes = _minutes()
    gather_from = _event("Own hours: pollen is gathered from this event of the sun.")
    gather_from_minutes = _minutes()
    gather_to = _event("Pollen is gathered until this event.")
    gather_to_minutes = _minutes()
    source = models.CharField(
        max_length=600, blank=True, help_text="Where the farm's own hours come from, and notes."
    )

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        verbose_name_plural = "flower hours"
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="flower_hours_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "species"],
                name="flower_hours_once_a_species",
                violation_error_message="The farm has hours for this species: change those.",
            ),
            *[rule(part) for part in PARTS for rule in (_is_whole_or_none, _in_range, _in_order)],
            models.CheckConstraint(
                condition=(filled("shipped_source") & _none("brush") & _none("gather"))
                | (empty("shipped_source") & (_whole("brush") | _whole("gather"))),
                name="flower_hours_chosen_or_own",
                violation_error_message=(
                    "Name a source that ships, or give hours of your own, and not both."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"hours of {self.species}"
