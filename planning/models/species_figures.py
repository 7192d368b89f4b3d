"""A farm's own figures for the species it grows, in the place of the shipped ones."""

from typing import Any

from django.db import models
from django.db.models import Q

from orchard.access import Area
from planning.querysets import ScheduleQuerySet
from records.models.base import FarmOwned, audited


@audited()
class SpeciesFigure(FarmOwned):
    """One figure of a species, or of one of its cultivars, on a farm."""

    area = Area.SCHEDULE

    species = models.ForeignKey("records.Species", models.PROTECT, related_name="+")
    cultivar: Any = models.ForeignKey(
        "records.Cultivar",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where the figure holds for one cultivar only.",
    )
    name = models.SlugField(max_length=40, help_text="Such as base-temperature.")
    value = models.FloatField(help_text="In the figure's own unit; a share is 0 to 1.")
    source = models.CharField(max_length=300, help_text="Where it is from: a book, or own counts.")

    objects = ScheduleQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        indexes = [models.Index(fields=["farm", "created_at", "id"], name="species_figure_listed")]
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "species", "cultivar", "name"],
                name="species_figure_once",
                nulls_distinct=False,
                violation_error_code="already-taken",
                violation_error_message="The farm has its own value of this figure: change that.",
            ),
            models.CheckConstraint(
                condition=~Q(source=""),
                name="species_figure_has_a_source",
                violation_error_message="Say where the figure is from.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} of {self.species}: {self.value:g}"
