"""Many farms after their bloom, made from a seed: what next tasks are rebuilt from.

Every block has a pruning, a short bloom, a visit and a count, on days of its own, so that its
schedule has six tasks: these three, a second count, the picking, and the next pruning.
"""

import datetime as dt

from django.db import connection, transaction

from tests.cast import make_cultivar

SEED = 20260701
TODAY = dt.date(2026, 7, 1)
TREES = 40

FARMS = """
INSERT INTO records_farm (id, code, name, time_zone, latitude, longitude, season_start_month,
                          backdate_days, adviser_writes, decimal_mark, date_order, weight_unit,
                          business_name, phone, address)
SELECT uuidv7(), 'F' || n, 'Farm ' || n, 'Atlantic/Madeira', 32.7, -17.0, 1, 14, false, '', '', '',
       '', '', ''
FROM generate_series(1, %(farms)s) n
"""
BLOCKS = """
INSERT INTO records_block (id, farm_id, code, name, created_at)
SELECT uuidv7(), farm.id, 'B' || n, '', '2026-01-05'
FROM records_farm farm, generate_series(1, %(blocks)s) n
"""
LINES = """
INSERT INTO records_plantingline (id, farm_id, block_id, cultivar_id, rootstock, tree_count,
                                  non_bearing)
SELECT uuidv7(), farm_id, id, %(cultivar)s, '', %(trees)s, false FROM records_block
"""
# The days of a block follow from its place and the seed, in whatever order they are asked for.
DAYS = """
CREATE TEMPORARY TABLE days ON COMMIT DROP AS
SELECT id AS block_id, farm_id,
       date '2026-02-20' + (h & 1023) %% 30 AS pruned_on,
       date '2026-05-01' + (h >> 10 & 1023) %% 25 AS bloom_on
FROM (SELECT block.id, farm_id,
             hashtext(farm.code || block.code || %(seed)s::text) & 1048575 AS h
      FROM records_block block JOIN records_farm farm ON farm.id = farm_id) hashed
"""
PRUNINGS = """
INSERT INTO records_tasklog (id, farm_id, block_id, kind, done_on, note, people, details)
SELECT uuidv7(), farm_id, block_id, 'pruning', pruned_on, '', '{}', '{}' FROM days
"""
STAGES = """
INSERT INTO records_growthstage (id, farm_id, block_id, bbch, observed_on, trees_seen,
                                 trees_looked_at, note, people)
SELECT uuidv7(), farm_id, block_id, bbch, bloom_on + after, 10, 10, '', '{}'
FROM days, (VALUES ('60', 0), ('69', 2)) stages (bbch, after)
"""
COUNTS = """
INSERT INTO records_fruitcount (id, farm_id, block_id, counted_on, kind, counted, trees_looked_at,
                                fruit, thinned_because, note, people)
SELECT uuidv7(), farm_id, block_id, bloom_on + 20, 'initial', 'whole-trees', 10, 300, '', '', '{}'
FROM days
"""
BATCHES = """
INSERT INTO records_pollenbatch (id, farm_id, collected_at, collected_on, stage, name, note, people)
SELECT uuidv7(), id, '2026-05-01', '2026-05-01', 'male', '', '', '{}' FROM records_farm
"""
VISITS = """
INSERT INTO records_pollinationround (id, farm_id, block_id, cultivar_id, method, pollen_batch_id,
                                      is_bagged, pollinated_on, flowers, note, people)
SELECT uuidv7(), farm_id, block_id, %(cultivar)s, 'brush', batch.id, false, bloom_on + 1, 400, '',
       '{}'
FROM days JOIN records_pollenbatch batch USING (farm_id)
"""
EVERYTHING = (FARMS, BLOCKS, LINES, DAYS, PRUNINGS, STAGES, BATCHES, VISITS, COUNTS)


def plant(farms: int, blocks: int) -> None:
    """So many farms of so many blocks, in an empty database."""
    values = {
        "farms": farms,
        "blocks": blocks,
        "cultivar": make_cultivar().pk,
        "trees": TREES,
        "seed": SEED,
    }
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in EVERYTHING:
            cursor.execute(statement, values)
