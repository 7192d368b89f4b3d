"""Statements as text, for paper and terminal."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace

from planning.compute.settlement import (
    DeductionKind,
    Fruit,
    Heading,
    Line,
    LineKind,
    printed,
)
from planning.models import Pool, Statement, StatementLine
from planning.services.settlement.drafts import DraftStatement


def printed_statement(statement: Statement) -> list[str]:
    """An issued statement, as lines of text; the day of issue is that of UTC."""
    rows = statement.lines.select_related("adjusts_statement", "pool").order_by("number")
    issued_on = statement.issued_at.astimezone(dt.UTC).date()
    heading = _heading(
        statement.pool,
        code=statement.member_code,
        name=statement.member_name,
        number=statement.number,
        issued_on=issued_on,
    )
    return printed(heading, [_line(row) for row in rows])


def printed_draft(pool: Pool, statement: DraftStatement) -> list[str]:
    """A statement as it would be issued now."""
    heading = _heading(
        pool,
        code=statement.member.code,
        name=statement.member.name,
        number=statement.number,
        issued_on=None,
    )
    return printed(heading, named(statement))


def named(statement: DraftStatement) -> list[Line]:
    """Its lines, with pools by name, and earlier statements by their members' codes and numbers."""
    ids = {line.adjusts_statement for line in statement.lines if line.adjusts_statement}
    names = {str(row.pk): str(row) for row in Statement.objects.filter(pk__in=ids)}
    pools = Pool.objects.filter(pk__in={line.pool for line in statement.lines})
    names |= {str(row.pk): str(row) for row in pools}
    return [_named(line, names) for line in statement.lines]


def _named(line: Line, names: Mapping[str, str]) -> Line:
    statement = line.adjusts_statement and names[line.adjusts_statement]
    return replace(line, pool=names[line.pool], adjusts_statement=statement)


def _heading(
    pool: Pool, *, code: str, name: str, number: int, issued_on: dt.date | None
) -> Heading:
    return Heading(
        co_op=pool.co_op.name,
        member_code=code,
        member_name=name,
        number=number,
        pool=pool.name,
        from_on=pool.starts_on,
        until_on=pool.ends_on,
        currency=pool.currency,
        issued_on=issued_on,
    )


def _line(row: StatementLine) -> Line:
    return Line(
        kind=LineKind(row.kind),
        key=row.key,
        amount_minor=row.amount_minor,
        grams=row.grams,
        containers=row.containers,
        rate=row.rate,
        deduction=DeductionKind(row.deduction) if row.deduction else None,
        text=row.text,
        fruit=Fruit(
            day=row.day,
            docket=row.docket,
            block=row.block,
            cultivar=row.cultivar,
            grade=row.grade,
            basis=row.basis,
        ),
        pool=row.pool.name,
        adjusts_statement=str(row.adjusts_statement) if row.adjusts_statement else None,
        adjusts_line=row.adjusts_line,
    )
