"""Which crops the traceability rule is taken to cover, as dated data."""

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Q, Value

from orchard.access import Area
from records.models.base import (
    DateRange,
    Record,
    audited,
    stamp_trigger,
    tombstone_trigger,
)
from records.models.plants import Species
from records.querysets import TraceCoverageQuerySet


def once_at_a_time(owner: str) -> ExclusionConstraint:
    """One owner says one thing of a species on a day."""
    return ExclusionConstraint(
        name=f"trace_coverage_once_at_a_time_of_{owner}",
        expressions=[
            (owner, RangeOperators.EQUAL),
            ("species", RangeOperators.EQUAL),
            (DateRange("starts_on", "ends_on", Value("[]")), RangeOperators.OVERLAPS),
        ],
        violation_error_code="coverage-overlaps",
        violation_error_message="There is an entry of this species for some of these days.",
    )


@audited()
class TraceCoverage(Record):
    """Whether a farm or a co-op takes a species to be covered, from when until when, and by what.

    Which foods the Food Traceability List names (21 CFR part 1 subpart S, 1.1300) and whom it
    exempts (1.1305) is decided by whoever keeps the records, and may change: no species is built
    in. Without an entry the answer is "not stated".
    """

    area = Area.HARVEST

    farm = models.ForeignKey(
        "records.Farm", models.PROTECT, null=True, blank=True, related_name="+"
    )
    co_op = models.ForeignKey(
        "records.CoOp", models.PROTECT, null=True, blank=True, related_name="+"
    )
    species = models.ForeignKey(Species, models.PROTECT, related_name="+")
    is_covered = models.BooleanField()
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True, help_text="The last day, if there is one.")
    source = models.CharField(
        max_length=300, help_text="Where it is from: the list and its date, or who was asked."
    )
    created_by = models.ForeignKey(
        "records.Person", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects = TraceCoverageQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name_plural = "trace coverages"
        triggers = [*Record.Meta.triggers, stamp_trigger(), tombstone_trigger()]
        indexes = [models.Index(fields=["created_at", "id"], name="trace_coverage_listed")]
        constraints = [
            models.CheckConstraint(
                condition=Q(farm__isnull=True, co_op__isnull=False)
                | Q(farm__isnull=False, co_op__isnull=True),
                name="trace_coverage_of_one_farm_or_one_co_op",
                violation_error_message="An entry is a farm's or a co-op's.",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("starts_on")),
                name="trace_coverage_ends_after_it_starts",
                violation_error_message="The last day is before the first.",
            ),
            models.CheckConstraint(
                condition=~Q(source=""),
                name="trace_coverage_has_a_source",
                violation_error_message="Say where this is from.",
            ),
            once_at_a_time("farm"),
            once_at_a_time("co_op"),
        ]

    def __str__(self) -> str:
        said = "covered" if self.is_covered else "not covered"
        return f"{self.species} {said} from {self.starts_on}"
