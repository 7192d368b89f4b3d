"""What has been issued so far: ledgers of pools, and balances to carry forward."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import QuerySet

from planning.choices import PoolState, StatementLineKind
from planning.compute.settlement import (
    DEDUCTION_KEY,
    VALUE,
    Deduction,
    DeductionKind,
    Fruit,
    LineKind,
    Settled,
)
from planning.models import Pool, PoolDeduction, PoolGrade, Statement

# By member and key the sums over all lines, and the rest of the first; of what follows from a new
# worth of a kilo, the latest worth.
LEDGER = """
SELECT DISTINCT ON (statement.member_id, line.key)
       statement.member_id, line.key, sum(line.amount_minor) OVER one, sum(line.grams) OVER one,
       line.rate, line.statement_id, line.number, line.text,
       line.day, line.docket, line.block, line.cultivar, line.grade, line.basis
FROM planning_statementline line
JOIN planning_statement statement ON statement.id = line.statement_id
WHERE line.pool_id = %(pool)s AND line.kind <> %(carried)s
WINDOW one AS (PARTITION BY statement.member_id, line.key)
ORDER BY statement.member_id, line.key,
         CASE line.key WHEN %(value)s THEN -statement.number ELSE statement.number END
"""

Ledger = dict[str, Settled]


@dataclass(frozen=True, slots=True, kw_only=True)
class LastStatement:
    """A member's latest statement in a co-op and currency; below nothing is carried forward."""

    statement: UUID
    carried_out_minor: int


def ledgers_of(pool: Pool) -> dict[UUID, Ledger]:
    """What statements hold of a pool, by member."""
    found: dict[UUID, Ledger] = defaultdict(dict)
    params: dict[str, Any] = {"pool": pool.pk, "carried": StatementLineKind.CARRIED, "value": VALUE}
    with connection.cursor() as cursor:
        cursor.execute(LEDGER, params)
        for member_id, *values in cursor.fetchall():
            settled = _settled(*values)
            found[member_id][settled.key] = settled
    return dict(found)


def _settled(
    key: str,
    amount_minor: Any,
    grams: Any,
    rate: Any,
    statement: UUID,
    line: int,
    text: str,
    day: dt.date | None,
    *fruit: str,
) -> Settled:
    docket, block, cultivar, grade, basis = fruit
    return Settled(
        kind=LineKind.DEDUCTION if key.startswith(DEDUCTION_KEY) else LineKind.KILOS,
        key=key,
        amount_minor=int(amount_minor),
        grams=None if grams is None else int(grams),
        rate=rate,
        statement=str(statement),
        line=line,
        text=text,
        fruit=Fruit(
            day=day, docket=docket, block=block, cultivar=cultivar, grade=grade, basis=basis
        ),
    )


def issued_pools(pool: Pool) -> QuerySet[Pool]:
    """The other issued pools of its co-op, in the order of their issue."""
    issued = Pool.objects.filter(co_op_id=pool.co_op_id, state=PoolState.ISSUED)
    return issued.exclude(pk=pool.pk).select_related("co_op").order_by("issued_at", "pk")


def last_statements(pool: Pool) -> dict[UUID, LastStatement]:
    """By member, of the pool's co-op and currency."""
    rows = (
        Statement.objects.filter(co_op_id=pool.co_op_id, currency=pool.currency)
        .order_by("member_id", "-number")
        .distinct("member_id")
        .values_list("member_id", "pk", "carried_out_minor")
    )
    return {
        member_id: LastStatement(statement=pk, carried_out_minor=carried)
        for member_id, pk, carried in rows
    }


def last_numbers(pool: Pool) -> dict[UUID, int]:
    """The number of each member's latest statement in the co-op, in whatever currency."""
    rows = Statement.objects.filter(co_op_id=pool.co_op_id).order_by("member_id", "-number")
    return dict(rows.distinct("member_id").values_list("member_id", "number"))


def grades_of(pools: Iterable[Pool]) -> dict[UUID, list[UUID]]:
    """The co-op grades that each pool pays for."""
    found: dict[UUID, list[UUID]] = defaultdict(list)
    for link in PoolGrade.objects.filter(pool__in=[pool.pk for pool in pools]):
        found[link.pool_id].append(link.co_op_grade_id)
    return found


def deductions_of(pools: Iterable[Pool]) -> dict[UUID, list[Deduction]]:
    """By pool, in the order in which they were entered."""
    found: dict[UUID, list[Deduction]] = defaultdict(list)
    rows = PoolDeduction.objects.filter(pool__in=[pool.pk for pool in pools])
    for row in rows.order_by("created_at", "pk"):
        found[row.pool_id].append(
            Deduction(
                key=f"{DEDUCTION_KEY}{row.pk}",
                kind=DeductionKind(row.kind),
                rate=row.rate,
                what_for=row.what_for,
                member=str(row.member_id) if row.member_id else None,
            )
        )
    return found
