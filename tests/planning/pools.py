"""Pools to settle, as co-op staff write them, and what their statements say."""

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from planning.models import Pool, PoolDeduction, Statement
from planning.services.settlement import issue, save_deduction, save_pool
from records.models import CoOp, CoOpGrade

NOW = dt.datetime(2026, 11, 20, 9, tzinfo=dt.UTC)


def make_pool(
    co_op: CoOp, name: str = "August", grades: Sequence[CoOpGrade] = (), **changes: Any
) -> Pool:
    """Of August 2026 at 2.40 EUR a kilo, unless told otherwise."""
    pays = {} if "amount" in changes else {"price_per_kg": Decimal("2.40")}
    facts = {"starts_on": dt.date(2026, 8, 1), "ends_on": dt.date(2026, 8, 31), "currency": "EUR"}
    return save_pool(Pool(**{"co_op": co_op, "name": name, **facts, **pays, **changes}), grades)


def september(co_op: CoOp, name: str = "September", **changes: Any) -> Pool:
    days = {"starts_on": dt.date(2026, 9, 1), "ends_on": dt.date(2026, 9, 30)}
    return make_pool(co_op, name, **{**days, **changes})


def keep_back(pool: Pool, kind: str, rate: str, **changes: Any) -> PoolDeduction:
    deduction = PoolDeduction(
        **{"pool": pool, "what_for": kind, "kind": kind, "rate": Decimal(rate), **changes}
    )
    return save_deduction(deduction)


def issued(pool: Pool) -> dict[str, Statement]:
    """Its statements, by member."""
    issue(pool, by=None, now=NOW)
    return {row.member_code: row for row in Statement.objects.filter(pool=pool)}


def lines_of(statement: Statement) -> list[tuple[str, int]]:
    """What each line is about, and its amount."""
    return [
        (line.docket or line.text, line.amount_minor) for line in statement.lines.order_by("number")
    ]
