"""Intakes as daily totals: what packing sheds received, and what they found on sorting it."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum

from planning.compute.season_summary import Basis, DayTotal
from planning.queries.grades import GradeName, Naming
from planning.queries.memberships import in_membership
from planning.queries.years import ALL_YEARS, Years
from records.calendars import Calendar
from records.models import Intake, SortedWeight
from records.seasons import Season


@dataclass(slots=True, kw_only=True)
class Received:
    """Intakes of one farm, season, block and cultivar, as far as the shed knew these two.

    An intake knows no crop: its season is that of the day on which it was received. `counts`
    says how many `intakes` there are, and how many of them are `sorted`.
    """

    farm_id: UUID
    block_id: UUID | None
    season: Season
    cultivar_id: UUID | None
    days: dict[Basis, list[DayTotal]] = field(
        default_factory=lambda: {Basis.RECEIVED: [], Basis.PACKED: []}
    )
    counts: Counter[str] = field(default_factory=Counter)
    unmapped_grades: set[str] = field(default_factory=set)

    @property
    def first_on(self) -> dt.date:
        return min(day.day for day in self.days[Basis.RECEIVED])


KEYS = ("farm_id", "block_id", "cultivar_id", "received_on")
SORTED_KEYS = (
    *KEYS,
    "grade_id",
    "co_op_grade__code",
    "co_op_grade__is_marketable",
    "reject_reason",
)


def received(
    farm_ids: Collection[UUID],
    seasons: Calendar,
    naming: Naming,
    co_op_id: UUID | None = None,
    years: Years = ALL_YEARS,
) -> list[Received]:
    """Everything received in some seasons, in two queries.

    For a co-op, its members' intakes of the days of membership, by itself or a member's own
    shed; what another co-op received is none of its business.
    """
    intakes = years.rows(_kept(farm_ids, co_op_id), "received_on")
    found = _Found(seasons, years)
    for fruit, row in found.placed(_intake_rows(intakes)):
        fruit.days[Basis.RECEIVED].append(_day(row, GradeName(code=None, marketable=None)))
        fruit.counts.update(intakes=row.intakes, sorted=row.sorted)
    for fruit, row in found.placed(_sorted_rows(intakes)):
        grade = _grade(row, naming)
        fruit.days[Basis.PACKED].append(_day(row, grade))
        if not grade.is_mapped and grade.code:
            fruit.unmapped_grades.add(grade.code)
    return list(found.by_key.values())


def _kept(farm_ids: Collection[UUID], co_op_id: UUID | None) -> QuerySet[Intake]:
    intakes = Intake.objects.filter(farm_id__in=farm_ids, retired_on__isnull=True)
    if co_op_id is not None:
        intakes = intakes.filter(Q(co_op_id=co_op_id) | Q(co_op__isnull=True))
    return in_membership(intakes, co_op_id, "received_on")


class _Found:
    """Fruit by what tells it apart."""

    def __init__(self, seasons: Calendar, years: Years) -> None:
        self.seasons = seasons
        self.years = years
        self.by_key: dict[tuple[Any, ...], Received] = {}

    def placed(self, rows: Iterable[Any]) -> Iterator[tuple[Received, Any]]:
        """Rows of the seasons asked for, each with what it belongs to."""
        for row in rows:
            season = self.seasons.season_of(row.farm_id, row.block_id, row.received_on)
            if season.year in self.years:
                yield self._fruit(row, season), row

    def _fruit(self, row: Any, season: Season) -> Received:
        key = (row.farm_id, row.block_id, season.year, row.cultivar_id)
        if key not in self.by_key:
            self.by_key[key] = Received(
                farm_id=row.farm_id,
                block_id=row.block_id,
                season=season,
                cultivar_id=row.cultivar_id,
            )
        return self.by_key[key]


def _intake_rows(intakes: QuerySet[Intake]) -> Iterable[Any]:
    is_sorted = Exists(SortedWeight.objects.filter(intake_id=OuterRef("pk")))
    totals = {
        "total_g": Sum("net_g"),
        "intakes": Count("pk"),
        "sorted": Count("pk", filter=Q(is_sorted=True)),
    }
    grouped = intakes.annotate(is_sorted=is_sorted).values(*KEYS).annotate(**totals)
    return grouped.order_by("received_on").values_list(*KEYS, *totals, named=True)


def _sorted_rows(intakes: QuerySet[Intake]) -> Iterable[Any]:
    lines = SortedWeight.objects.filter(intake__in=intakes).annotate(
        block_id=F("intake__block_id"),
        cultivar_id=F("intake__cultivar_id"),
        received_on=F("intake__received_on"),
    )
    grouped = lines.values(*SORTED_KEYS).annotate(total_g=Sum("net_g"))
    return grouped.order_by("received_on", *SORTED_KEYS[4:]).values_list(
        *SORTED_KEYS, "total_g", named=True
    )


def _grade(row: Any, naming: Naming) -> GradeName:
    """A grade of the farm or of the co-op; rejects are culls, by their reason."""
    if row.grade_id:
        return naming(row.grade_id, row.received_on)
    if row.co_op_grade__code:
        return GradeName(code=row.co_op_grade__code, marketable=row.co_op_grade__is_marketable)
    return GradeName(code=f"rejects: {row.reject_reason}", marketable=False)


def _day(row: Any, grade: GradeName) -> DayTotal:
    return DayTotal(
        day=row.received_on,
        grade=grade.code,
        marketable=grade.marketable,
        net_g=row.total_g,
        estimated_g=0,
        fruit_count=0,
        net_g_with_count=0,
        count_with_weight=0,
    )
