"""Minutes of work on blocks, by kind and season. A round, a count or a picking is its own work.

Minutes of picking are on the weighings themselves, and come with them.
"""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import F, QuerySet, Sum, Value

from planning.queries.memberships import in_membership
from planning.queries.stands import Place
from planning.queries.years import ALL_YEARS, Years
from records.calendars import Calendar
from records.choices import TaskKind
from records.models import FruitCount, PollinationRound, TaskLog

PICKING = "picking"
POLLINATION = "pollination"
KEYS = ("farm_id", "block_id", "day", "work")


@dataclass(slots=True, kw_only=True)
class Work:
    """Minutes of one block and season by kind of work, and the first day of any."""

    farm_id: UUID
    first_on: dt.date
    minutes: Counter[str] = field(default_factory=Counter)


def timed_work(
    farm_ids: Collection[UUID],
    seasons: Calendar,
    co_op_id: UUID | None = None,
    years: Years = ALL_YEARS,
) -> dict[Place, Work]:
    """Work of some seasons whose minutes are recorded, in three queries.

    For a co-op, only of the days on which a member shared all it records.
    """
    found: dict[Place, Work] = {}
    for farm_id, block_id, day, kind, minutes in _rows(farm_ids, co_op_id, years):
        place = block_id, seasons.season_of(farm_id, block_id, day).year
        if place[1] not in years:
            continue
        work = found.setdefault(place, Work(farm_id=farm_id, first_on=day))
        work.first_on = min(work.first_on, day)
        work.minutes[kind] += minutes
    return found


def _rows(farm_ids: Collection[UUID], co_op_id: UUID | None, years: Years) -> Iterable[Any]:
    for rows, day, work in (
        (TaskLog.objects, "done_on", F("kind")),
        (PollinationRound.objects, "pollinated_on", Value(POLLINATION)),
        (FruitCount.objects, "counted_on", Value(TaskKind.COUNTING.value)),
    ):
        timed = rows.filter(farm_id__in=farm_ids, retired_on__isnull=True, minutes__gt=0)
        shared = in_membership(timed, co_op_id, day, shares_all=True)
        yield from _totals(years.rows(shared, day), day, work)


def _totals(rows: QuerySet[Any], day: str, work: Any) -> Iterable[Any]:
    grouped = rows.annotate(day=F(day), work=work).values(*KEYS).annotate(total=Sum("minutes"))
    return grouped.order_by(*KEYS).values_list(*KEYS, "total")
