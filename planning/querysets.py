"""Named queries over what planning stores."""

import datetime as dt
from typing import Any, Self
from uuid import UUID

from django.apps import apps
from django.db import models
from django.db.models import Exists, OuterRef, Q, QuerySet, Value

from orchard.access import Area, Caller
from records.querysets import FarmOwnedQuerySet


class SeasonSummaryQuerySet(models.QuerySet[Any]):
    """A farm's rows are seen through a role on the farm, a co-op's by the co-op's staff.

    A co-op's rows hold only what its members share, so nobody's view of them is limited.
    """

    def visible_to(self, caller: Caller) -> Self:
        seen = self.annotate(limited=Value(False))
        if caller.is_platform_admin:
            return seen
        return seen.filter(
            Q(farm_id__in=caller.farms_with("reads", Area.SUMMARY))
            | Q(co_op_id__in=caller.co_ops_with("reads", Area.SUMMARY))
        )

    def of_farm(self, farm_id: Any) -> Self:
        """A farm's own rows, and a co-op's rows about the farm."""
        return self.filter(Q(farm_id=farm_id) | Q(member_id=farm_id))

    def ended_by(self, day: dt.date) -> Self:
        """A farm's rows that count as open although their season's last day is before `day`."""
        return self.filter(farm_id__isnull=False, is_closed=False, ends_on__lt=day)


class SettlementQuerySet(models.QuerySet[Any]):
    """Rows of a co-op, seen and changed by its staff; those about a member are seen by it too."""

    member_path = "member_id"
    co_op_path = "co_op_id"

    def visible_to(self, caller: Caller) -> Self:
        seen = self.annotate(limited=Value(False))
        if caller.is_platform_admin:
            return seen
        reach = self._of_co_ops(caller, "reads")
        if self.member_path:
            farms = caller.farms_with("reads", Area.SETTLEMENT)
            reach |= Q(**{f"{self.member_path}__in": farms})
        return seen.filter(reach)

    def writable_by(self, caller: Caller) -> Self:
        return self if caller.is_platform_admin else self.filter(self._of_co_ops(caller, "writes"))

    def _of_co_ops(self, caller: Caller, kind: str) -> Q:
        return Q(**{f"{self.co_op_path}__in": caller.co_ops_with(kind, Area.SETTLEMENT)})


class PoolQuerySet(SettlementQuerySet):
    """A pool tells what all its members bring together, so it is the co-op's staff's alone."""

    member_path = ""


class PoolDeductionQuerySet(PoolQuerySet):
    """An advance of one member is no other's business: it shows on its own statement."""

    co_op_path = "pool__co_op_id"


class StatementLineQuerySet(SettlementQuerySet):
    member_path = "statement__member_id"
    co_op_path = "statement__co_op_id"


class ClosedSeasonQuerySet(SettlementQuerySet):
    """The co-op's staff alone: a closed season is about all members together."""

    member_path = ""

    def of_season(self, co_op_id: UUID, year: int) -> Any:
        """The closed season, or None while it is open."""
        return self.filter(co_op_id=co_op_id, season_year=year).first()


class ScheduleQuerySet(FarmOwnedQuerySet):
    """Rules, tasks and choices are the farm's: none is a worker's own."""

    def _own(self, person_id: UUID) -> Q:
        return Q(pk__in=[])


class FindingQuerySet(FarmOwnedQuerySet):
    """Seen by who reads the farm's harvest, decided by who writes it; none is a worker's own.

    What is about a co-op's intakes is that co-op's business, and no other's.
    """

    def _own(self, person_id: UUID) -> Q:
        return Q(pk__in=[])

    def _reach(self, caller: Caller, kind: str) -> Q:
        farms = Q(farm_id__in=caller.farms_with(kind, self.area))
        co_ops = Q(co_op__isnull=True) | Q(co_op_id__in=caller.co_ops_with(kind, self.area))
        return super()._reach(caller, kind) & (farms | co_ops)

    def of_co_op(self, co_op_id: UUID) -> Self:
        """About its members' rows of the days of membership."""
        members = apps.get_model("records", "Membership")._base_manager.filter(
            Q(ends_on__isnull=True) | Q(ends_on__gte=OuterRef("about_on")),
            co_op_id=co_op_id,
            farm_id=OuterRef("farm_id"),
            starts_on__lte=OuterRef("about_on"),
        )
        return self.filter(Q(co_op__isnull=True) | Q(co_op_id=co_op_id)).filter(Exists(members))


class AlertQuerySet(FarmOwnedQuerySet):
    """A worker's own alerts are those of the tasks that they are to do."""

    def _own(self, person_id: UUID) -> Q:
        return Q(assigned_to__contains=[person_id])


def assignable_by(people: QuerySet[Any], caller: Caller) -> QuerySet[Any]:
    """People to whom the caller may give work: those with a role where it writes schedules."""
    if caller.is_platform_admin:
        return people
    roles = apps.get_model("records", "FarmRole")._base_manager.filter(
        person_id=OuterRef("pk"), farm_id__in=caller.farms_with("writes", Area.SCHEDULE)
    )
    return people.filter(Exists(roles))
