"""A co-op's roll-ups, kept up in SQL: from kilos to members' days, and from these to all the rest.

Rows of a member's season are written anew whenever it is built, and those of the co-op's days
whenever one of its members' seasons has moved.
"""

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from django.db import connection

from planning.models import DayRollUp, MemberDays, MemberRollUp, StaleSeason
from planning.models.roll_ups import KEYS, SUMS
from planning.queries.kilos import Window, kilos_of, whose_of
from planning.queries.years import Years
from records.models import CoOp

# The arrays of a member's days, and the column of kilos that each of them packs.
PACKED = {
    "days": "day",
    "cultivar_ids": "cultivar_id",
    "grade_ids": "grade_id",
    "co_op_grade_ids": "co_op_grade_id",
    "reject_reasons": "reject_reason",
    "marketables": "marketable",
    "crop_names": "crop_name",
    "net_gs": "net_g",
    "estimated_gs": "estimated_g",
    "fruit_counts": "fruit_count",
    "counted_gs": "counted_g",
    "counted_fruits": "counted_fruit",
    "record_numbers": "records",
}
ASKED = ("farm_id", "season_year", "basis", "member_basis", "day", *KEYS, *SUMS)
ADDED = ", ".join(f"sum({name}) AS {name}" for name in SUMS)
TABLES = {
    "member_days": MemberDays._meta.db_table,
    "member_roll_up": MemberRollUp._meta.db_table,
    "day_roll_up": DayRollUp._meta.db_table,
}
UNPACKED = f"""
unnest({", ".join(f"m.{name}" for name in PACKED)}) AS d ({", ".join(PACKED.values())})
"""
PACK = f"""
INSERT INTO {TABLES["member_days"]} (co_op_id, member_id, season_year, basis, {", ".join(PACKED)})
SELECT %(co_op)s, farm_id, season_year, basis,
       {", ".join(f"array_agg({name})" for name in PACKED.values())}
FROM (
    SELECT farm_id, season_year, basis, day, {", ".join(KEYS)}, {ADDED}
    FROM {{kilos}} WHERE basis = member_basis
    GROUP BY farm_id, season_year, basis, day, {", ".join(KEYS)}
    ORDER BY farm_id, season_year, basis, day
) days
GROUP BY farm_id, season_year, basis
"""
OF_MEMBERS = f"""
INSERT INTO {TABLES["member_roll_up"]}
    (co_op_id, member_id, season_year, basis, {", ".join(KEYS)}, {", ".join(SUMS)})
SELECT m.co_op_id, m.member_id, m.season_year, m.basis, {", ".join(KEYS)}, {ADDED}
FROM {TABLES["member_days"]} m, {UNPACKED}
WHERE m.co_op_id = %(co_op)s AND m.member_id = ANY(%(members)s)
  AND m.season_year = ANY(%(years)s)
GROUP BY m.co_op_id, m.member_id, m.season_year, m.basis, {", ".join(KEYS)}
"""
DAY_KEYS = ", ".join(
    "CASE WHEN co_op_grade_id IS NULL THEN grade_id END" if name == "grade_id" else name
    for name in KEYS
)
OF_DAYS = f"""
INSERT INTO {TABLES["day_roll_up"]}
    (co_op_id, season_year, basis, day, {", ".join(KEYS)}, {", ".join(SUMS)})
SELECT m.co_op_id, m.season_year, m.basis, day, {DAY_KEYS}, {ADDED}
FROM {TABLES["member_days"]} m, {UNPACKED}
WHERE m.co_op_id = %(co_op)s AND m.season_year = %(year)s
GROUP BY m.co_op_id, m.season_year, m.basis, day, {DAY_KEYS}
"""


def store_members(
    co_op: CoOp, farm_ids: Collection[UUID], years: Years, with_fruit: Collection[int]
) -> set[int]:
    """Write members' seasons anew, those `with_fruit`; the years of them and of those that went."""
    days = years.of(MemberDays.objects.filter(co_op=co_op, member_id__in=farm_ids))
    went = set(days.values_list("season_year", flat=True))
    days.delete()
    years.of(MemberRollUp.objects.filter(co_op=co_op, member_id__in=farm_ids)).delete()
    if with_fruit:
        named = tuple(sorted(with_fruit))
        kilos = kilos_of(whose_of(co_op, farm_ids), Window(years=named), ASKED)
        _execute(PACK.format(kilos=f"({kilos.sql}) kilos"), **kilos.params)
        _execute(OF_MEMBERS, co_op=co_op.pk, members=list(farm_ids), years=list(named))
    return went.union(with_fruit)


def store_days(co_op_id: UUID, year: int) -> None:
    """Add up a season of all members, day by day."""
    DayRollUp.objects.filter(co_op_id=co_op_id, season_year=year).delete()
    _execute(OF_DAYS, co_op=co_op_id, year=year)


def mark_stale(co_op_id: UUID, years: Iterable[int]) -> None:
    StaleSeason.objects.bulk_create(
        StaleSeason(co_op_id=co_op_id, season_year=year) for year in sorted(years)
    )


def take_stale(co_op_id: UUID, year: int) -> None:
    """Forget the marks that are there now; the season is read after this."""
    StaleSeason.objects.filter(co_op_id=co_op_id, season_year=year).delete()


def stale_years(co_op_id: UUID) -> list[int]:
    marks = StaleSeason.objects.filter(co_op_id=co_op_id)
    return sorted(marks.values_list("season_year", flat=True).distinct())


def _execute(statement: str, **params: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, params)
