"""Who of a co-op's members has sent this week, and who has not.

A week is that of ISO 8601: from Monday to Sunday of each farm's local date. What a file or an
entry counts for is the day on which it came, not the days that it tells of.
"""

import datetime as dt
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, OuterRef, Q, QuerySet, Subquery, Sum

from orchard.access import Area, Caller
from records.choices import BatchFileState, ImportState
from records.models import BatchFile, CoOp, Farm, HarvestImport, HarvestWeight, Membership

FIRST_YEAR, LAST_YEAR = 1970, 2999
# What is told of an import; what was found in it may be large.
READ = ("farm", "state", "file_name", "explanation", "rows_added", "rows_changed", "rows_unchanged")
WRITTEN = re.compile(r"(\d{4})-W(\d\d)", re.ASCII)


class Sent(StrEnum):
    """What a member did in a week, the most first."""

    LANDED = "landed"
    ENTERED_DIRECTLY = "entered-directly"
    NOT_IN = "not-in"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, order=True)
class Week:
    """A week of ISO 8601, written 2026-W37."""

    year: int
    number: int

    @classmethod
    def of(cls, day: dt.date) -> "Week":
        year, number, _ = day.isocalendar()
        return cls(year, number)

    @classmethod
    def read(cls, text: str) -> "Week":
        """ValueError where there is no such week."""
        found = WRITTEN.fullmatch(text)
        if found is None or not FIRST_YEAR <= int(found[1]) <= LAST_YEAR:
            raise ValueError(text)
        dt.date.fromisocalendar(int(found[1]), int(found[2]), 1)
        return cls(int(found[1]), int(found[2]))

    @property
    def monday(self) -> dt.date:
        return dt.date.fromisocalendar(self.year, self.number, 1)

    @property
    def sunday(self) -> dt.date:
        return self.monday + dt.timedelta(days=6)

    def shifted(self, weeks: int) -> "Week":
        return Week.of(self.monday + dt.timedelta(weeks=weeks))

    def __str__(self) -> str:
        return f"{self.year}-W{self.number:02}"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileNotIn:
    """A file that came and is not in: it waits for an answer, was refused, or was only checked."""

    harvest_import: UUID
    file_name: str
    state: str
    explanation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberWeek:
    """What came from one member in a week. Kilos are those of weighings with a scale weight."""

    farm: UUID
    farm_code: str
    sent: Sent
    files_landed: int
    rows_landed: int
    net_g: int
    rows_entered: int
    entered_net_g: int
    files_not_in: Sequence[FileNotIn]
    last_file_on: dt.date | None
    last_picked_on: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoOpWeek:
    """All members in force, by code; `unmatched_files` wait in batches to be told their farm."""

    week: Week
    members: Sequence[MemberWeek]
    unmatched_files: int


def awaited_files(co_op: CoOp, caller: Caller, *, week: Week, today: dt.date) -> CoOpWeek:
    """What the members in force today sent in a week, as far as the caller may see it."""
    farms = _members(co_op, caller, today)
    came = _Came.of(farms, caller, week)
    unmatched = BatchFile.objects.visible_to(caller).filter(
        batch__co_op=co_op, state=BatchFileState.QUESTION
    )
    return CoOpWeek(
        week=week,
        members=[came.member(farm) for farm in farms],
        unmatched_files=unmatched.count(),
    )


def sees_members_files(caller: Caller, co_op: CoOp) -> bool:
    """Whether the caller is of the co-op's staff, one of its apps, or a platform admin."""
    return caller.is_platform_admin or co_op.pk in caller.co_ops_with("reads", Area.IMPORT)


def clock_of(co_op: CoOp, today: dt.date) -> str:
    """The time zone of most of a co-op's members; a co-op has none of its own."""
    members = Membership.objects.filter(co_op=co_op).on(today)
    zones = Counter(members.values_list("farm__time_zone", flat=True))
    return min(zones, key=lambda zone: (-zones[zone], zone), default="UTC")


def _members(co_op: CoOp, caller: Caller, today: dt.date) -> list[Any]:
    """Farms with the latest picking day that the caller may see."""
    members = Membership.objects.visible_to(caller).filter(co_op=co_op).on(today)
    picked = HarvestWeight.objects.visible_to(caller).kept().filter(farm=OuterRef("pk"))
    latest = picked.order_by("-picked_on").values("picked_on")[:1]
    farms = Farm.objects.visible_to(caller).filter(
        pk__in=members.values("farm_id"), retired_on__isnull=True
    )
    return list(farms.annotate(last_picked_on=Subquery(latest)).order_by("code"))


# What came ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Came:
    """Everything that came from some farms in a week, by farm."""

    imports: dict[UUID, list[HarvestImport]] = field(default_factory=dict)
    net_g: dict[UUID, int] = field(default_factory=dict)  # by import
    entered: dict[UUID, tuple[int, int]] = field(default_factory=dict)
    last_file_at: dict[UUID, dt.datetime] = field(default_factory=dict)

    @classmethod
    def of(cls, farms: Sequence[Farm], caller: Caller, week: Week) -> "_Came":
        within = _within(farms, week)
        sent = HarvestImport.objects.visible_to(caller)
        came = list(_kept(sent.filter(within)).order_by("created_at").only(*READ))
        weights = HarvestWeight.objects.visible_to(caller).kept()
        return cls(
            imports=_by_farm(came),
            net_g=_net_of(weights, came),
            entered=_entered(weights.filter(within)),
            last_file_at=_last_files(sent.filter(farm__in=farms)),
        )

    def member(self, farm: Any) -> MemberWeek:
        files = self.imports.get(farm.pk, [])
        landed = [one for one in files if one.state == ImportState.LANDED]
        not_in = [one for one in files if one.state != ImportState.LANDED]
        rows_entered, entered_net_g = self.entered.get(farm.pk, (0, 0))
        last = self.last_file_at.get(farm.pk)
        return MemberWeek(
            farm=farm.pk,
            farm_code=farm.code,
            sent=_sent(landed, rows_entered, not_in),
            files_landed=len(landed),
            rows_landed=sum(map(_rows_of, landed)),
            net_g=sum(self.net_g.get(one.pk, 0) for one in landed),
            rows_entered=rows_entered,
            entered_net_g=entered_net_g,
            files_not_in=[_not_in(one) for one in not_in],
            last_file_on=last and last.astimezone(ZoneInfo(farm.time_zone)).date(),
            last_picked_on=farm.last_picked_on,
        )


def _within(farms: Iterable[Farm], week: Week) -> Q:
    """Rows of the farms made in the week, by the clock of each."""
    by_zone: dict[str, list[UUID]] = defaultdict(list)
    for farm in farms:
        by_zone[farm.time_zone].append(farm.pk)
    within = Q(pk__in=[])
    for zone, farm_ids in by_zone.items():
        starts, ends = (
            dt.datetime.combine(monday, dt.time.min, ZoneInfo(zone))
            for monday in (week.monday, week.shifted(1).monday)
        )
        within |= Q(farm_id__in=farm_ids, created_at__gte=starts, created_at__lt=ends)
    return within


def _kept(imports: QuerySet[Any]) -> QuerySet[Any]:
    """What was undone was not meant."""
    return imports.exclude(state=ImportState.UNDONE)


def _by_farm(imports: Iterable[HarvestImport]) -> dict[UUID, list[HarvestImport]]:
    by_farm: dict[UUID, list[HarvestImport]] = defaultdict(list)
    for one in imports:
        if one.farm_id is not None:
            by_farm[one.farm_id].append(one)
    return by_farm


def _net_of(weights: QuerySet[Any], imports: Iterable[HarvestImport]) -> dict[UUID, int]:
    landed = [one.pk for one in imports if one.state == ImportState.LANDED]
    rows = weights.filter(harvest_import__in=landed).order_by().values("harvest_import")
    return {row["harvest_import"]: row["total"] or 0 for row in rows.annotate(total=Sum("net_g"))}


def _entered(weights: QuerySet[Any]) -> dict[UUID, tuple[int, int]]:
    """Weighings that came by no file, by farm: how many, and their net grams."""
    rows = weights.filter(harvest_import__isnull=True).order_by().values("farm")
    counted = rows.annotate(count=Count("pk"), total=Sum("net_g"))
    return {row["farm"]: (row["count"], row["total"] or 0) for row in counted}


def _last_files(imports: QuerySet[Any]) -> dict[UUID, dt.datetime]:
    rows = _kept(imports).order_by().values("farm")
    return {row["farm"]: row["at"] for row in rows.annotate(at=Max("created_at"))}


def _sent(landed: Sequence[Any], rows_entered: int, not_in: Sequence[Any]) -> Sent:
    if landed:
        return Sent.LANDED
    if rows_entered:
        return Sent.ENTERED_DIRECTLY
    return Sent.NOT_IN if not_in else Sent.NOTHING


def _rows_of(landed: HarvestImport) -> int:
    counts = (landed.rows_added, landed.rows_changed, landed.rows_unchanged)
    return sum(count or 0 for count in counts)


def _not_in(one: HarvestImport) -> FileNotIn:
    return FileNotIn(
        harvest_import=one.pk,
        file_name=one.file_name,
        state=one.state,
        explanation=one.explanation,
    )
