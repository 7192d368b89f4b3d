"""A season of weighings of many members of a co-op, made from a seed."""

from typing import Any

from django.db import connection

from records.models import CoOp
from tests.bench.orchards import BLOCKS, FARMS, LINES, TREES
from tests.cast import make_cultivar
from tests.conftest import owner_of

SEED = 20261125
A_SEASON = 420  # weighings of a farm
BLOCKS_A_FARM = 6
CULTIVARS = ("Ondrela", "Tamisca", "Quervane")

MEMBERS = """
INSERT INTO records_membership (id, farm_id, co_op_id, starts_on, shares, staff_may_edit,
                                is_associate)
SELECT uuidv7(), id, %(co_op)s, '2000-01-01', 'all', false, false FROM records_farm
"""
GRADES = """
INSERT INTO records_grade (id, farm_id, code, name, is_marketable, cull_reason)
SELECT uuidv7(), farm.id, grade.code, '', grade.code = 'A',
       CASE grade.code WHEN 'A' THEN '' ELSE 'split' END
FROM records_farm farm, (VALUES ('A'), ('C')) grade (code)
"""
CO_OP_GRADES = """
INSERT INTO records_coopgrade (id, co_op_id, code, name, is_marketable)
SELECT uuidv7(), %(co_op)s, grade.code, '', grade.code = 'A'
FROM (VALUES ('A'), ('C')) grade (code)
"""
MAPPINGS = """
INSERT INTO records_grademapping (id, farm_id, grade_id, co_op_grade_id, applies_from)
SELECT uuidv7(), own.farm_id, own.id, grade.id, '2000-01-01'
FROM records_grade own JOIN records_coopgrade grade USING (code)
"""
# Over a hundred days; every fifth weighing is counted too, and every seventh only counted.
WEIGHINGS = """
INSERT INTO records_harvestweight (
    id, farm_id, block_id, picked_on, weight, unit, weight_kind, fruit_count, net_g, grade_id,
    cultivar_id, crop_chosen_by, docket, ticket, pickers, note, minutes, tick
)
SELECT uuidv7(), farm_id, block_id, date '2026-08-01' + n * 100 / %(each)s::int,
       CASE WHEN h %% 7 > 0 THEN g / 1000.0 END, CASE WHEN h %% 7 > 0 THEN 'kg' ELSE '' END, 'net',
       CASE WHEN h %% 5 = 0 OR h %% 7 = 0 THEN g / 300 + 1 END, CASE WHEN h %% 7 > 0 THEN g END,
       grades[1 + h %% 2], (%(cultivars)s::uuid[])[1 + h %% 3], 'date', '', '', '{}', '', 20, 1
FROM (
    SELECT block.farm_id, block.id AS block_id, n, h, 1000 + h %% 30000 AS g,
           ARRAY(SELECT id FROM records_grade WHERE farm_id = block.farm_id ORDER BY code) AS grades
    FROM records_block block, generate_series(0, %(each)s::int - 1) n,
         LATERAL (SELECT abs(hashtext(block.id::text || n || %(seed)s::text)) AS h) dice
) picked
"""
TABLE = "records_harvestweight"


def pick(farms: int, weighings: int = A_SEASON) -> CoOp:
    """A co-op of so many farms, and so many weighings of each, in an empty database."""
    co_op: CoOp = CoOp.objects.create(code="LARGE", name="The large co-op")
    values: dict[str, Any] = {
        "farms": farms,
        "blocks": BLOCKS_A_FARM,
        "co_op": co_op.pk,
        "cultivar": make_cultivar().pk,
        "trees": TREES,
        "cultivars": [make_cultivar(name).pk for name in CULTIVARS],
        "each": -(-weighings // BLOCKS_A_FARM),
        "seed": SEED,
    }
    with owner_of(connection.settings_dict["NAME"]) as database:
        for statement in (FARMS, BLOCKS, LINES, MEMBERS, GRADES, CO_OP_GRADES, MAPPINGS):
            database.execute(statement, values)
        # Neither audit nor change feed is what is measured.
        database.execute(f"ALTER TABLE {TABLE} DISABLE TRIGGER USER")
        database.execute(WEIGHINGS, values)
        database.execute(f"ALTER TABLE {TABLE} ENABLE TRIGGER USER")
        database.execute("ANALYZE")
    return co_op
