"""Issuing a pool: its draft becomes statements, which never change again."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import connection, transaction
from uuid_utils.compat import uuid7

from planning.choices import PoolState
from planning.compute.settlement import Line
from planning.models import Pool, Statement, StatementLine
from planning.services.settlement.drafts import Draft, DraftStatement, draft
from planning.services.settlement.locking import lock_settlement

LINE_COLUMNS = (
    *("id", "statement_id", "number", "kind", "pool_id", "key", "amount_minor", "grams"),
    *("containers", "rate", "deduction", "text", "day", "docket", "block", "cultivar", "grade"),
    *("basis", "adjusts_statement_id", "adjusts_line"),
)


@transaction.atomic
def issue(pool: Pool, *, by: UUID | None, now: dt.datetime) -> Pool:
    """Store the pool's statements, all or none, and close the pool.

    Issues of one co-op follow each other. Raises ValidationError with every problem of the draft.
    """
    lock_settlement(pool.co_op_id)
    current: Pool = Pool.objects.select_for_update().get(pk=pool.pk)
    drafted = draft(current)
    if drafted.problems:
        raise ValidationError(_faults(drafted))
    current.state, current.issued_at, current.issued_by_id = PoolState.ISSUED, now, by
    current.basis = current.co_op.basis
    current.save()
    statements = [_statement(current, each, by, now) for each in drafted.statements]
    Statement.objects.bulk_create(statements)
    _copy_lines(
        row
        for statement, each in zip(statements, drafted.statements, strict=True)
        for row in _line_rows(statement.pk, each.lines)
    )
    return current


def _faults(drafted: Draft) -> dict[str, list[ValidationError]]:
    found: dict[str, list[ValidationError]] = {}
    for problem in drafted.problems:
        error = ValidationError(problem.text, code=problem.code)
        found.setdefault(problem.field, []).append(error)
    return found


def _statement(pool: Pool, each: DraftStatement, by: UUID | None, now: dt.datetime) -> Statement:
    return Statement(
        co_op_id=pool.co_op_id,
        pool=pool,
        member=each.member,
        number=each.number,
        member_code=each.member.code,
        member_name=each.member.name,
        currency=pool.currency,
        issued_at=now,
        issued_by_id=by,
        **asdict(each.totals),
    )


def _line_rows(statement_id: UUID, lines: Iterable[Line]) -> Iterator[tuple[Any, ...]]:
    """In the order of `LINE_COLUMNS`."""
    for number, line in enumerate(lines, start=1):
        fruit = line.fruit
        yield (
            *(uuid7(), statement_id, number, line.kind, line.pool, line.key),
            *(line.amount_minor, line.grams, line.containers, line.rate, line.deduction or ""),
            *(line.text, fruit.day, fruit.docket, fruit.block, fruit.cultivar, fruit.grade),
            *(fruit.basis, line.adjusts_statement, line.adjusts_line),
        )


def _copy_lines(rows: Iterable[tuple[Any, ...]]) -> None:
    cursor: Any
    names = ", ".join(f'"{name}"' for name in LINE_COLUMNS)
    with connection.cursor() as cursor:
        table = StatementLine._meta.db_table
        with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
