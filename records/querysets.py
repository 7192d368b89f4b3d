"""Every named query. `visible_to` and `writable_by` are the only doors to records.

Rows are seen through a role on their farm, through what a member shares with a co-op while it is
a member, or because they are reference data. Anything else does not exist for the caller.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Self
from uuid import UUID

from django.apps import apps
from django.db import models
from django.db.models import Exists, OuterRef, Q, Value

from orchard.access import IMPORTED, SHARES, STAFF_EDITS, Area, Caller

if TYPE_CHECKING:
    from django.db.models.expressions import Combinable


def _membership(condition: Q, *, farm: str, day: str | None) -> Exists:
    """A membership of the row's farm, on the row's date.

    Rows without a date (blocks, trees, ...) stay visible after a membership ends, so that the
    weighings from its time keep their names.
    """
    condition &= Q(farm_id=OuterRef(farm))
    if day is not None:
        condition &= Q(starts_on__lte=OuterRef(day))
        condition &= Q(ends_on__isnull=True) | Q(ends_on__gte=OuterRef(day))
    return Exists(apps.get_model("records", "Membership")._base_manager.filter(condition))


def _shared(caller: Caller, kind: str, area: Area) -> Q:
    """Memberships through which the caller's co-ops reach an area."""
    condition = Q(co_op_id__in=caller.co_ops_with(kind, area))
    if kind == "reads":
        shares = [share for share, held in SHARES.items() if area in held.reads]
        return condition & Q(shares__in=shares)
    return condition & Q(staff_may_edit=True) if area in STAFF_EDITS else Q(pk__in=[])


class FarmOwnedQuerySet(models.QuerySet[Any]):
    """Rows that belong to a farm."""

    farm_path = "farm_id"

    @property
    def area(self) -> Area:
        return self.model.area

    def visible_to(self, caller: Caller) -> Self:
        """What the caller may see; rows that only a harvest share shows are marked `limited`."""
        if caller.is_platform_admin:
            return self.annotate(limited=Value(False))
        return self.filter(self._reach(caller, "reads")).annotate(limited=self._limited(caller))

    def writable_by(self, caller: Caller) -> Self:
        """What the caller may change."""
        if caller.is_platform_admin:
            return self
        return self.filter(self._reach(caller, "writes"))

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = Q(**{f"{self.farm_path}__in": caller.farms_with(kind, self.area)})
        own = caller.farms_with("own", self.area)
        if own and caller.person_id:
            reach |= Q(**{f"{self.farm_path}__in": own}) & self._own(caller.person_id)
        if caller.co_ops_with(kind, self.area):
            shared = _shared(caller, kind, self.area)
            reach |= Q(_membership(shared, farm=self.farm_path, day=self.model.dated_by))
        return reach

    def _own(self, person_id: UUID) -> Q:
        """Which rows are a person's own."""
        return Q(created_by_id=person_id)

    def _limited(self, caller: Caller) -> Combinable:
        """Whether the row is seen only through a limited right."""
        full = Q(**{f"{self.farm_path}__in": caller.unlimited_farms})
        unlimited = [co_op for co_op, held in caller.co_ops.items() if not held.limited]
        if unlimited:
            shared = Q(co_op_id__in=unlimited, shares="all")
            full |= Q(_membership(shared, farm=self.farm_path, day=self.model.dated_by))
        return models.Case(models.When(full, then=Value(False)), default=Value(True))


class FarmQuerySet(FarmOwnedQuerySet):
    farm_path = "id"

    def where_caller_may(self, kind: str, area: Area, caller: Caller) -> Self:
        """Farms on which the caller reads, writes, or writes `own` records of an area."""
        if caller.is_platform_admin:
            return self
        farms = Q(pk__in=caller.farms_with(kind, area))
        if kind == "writes":
            farms |= Q(pk__in=caller.farms_with("own", area))
        if caller.co_ops_with(kind, area):
            farms |= Q(_membership(_shared(caller, kind, area), farm="id", day=None))
        return self.filter(farms)

    def set_up_by(self, caller: Caller) -> Self:
        """Farms that the caller may load from a workbook.

        The own; and as staff of a co-op those of members that have nobody yet, or let staff edit.
        """
        if caller.is_platform_admin:
            return self
        co_ops = caller.co_ops_with("writes", Area.PEOPLE)
        of_members = Q(co_op_id__in=co_ops, ends_on__isnull=True)
        edited = _membership(of_members & Q(staff_may_edit=True), farm="id", day=None)
        return self.filter(
            Q(pk__in=caller.farms_with("writes", Area.PEOPLE))
            | Q(edited)
            | Q(_membership(of_members, farm="id", day=None), _nobody("id"))
        )


class CultivarQuerySet(FarmOwnedQuerySet):
    """A farm's own cultivars, and those shared by all."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = super()._reach(caller, kind)
        return reach | Q(farm__isnull=True) if kind == "reads" else reach

    def usable_on(self, farm_id: Any) -> Self:
        return self.filter(Q(farm__isnull=True) | Q(farm_id=farm_id))


class TreeQuerySet(FarmOwnedQuerySet):
    def standing_on(self, day: dt.date) -> Self:
        """Trees planted by then and not yet removed."""
        return self.filter(
            Q(planted_on__isnull=True) | Q(planted_on__lte=day),
            Q(removed_on__isnull=True) | Q(removed_on__gt=day),
        )


class FarmOrCoOpQuerySet(FarmOwnedQuerySet):
    """Rows that belong to a farm or to a co-op: seen and changed by their owner's people."""

    co_op_path = "co_op_id"

    def _reach(self, caller: Caller, kind: str) -> Q:
        owners = {f"{self.co_op_path}__in": caller.co_ops_with(kind, self.area)}
        return super()._reach(caller, kind) | Q(**owners)

    def _limited(self, caller: Caller) -> Combinable:
        owned = Q(**{f"{self.co_op_path}__in": list(caller.co_ops)})
        return models.Case(models.When(owned, then=Value(False)), default=super()._limited(caller))


class LotQuerySet(FarmOrCoOpQuerySet):
    """Lots are also seen by the farms whose fruit is in them: of its lines, by each its own."""

    def visible_to(self, caller: Caller) -> Self:
        lines = apps.get_model("records", "LotLine").objects.visible_to(caller)
        seen = super().visible_to(caller).prefetch_related(models.Prefetch("lines", lines))
        return seen.annotate(of_others=self._of_others(caller))

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = super()._reach(caller, kind)
        if kind == "reads":
            reach |= Q(_packed_from(caller.farms_with(kind, self.area)))
        return reach

    def _limited(self, caller: Caller) -> Combinable:
        """Fruit in a co-op's lot is followed as its farm's own rights allow."""
        farms = set(caller.unlimited_farms) & set(caller.farms_with("reads", self.area))
        own = Q(_packed_from(farms), co_op__isnull=False)
        return models.Case(models.When(own, then=Value(False)), default=super()._limited(caller))

    def _of_others(self, caller: Caller) -> Combinable:
        """Whether a co-op of which the caller is no staff packed it."""
        if caller.is_platform_admin:
            return Value(False)
        others = Q(co_op__isnull=False) & ~Q(co_op_id__in=list(caller.co_ops))
        return models.Case(models.When(others, then=Value(True)), default=Value(False))


def _packed_from(farms: Iterable[Any]) -> Exists:
    lines = apps.get_model("records", "LotLine")._base_manager
    return Exists(lines.filter(lot_id=OuterRef("pk"), farm_id__in=list(farms)))


class LotLineQuerySet(FarmOrCoOpQuerySet):
    """A line is seen by the packer and by the farm whose fruit it is."""

    co_op_path = "lot__co_op_id"

    def _own(self, person_id: UUID) -> Q:
        return Q(lot__created_by_id=person_id)


class TraceCoverageQuerySet(FarmOrCoOpQuerySet):
    """What a co-op says of a species is seen by its members too; a worker says nothing."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = super()._reach(caller, kind)
        if kind == "reads":
            members = apps.get_model("records", "Membership")._base_manager.filter(
                co_op_id=OuterRef("co_op_id"), farm_id__in=caller.farms_with(kind, self.area)
            )
            reach |= Q(Exists(members))
        return reach

    def _own(self, person_id: UUID) -> Q:
        return Q(pk__in=[])

    def _limited(self, caller: Caller) -> Combinable:
        """Nothing of an entry is kept from who sees it."""
        return Value(False)


class WeatherStationQuerySet(FarmOrCoOpQuerySet):
    """Stations are also seen by the farms that go by them."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = super()._reach(caller, kind)
        return reach | Q(_station_use(caller, station="pk")) if kind == "reads" else reach


class WeatherDayQuerySet(FarmOrCoOpQuerySet):
    """Days are also seen by the farms that went by the station on them."""

    farm_path = "station__farm_id"
    co_op_path = "station__co_op_id"

    def _reach(self, caller: Caller, kind: str) -> Q:
        reach = super()._reach(caller, kind)
        return (
            reach | Q(_station_use(caller, station="station", day="day"))
            if kind == "reads"
            else reach
        )

    def kept(self) -> Self:
        return self.filter(retired_on__isnull=True)


def _station_use(caller: Caller, *, station: str, day: str | None = None) -> Exists:
    """A farm of the caller's goes by the station (on the row's day)."""
    condition = Q(
        station_id=OuterRef(station), farm_id__in=caller.farms_with("reads", Area.WEATHER)
    )
    if day is not None:
        condition &= Q(starts_on__isnull=True) | Q(starts_on__lte=OuterRef(day))
        condition &= Q(ends_on__isnull=True) | Q(ends_on__gte=OuterRef(day))
    return Exists(apps.get_model("records", "StationUse")._base_manager.filter(condition))


class HarvestWeightQuerySet(FarmOwnedQuerySet):
    def kept(self) -> Self:
        """Weighings that count: not retired by a later file."""
        return self.filter(retired_on__isnull=True)


class FileQuerySet(FarmOwnedQuerySet):
    """Members' files, and how they are read: of kinds whose records are the caller's too."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        within = Q(pk__in=[])
        for area in set(IMPORTED.values()):
            kinds = [name for name, of in IMPORTED.items() if of == area]
            reach = Q(farm_id__in=caller.farms_with(kind, area))
            if caller.co_ops_with(kind, area):
                shared = _shared(caller, kind, area)
                reach |= Q(_membership(shared, farm="farm_id", day=None))
            within |= Q(kind__in=kinds) & reach
        return super()._reach(caller, kind) & within


class HarvestImportQuerySet(FileQuerySet):
    """Files of many farms are their co-op's: no member sees what others' rows were in one."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        co_ops = set(caller.co_ops_with(kind, Area.IMPORT))
        co_ops &= set(caller.co_ops_with(kind, Area.HARVEST))
        return super()._reach(caller, kind) | Q(farm__isnull=True, co_op_id__in=co_ops)

    def _limited(self, caller: Caller) -> Combinable:
        owned = Q(farm__isnull=True, co_op_id__in=list(caller.co_ops))
        return models.Case(models.When(owned, then=Value(False)), default=super()._limited(caller))


class MembershipQuerySet(FarmOwnedQuerySet):
    """Seen by the co-op's staff and the farm's people; changed by platform admins only."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        if kind == "writes":
            return Q(pk__in=[])
        return Q(farm__in=caller.farms_with(kind, self.area)) | Q(
            co_op__in=caller.co_ops_with(kind, self.area)
        )

    def on(self, day: dt.date) -> Self:
        return self.filter(Q(ends_on__isnull=True) | Q(ends_on__gte=day), starts_on__lte=day)


class GradeMappingQuerySet(FarmOwnedQuerySet):
    """A co-op sees what grades count as among its own, not among another co-op's."""

    def _reach(self, caller: Caller, kind: str) -> Q:
        within = Q(farm__in=caller.farms_with(kind, self.area)) | Q(
            co_op_grade__co_op__in=caller.co_ops_with(kind, self.area)
        )
        return super()._reach(caller, kind) & within


class ReferenceQuerySet(models.QuerySet[Any]):
    """Reference data: seen by everyone, changed by platform admins."""

    def visible_to(self, caller: Caller) -> Self:
        return self.annotate(limited=Value(False))

    def writable_by(self, caller: Caller) -> Self:
        return self if caller.is_platform_admin else self.none()


class CoOpQuerySet(ReferenceQuerySet):
    """A co-op is seen by its staff, its apps and its members."""

    path = ""

    def visible_to(self, caller: Caller) -> Self:
        seen = super().visible_to(caller)
        if caller.is_platform_admin:
            return seen
        members = apps.get_model("records", "Membership")._base_manager.filter(
            co_op_id=OuterRef(f"{self.path}id" if not self.path else f"{self.path}_id"),
            farm_id__in=caller.farms_with("reads", Area.PLACE),
        )
        key = f"{self.path}_id__in" if self.path else "id__in"
        return seen.filter(Q(**{key: list(caller.co_ops)}) | Q(Exists(members)))


class CoOpGradeQuerySet(CoOpQuerySet):
    path = "co_op"

    def writable_by(self, caller: Caller) -> Self:
        if caller.is_platform_admin:
            return self
        return self.filter(co_op_id__in=caller.co_ops_with("writes", Area.HARVEST))


class TokenQuerySet(models.QuerySet[Any]):
    """Tokens are seen and revoked by whoever may issue them."""

    def visible_to(self, caller: Caller) -> Self:
        seen = self.annotate(limited=Value(False))
        if caller.is_platform_admin:
            return seen
        return seen.filter(
            Q(farm_id__in=caller.farms_with("writes", Area.PEOPLE))
            | Q(co_op_id__in=caller.co_ops_with("writes", Area.PEOPLE))
        )

    def writable_by(self, caller: Caller) -> Self:
        return self.visible_to(caller)

    def usable(self, now: dt.datetime) -> Self:
        return self.filter(expires_at__gt=now, revoked_at__isnull=True)


class InvitationQuerySet(models.QuerySet[Any]):
    """Invitations are seen and made by whoever says who works on the farm or for the co-op.

    While a member farm has nobody, the co-op's staff may invite its owner.
    """

    def visible_to(self, caller: Caller) -> Self:
        seen = self.annotate(limited=Value(False))
        if caller.is_platform_admin:
            return seen
        co_ops = caller.co_ops_with("writes", Area.PEOPLE)
        of_members = Q(co_op_id__in=co_ops, ends_on__isnull=True)
        return seen.filter(
            Q(farm_id__in=caller.farms_with("writes", Area.PEOPLE))
            | Q(co_op_id__in=co_ops)
            | Q(_membership(of_members, farm="farm_id", day=None), _nobody("farm_id"), role="owner")
        )

    def writable_by(self, caller: Caller) -> Self:
        return self.visible_to(caller)

    def open_at(self, now: dt.datetime) -> Self:
        return self.filter(expires_at__gt=now, revoked_at=None, accepted_at=None)


def _nobody(farm: str) -> Q:
    """Nobody has ever had a role on the row's farm."""
    roles = apps.get_model("records", "FarmRole")._base_manager
    return ~Q(Exists(roles.filter(farm_id=OuterRef(farm))))


class PersonQuerySet(models.QuerySet[Any]):
    """People are seen by themselves and by whoever sees the roles on a farm of theirs."""

    def visible_to(self, caller: Caller) -> Self:
        seen = self.annotate(limited=Value(False))
        if caller.is_platform_admin:
            return seen
        roles = apps.get_model("records", "FarmRole")._base_manager.filter(
            person_id=OuterRef("pk"), farm_id__in=caller.farms_with("reads", Area.PEOPLE)
        )
        return seen.filter(Q(pk=caller.person_id) | Exists(roles))


class OfImportQuerySet(models.QuerySet[Any]):
    """What an import tells of its rows: seen by whoever sees the import."""

    def visible_to(self, caller: Caller) -> Self:
        imports = apps.get_model("records", "HarvestImport").objects.visible_to(caller)
        return self.filter(harvest_import__in=imports.values("pk"))


class FileBatchQuerySet(models.QuerySet[Any]):
    """Seen by who sent it, or by the people of the co-op for which it was sent."""

    def visible_to(self, caller: Caller) -> Self:
        return self._behind(caller, "reads").annotate(limited=Value(False))

    def writable_by(self, caller: Caller) -> Self:
        return self._behind(caller, "writes")

    def _behind(self, caller: Caller, kind: str) -> Self:
        if caller.is_platform_admin:
            return self
        sender = Q(pk__in=[])
        if caller.person_id:
            sender |= Q(created_by_id=caller.person_id)
        if caller.token_id:
            sender |= Q(created_by_token_id=caller.token_id)
        own = sender & Q(co_op__isnull=True)
        return self.filter(own | Q(co_op_id__in=caller.co_ops_with(kind, Area.IMPORT)))


class BatchFileQuerySet(models.QuerySet[Any]):
    """Seen with its batch, once it has a farm only where that farm's files may be seen."""

    def visible_to(self, caller: Caller) -> Self:
        return self._behind("visible_to", "reads", caller).annotate(limited=Value(False))

    def writable_by(self, caller: Caller) -> Self:
        return self._behind("writable_by", "writes", caller)

    def _behind(self, door: str, kind: str, caller: Caller) -> Self:
        batches = getattr(apps.get_model("records", "FileBatch").objects.all(), door)(caller)
        farms = apps.get_model("records", "Farm").objects.all()
        held = farms.where_caller_may(kind, Area.IMPORT, caller)
        return self.filter(
            Q(farm__isnull=True) | Q(farm__in=held.values("pk")), batch__in=batches.values("pk")
        )
