"""Which rows of fruit each pool of a co-op takes: a row is never taken twice.

Issued pools take theirs in the order of their issue, each leaving alone what an earlier one takes.
So a weighing that is graded anew into the fruit of two issued pools is paid by the first of them.
"""

from dataclasses import dataclass, field
from uuid import UUID

from planning.compute.settlement import Row
from planning.models import Pool
from planning.queries.ledgers import grades_of, issued_pools
from planning.queries.payable import RowsByMember, payable_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a pool would take, whatever others do; and what each issued one takes."""

    own: RowsByMember
    rows: dict[Pool, RowsByMember] = field(default_factory=dict)
    by: dict[str, Pool] = field(default_factory=dict)  # who takes a row, by its key


def what_pools_take(pool: Pool) -> Taken:
    """As of now, of a pool and of every other that its co-op has issued."""
    issued = list(issued_pools(pool))
    grades = grades_of([pool, *issued])
    taken = Taken(own=payable_rows(pool, grades[pool.pk]))
    for other in issued:
        rows = payable_rows(other, grades[other.pk])
        taken.rows[other] = {
            member: left
            for member, each in rows.items()
            if (left := [row for row in each if row.key not in taken.by])
        }
        _note(taken, other)
    return taken


def _note(taken: Taken, pool: Pool) -> None:
    for rows in taken.rows[pool].values():
        taken.by.update((row.key, pool) for row in rows)


def rows_in_both(taken: Taken) -> dict[Pool, list[Row]]:
    """The pool's rows that an issued one takes, by that one."""
    found: dict[Pool, list[Row]] = {}
    for rows in taken.own.values():
        for row in rows:
            if row.key in taken.by:
                found.setdefault(taken.by[row.key], []).append(row)
    return found


def members_of_both(taken: Taken, pool: Pool) -> set[UUID]:
    return {*taken.own} & {*taken.rows[pool]}
