"""The payable kilos of a pool, weighing by weighing, as they are now.

A member's row counts on the basis by which its season goes (`planning.queries.kilos`), where it is
dated within the pool's days and a membership, of the pool's species, cultivar and co-op grades, and
payable (`planning.compute.bases.is_payable`). Only grams that met a scale are paid.

A row's key is its weighing, its intake, or its intake and grade. The containers of a sorted intake
stand on the heaviest of its payable grades, so that they are counted once.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from planning.compute.bases import Basis, is_payable
from planning.compute.settlement import Fruit, Row
from planning.models import Pool
from planning.queries.kilos import Relation, Whose, Window, kilos_of, whose_of
from records.models import CoOp

COLUMNS = (
    *("farm_id", "block_id", "cultivar_id", "species_id", "grade_id", "co_op_grade_id"),
    *("marketable", "day", "basis", "member_basis", "net_g", "docket", "row_id"),
)

ROWS = """
WITH payable AS (
    SELECT farm_id, block_id, cultivar_id, species_id, grade_id, co_op_grade_id, day, basis, docket,
           row_id, sum(net_g)::bigint AS grams,
           row_number() OVER (
               PARTITION BY basis, row_id ORDER BY sum(net_g) DESC, co_op_grade_id, grade_id
           ) AS nth
    FROM {kilos}
    WHERE basis = member_basis AND net_g > 0
      AND CASE marketable WHEN true THEN %(pays_marketable)s WHEN false THEN %(pays_culls)s
          ELSE %(pays_ungraded)s END
    GROUP BY farm_id, block_id, cultivar_id, species_id, grade_id, co_op_grade_id, day, basis,
             docket, row_id
)
SELECT payable.farm_id,
       CASE payable.basis WHEN 'packed'
           THEN concat_ws(':', payable.basis, payable.row_id,
                          coalesce(payable.co_op_grade_id, payable.grade_id))
           ELSE concat_ws(':', payable.basis, payable.row_id) END,
       payable.grams,
       CASE WHEN payable.nth = 1 THEN coalesce(weighing.containers, intake.containers) END,
       payable.day, payable.docket, coalesce(block.code, ''), coalesce(cultivar.name, ''),
       coalesce(co_op_grade.code, grade.code, ''), payable.basis
FROM payable
JOIN records_farm farm ON farm.id = payable.farm_id
LEFT JOIN records_harvestweight weighing
    ON payable.basis = 'picked' AND weighing.id = payable.row_id
LEFT JOIN records_intake intake ON payable.basis <> 'picked' AND intake.id = payable.row_id
LEFT JOIN records_block block ON block.id = payable.block_id
LEFT JOIN records_cultivar cultivar ON cultivar.id = payable.cultivar_id
LEFT JOIN records_coopgrade co_op_grade ON co_op_grade.id = payable.co_op_grade_id
LEFT JOIN records_grade grade ON grade.id = payable.grade_id
WHERE (%(cultivar)s::uuid IS NULL OR payable.cultivar_id = %(cultivar)s)
  AND (%(species)s::uuid IS NULL OR payable.species_id = %(species)s)
  AND (%(grades)s::uuid[] IS NULL OR payable.co_op_grade_id = ANY(%(grades)s))
ORDER BY farm.code, payable.day, payable.docket, 2
"""

RowsByMember = dict[UUID, list[Row]]


def payable_rows(pool: Pool, grades: Iterable[UUID]) -> RowsByMember:
    """By member, in the order of their codes; each one's rows by day and docket."""
    found: RowsByMember = defaultdict(list)
    kilos, params = _kilos(pool), _params(pool, list(grades))
    with whole_tables():
        rows = kilos.rows(ROWS, **params)
    for farm_id, *values in rows:
        found[farm_id].append(_row(*values))
    return dict(found)


@contextmanager
def whole_tables() -> Iterator[None]:
    """For a statement that reads most of a season: the planner may take it for a few rows, and is
    not to look up each of them by itself.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT set_config('enable_nestloop', 'off', true)")
        yield
        cursor.execute("SELECT set_config('enable_nestloop', 'on', true)")


def _kilos(pool: Pool) -> Relation:
    window = Window(first_on=pool.starts_on, last_on=pool.ends_on)
    return kilos_of(_whose(pool), window, COLUMNS)


def _whose(pool: Pool) -> Whose:
    """An issued pool keeps the basis that it was issued by."""
    co_op: CoOp = pool.co_op
    return replace(whose_of(co_op), chosen=Basis(pool.basis or co_op.basis))


def _params(pool: Pool, grades: Sequence[UUID]) -> dict[str, Any]:
    return {
        "pays_marketable": is_payable(True),
        "pays_culls": is_payable(False),
        "pays_ungraded": is_payable(None),
        "cultivar": pool.cultivar_id,
        "species": pool.species_id,
        "grades": grades or None,
    }


def _row(
    key: str,
    grams: int,
    containers: int | None,
    day: Any,
    docket: str,
    block: str,
    cultivar: str,
    grade: str,
    basis: str,
) -> Row:
    return Row(
        key=key,
        grams=grams,
        containers=containers,
        fruit=Fruit(
            day=day, docket=docket, block=block, cultivar=cultivar, grade=grade, basis=basis
        ),
    )
