"""Summaries after 1,000 changed weighings, against a season's rebuild by the same code."""

import datetime as dt
from collections.abc import Callable
from statistics import median
from typing import Any

from django.db import connection, transaction

from planning.models import (
    DayRollUp,
    MemberDays,
    MemberRollUp,
    SeasonSummary,
    SeenRecords,
    StaleSeason,
)
from planning.services.roll_ups import UNPACKED
from planning.services.season_summaries import (
    chunks,
    rebuild_co_op,
    rebuild_farms,
    refresh_co_op,
    refresh_farm,
    refresh_member,
)
from records.models import CoOp, Farm
from tests.bench.frame import Bench, seconds
from tests.bench.harvests import A_SEASON, grow
from tests.conftest import owner_of

GOAL = 1 / 30
CHANGED = 1_000  # weighings, of as few farms as have so many
TODAY = dt.date(2003, 1, 1)
RUNS = 2
DERIVED = (SeasonSummary, MemberDays, MemberRollUp, DayRollUp, SeenRecords, StaleSeason)
CHANGE = """
UPDATE records_harvestweight SET net_g = net_g + 1 WHERE id IN (
    SELECT id FROM records_harvestweight WHERE farm_id = ANY(%s) ORDER BY farm_id, id LIMIT %s
)
"""
UNTOLD = "{id,version,created_at,updated_at,fingerprint,tick}"
ROWS = "SELECT count(*), sum(hashtextextended((to_jsonb(t) - %s::text[])::text, 0)) FROM {} t"
DAYS = f"""
SELECT count(*), sum(hashtextextended(
    concat_ws('/', m.member_id, m.season_year, m.basis, d::text), 0
))
FROM {MemberDays._meta.db_table} m, {UNPACKED}
"""


def test_a_refresh_costs_a_fraction_of_a_rebuild(bench: Bench, committed: None) -> None:
    farms = bench.size(1_000, 6)
    co_op = grow(farms, 1, weighings=bench.size(A_SEASON, 20))
    changed = bench.size(CHANGED, 10)
    few = -(-changed // A_SEASON)
    ids = sorted(Farm.objects.values_list("pk", flat=True))
    limits, own = [_from_empty(lambda: rebuild(co_op))], []
    for run in range(RUNS if bench.is_full else 1):
        some = ids[run * few : (run + 1) * few]
        change(some, changed)
        own.append(seconds(lambda some=some: refresh(co_op, some)))  # type: ignore[misc]
        refreshed = stored()
        limits.append(_from_empty(lambda: rebuild(co_op)))
        assert refreshed == stored()
    bench.note_at_most(
        GOAL,
        f"summaries after {changed:,} changed weighings of {few} farms, {farms:,} farms' rebuild",
        median(limits),
        median(own),
    )


def rebuild(co_op: CoOp) -> None:
    for chunk in chunks(sorted(Farm.objects.values_list("pk", flat=True))):
        rebuild_farms(chunk, lambda _: TODAY)
    rebuild_co_op(co_op.pk, lambda _: TODAY)


def refresh(co_op: CoOp, farm_ids: list[Any]) -> None:
    """What the jobs of the changed farms do, and then that of their co-op."""
    for farm_id in farm_ids:
        refresh_farm(farm_id, TODAY)
        refresh_member(co_op.pk, farm_id, TODAY)
    refresh_co_op(co_op.pk, lambda _: TODAY)


def change(farm_ids: list[Any], number: int) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(CHANGE, [farm_ids, number])
        assert cursor.rowcount == number


def stored() -> list[tuple[Any, ...]]:
    """How many rows there are, and a digest of what they say."""
    found = []
    with connection.cursor() as cursor:
        for model in (SeasonSummary, MemberRollUp, DayRollUp):
            cursor.execute(ROWS.format(model._meta.db_table), [UNTOLD])
            found.append(cursor.fetchone())
        cursor.execute(DAYS)
        found.append(cursor.fetchone())
    assert all(number for number, _ in found)
    return found


def _from_empty(work: Callable[[], object]) -> float:
    tables = ", ".join(model._meta.db_table for model in DERIVED)
    with owner_of(connection.settings_dict["NAME"]) as database:
        database.execute(f"TRUNCATE {tables}")
    return seconds(work)
