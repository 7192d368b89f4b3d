"""Co-ops, their members, farms and their seasons."""

import calendar
import zoneinfo
from typing import Any

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q, Value

from orchard.access import Area
from records import places
from records.choices import Basis, DateOrder, DecimalMark, Shares, WeightUnit
from records.models.base import (
    DateRange,
    FarmOwned,
    Record,
    audited,
    farm_key,
    stamp_trigger,
    tombstone_trigger,
    touch_trigger,
)
from records.querysets import CoOpQuerySet, FarmOwnedQuerySet, FarmQuerySet, MembershipQuerySet

A_MONTH = [MinValueValidator(1), MaxValueValidator(12)]


def phone_field() -> Any:
    return models.CharField(max_length=40, blank=True)


def address_field() -> Any:
    return models.CharField(
        max_length=200, blank=True, help_text="Street or road, place and country, in one line."
    )


def check_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(
            "%(name)s is no time zone of the IANA list, such as Atlantic/Madeira.",
            code="unknown-time-zone",
            params={"name": name},
        )


@audited(farm=None)
class CoOp(Record):
    """A group of farms that consolidates its members' harvests."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    phone = phone_field()
    address = address_field()
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.PICKED)
    retired_on = models.DateField(null=True, blank=True)

    objects = CoOpQuerySet.as_manager()

    class Meta(Record.Meta):
        verbose_name = "co-op"
        constraints = [
            models.CheckConstraint(condition=~Q(code=""), name="co_op_has_a_code"),
        ]

    def __str__(self) -> str:
        return self.name


@audited(farm="id")
class Farm(Record):
    """A place with coordinates and a time zone, and how its members' files are read."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=64, validators=[check_time_zone])
    latitude = models.DecimalField(
        max_digits=8,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )
    longitude = models.DecimalField(
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )
    # With the phone and a place these describe a location in trace records (21 CFR 1.1310).
    business_name = models.CharField(
        max_length=120,
        blank=True,
        help_text="Of the business that grows and picks. A packer of the farm's fruit is told it.",
    )
    phone = phone_field()
    address = address_field()
    season_start_month = models.PositiveSmallIntegerField(default=1, validators=A_MONTH)
    backdate_days = models.PositiveSmallIntegerField(
        default=14,
        validators=[MaxValueValidator(366)],
        help_text="How many days back field workers may add and correct records.",
    )
    adviser_writes = models.BooleanField(default=False)
    decimal_mark = models.CharField(max_length=1, choices=DecimalMark, blank=True)
    date_order = models.CharField(max_length=14, choices=DateOrder, blank=True)
    weight_unit = models.CharField(max_length=2, choices=WeightUnit, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    objects = FarmQuerySet.as_manager()

    class Meta(Record.Meta):
        triggers = [touch_trigger(), stamp_trigger(farm="id"), tombstone_trigger(farm="id")]
        constraints = [
            models.CheckConstraint(condition=~Q(code=""), name="farm_has_a_code"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="farm_coordinates_in_range",
                violation_error_message="Give both latitude and longitude, or neither.",
            ),
            models.CheckConstraint(
                condition=Q(season_start_month__range=(1, 12)), name="farm_season_start_is_a_month"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def warnings(self) -> list[dict[str, str]]:
        """Coordinates the other way round are the commonest slip, and hide from every range."""
        if self.latitude is None or self.longitude is None:
            return []
        place = (float(self.latitude), float(self.longitude))
        if not places.look_swapped(place, self.time_zone):
            return []
        text = (
            f"Latitude and longitude look swapped: the other way round they suit {self.time_zone}."
        )
        return [{"code": "coordinates-swapped", "pointer": "/latitude", "detail": text}]


@audited()
class Membership(FarmOwned):
    """A farm's time in a co-op, what it shares there and what the co-op's staff may do."""

    area = Area.PLACE

    co_op = models.ForeignKey(CoOp, models.PROTECT, related_name="memberships")
    farm = models.ForeignKey(Farm, models.PROTECT, related_name="memberships")
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True, help_text="The last day, if it has ended.")
    shares = models.CharField(max_length=10, choices=Shares, default=Shares.HARVEST)
    staff_may_edit = models.BooleanField(
        default=False, help_text="Staff may import, correct and settle this member's harvest data."
    )
    is_associate = models.BooleanField(default=False)

    objects = MembershipQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("starts_on")),
                name="membership_ends_after_it_starts",
                violation_error_message="The last day is before the first.",
            ),
            ExclusionConstraint(
                name="membership_once_at_a_time",
                expressions=[
                    ("farm", RangeOperators.EQUAL),
                    ("co_op", RangeOperators.EQUAL),
                    (DateRange("starts_on", "ends_on", Value("[]")), RangeOperators.OVERLAPS),
                ],
                violation_error_code="memberships-overlap",
                violation_error_message="The farm is a member of this co-op on some of these days.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.farm} in {self.co_op}"


@audited()
class SeasonStart(FarmOwned):
    """From a date on, the month in which the farm's (or one block's) season starts."""

    block: Any = farm_key("records.Block", null=True, related_name="season_starts")
    farm = models.ForeignKey(Farm, models.PROTECT, related_name="season_starts")
    applies_from = models.DateField()
    month = models.PositiveSmallIntegerField(validators=A_MONTH)

    objects = FarmOwnedQuerySet.as_manager()

    class Meta(FarmOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["farm", "block", "applies_from"],
                name="season_start_once_a_date",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=Q(month__range=(1, 12)), name="season_start_is_a_month"
            ),
        ]

    def __str__(self) -> str:
        return f"{calendar.month_name[self.month]} from {self.applies_from}"
