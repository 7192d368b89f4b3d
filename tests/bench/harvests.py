"""Seasons of a large co-op's weighings, made from a seed by the database itself.

Each farm has its blocks, a crop on each in every season, three grades that count as the co-op's,
and weighings over a hundred days of picking, stored week by week as members' files bring them.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection

from records.models import CoOp, CoOpRole
from tests.bench.orchards import BLOCKS, FARMS
from tests.cast import make_cultivar, make_person
from tests.conftest import owner_of

SEED = 20260714
FIRST_YEAR = 2001
A_SEASON = 420  # weighings of a farm
BLOCKS_A_FARM = 10
CULTIVARS = ("Ondrela", "Tamisca", "Quervane", "Vasco Rim", "Lirona")

# Every tenth farm's seasons start in July, so that they are not the same days everywhere.
CALENDARS = """
UPDATE records_farm SET season_start_month = 7 WHERE right(code, 1) = '0'
"""
MEMBERS = """
INSERT INTO records_membership (id, farm_id, co_op_id, starts_on, shares, staff_may_edit,
                                is_associate)
SELECT uuidv7(), id, %(co_op)s, '2000-01-01', 'harvest', false, false FROM records_farm
"""
GRADES = """
INSERT INTO records_grade (id, farm_id, code, name, is_marketable, cull_reason)
SELECT uuidv7(), farm.id, grade.code, '', grade.code <> 'C',
       CASE grade.code WHEN 'C' THEN 'cracked' ELSE '' END
FROM records_farm farm, (VALUES ('A'), ('B'), ('C')) grade (code)
"""
CO_OP_GRADES = """
INSERT INTO records_coopgrade (id, co_op_id, code, name, is_marketable)
SELECT uuidv7(), %(co_op)s, code, '', code <> 'C' FROM (VALUES ('A'), ('B'), ('C')) grade (code)
"""
MAPPINGS = """
INSERT INTO records_grademapping (id, farm_id, grade_id, co_op_grade_id, applies_from)
SELECT uuidv7(), own.farm_id, own.id, grade.id, '2000-01-01'
FROM records_grade own JOIN records_coopgrade grade USING (code)
"""
CROPS = """
INSERT INTO records_crop (id, farm_id, block_id, name, opened_by, opened_on, bloom_began_on)
SELECT uuidv7(), farm_id, id, 'main', 'pruning', make_date(year, 7, 2), make_date(year, 7, 20)
FROM records_block, generate_series(%(first)s::int, %(last)s::int) year
"""
# A row of everything that a weighing of a season points at, by number.
PLACES = """
CREATE TEMPORARY TABLE places ON COMMIT DROP AS
SELECT block.farm_id, block.id AS block_id, crop.id AS crop_id,
       extract(year FROM crop.opened_on)::int AS year,
       ('{' || a.id || ',' || b.id || ',' || c.id || '}')::uuid[] AS grades,
       (%(cultivars)s::uuid[])[1 + abs(hashtext(block.id::text)) %% 5] AS cultivar_id
FROM records_block block
JOIN records_crop crop ON crop.block_id = block.id
JOIN records_grade a ON a.farm_id = block.farm_id AND a.code = 'A'
JOIN records_grade b ON b.farm_id = block.farm_id AND b.code = 'B'
JOIN records_grade c ON c.farm_id = block.farm_id AND c.code = 'C'
"""
WEIGHINGS = """
INSERT INTO records_harvestweight (
    id, farm_id, block_id, picked_on, weight, unit, weight_kind, fruit_count, net_g, grade_id,
    cultivar_id, crop_id, crop_chosen_by, docket, ticket, pickers, note, tick
)
SELECT uuidv7(), farm_id, block_id, picked_on, net_g / 1000.0, 'kg', 'net',
       CASE WHEN h %% 5 = 0 THEN net_g / 300 + 1 END, net_g, grades[1 + h %% 3],
       cultivar_id, crop_id, 'date', 'D' || h %% 100000, '', '{}', '', 1
FROM (
    SELECT places.*, make_date(year, 8, 1) + (n * 100 / %(number)s::int + h %% 3) AS picked_on,
           1000 + h %% 30000 AS net_g, h
    FROM places
    CROSS JOIN generate_series(0, %(number)s::int - 1) n
    CROSS JOIN LATERAL (
        SELECT abs(hashtext(block_id::text || n || %(seed)s::text)) AS h
    ) dice
    WHERE year = %(year)s::int
) picked
ORDER BY (picked_on - date '2001-01-01') / 7, farm_id
"""
TABLE = "records_harvestweight"


def grow(farms: int, seasons: int, *, weighings: int = A_SEASON) -> CoOp:
    """A co-op of so many farms, with its staff, in an empty database; see also `add_seasons`."""
    co_op: CoOp = CoOp.objects.create(code="LARGE", name="The large co-op")
    CoOpRole.objects.create(co_op=co_op, person=make_person("staff@large.example"))
    values = {"farms": farms, "blocks": BLOCKS_A_FARM, "co_op": co_op.pk}
    with owner_of(connection.settings_dict["NAME"]) as database:
        for statement in (FARMS, CALENDARS, BLOCKS, MEMBERS, GRADES, CO_OP_GRADES, MAPPINGS):
            database.execute(statement, values)
    add_seasons(0, seasons, weighings=weighings)
    return co_op


def add_seasons(known: int, seasons: int, *, weighings: int = A_SEASON) -> None:
    """Seasons after those known already; triggers, links and indexes are set aside meanwhile."""
    years = range(FIRST_YEAR + known, FIRST_YEAR + seasons)
    cultivars = [make_cultivar(name).pk for name in CULTIVARS]
    values: dict[str, Any] = {
        "first": years[0],
        "last": years[-1],
        "cultivars": cultivars,
        "number": weighings // BLOCKS_A_FARM,
        "seed": SEED,
    }
    with owner_of(connection.settings_dict["NAME"]) as database:
        database.execute(CROPS, values)
        with _set_aside(database):
            for year in years:
                with database.transaction():
                    database.execute(PLACES, values)
                    database.execute(WEIGHINGS, {**values, "year": year})
        database.execute("VACUUM ANALYZE")


CONSTRAINTS = """
SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint
WHERE conrelid = %s::regclass AND contype = 'f'
"""
INDEXES = """
SELECT indexname, indexdef FROM pg_indexes
WHERE tablename = %s AND indexname NOT IN (
    SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass
)
"""


@contextmanager
def _set_aside(database: Any) -> Iterator[None]:
    """Without what slows a load down; brought back afterwards."""
    links = database.execute(CONSTRAINTS, [TABLE]).fetchall()
    indexes = database.execute(INDEXES, [TABLE, TABLE]).fetchall()
    database.execute(f"ALTER TABLE {TABLE} DISABLE TRIGGER USER")
    for name, _ in links:
        database.execute(f'ALTER TABLE {TABLE} DROP CONSTRAINT "{name}"')
    for name, _ in indexes:
        database.execute(f'DROP INDEX "{name}"')
    try:
        yield
    finally:
        database.execute("SET maintenance_work_mem = '512MB'")
        for _, definition in indexes:
            database.execute(definition)
        for name, rule in links:
            database.execute(f'ALTER TABLE {TABLE} ADD CONSTRAINT "{name}" {rule} NOT VALID')
        database.execute(f"ALTER TABLE {TABLE} ENABLE TRIGGER USER")
