"""Which cultivar and crop a weighing belongs to.

Cultivar: its trees', when they have one and the same; else as entered; else the block's, if it
has only one; else unknown. Kilos are never split by a tree's shares.

Crop: by picking date and block, unless a person chose it. A crop can be picked from its first
picking (or opening) until it is said to have ended, or until the next crop of its name opens on
the block. Where two crops can be picked on one day, the weighing stays unassigned.
"""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.db import connection

from records.models import HarvestWeight

# From `w` (weighings, stored or not yet) and `l` (their trees) to `resolved`. Every step carries a
# weighing's columns along, since a planner that takes `w` for a row or two, as it does of a block
# just filled, would join the steps to each other in nested loops.
WEIGHING = "w.id, w.block_id, w.picked_on, w.entered_cultivar_id, w.crop_id, w.crop_chosen_by"
RESOLVE = f"""
of_tree AS (
    SELECT {WEIGHING}, t.id AS tree_id,
           CASE WHEN count(g.id) = 0 THEN t.cultivar_id
                WHEN count(g.id) = 1 AND max(g.share_percent) = 100
                THEN min(g.cultivar_id::text)::uuid END AS cultivar_id
    FROM w
    LEFT JOIN l ON l.weight_id = w.id
    LEFT JOIN records_tree t ON t.id = l.tree_id
    LEFT JOIN records_graft g ON g.tree_id = t.id AND g.grafted_on <= w.picked_on
         AND (g.removed_on IS NULL OR g.removed_on > w.picked_on)
    GROUP BY {WEIGHING}, t.id
),
of_trees AS (
    SELECT {WEIGHING},
           CASE WHEN count(DISTINCT w.cultivar_id) = 1 AND bool_and(w.cultivar_id IS NOT NULL)
               THEN min(w.cultivar_id::text)::uuid END AS cultivar_id
    FROM of_tree w GROUP BY {WEIGHING}
),
days AS (SELECT DISTINCT block_id, picked_on FROM w),
bare_days AS (
    SELECT DISTINCT block_id, picked_on FROM of_trees
    WHERE cultivar_id IS NULL AND entered_cultivar_id IS NULL
),
standing AS (
    SELECT d.block_id, d.picked_on, c.cultivar_id
    FROM bare_days d JOIN records_tree t ON t.block_id = d.block_id
         AND (t.planted_on IS NULL OR t.planted_on <= d.picked_on)
         AND (t.removed_on IS NULL OR t.removed_on > d.picked_on)
    CROSS JOIN LATERAL (
        SELECT g.cultivar_id FROM records_graft g WHERE g.tree_id = t.id
            AND g.grafted_on <= d.picked_on AND (g.removed_on IS NULL OR g.removed_on > d.picked_on)
        UNION ALL
        SELECT t.cultivar_id WHERE coalesce((
            SELECT sum(g.share_percent) FROM records_graft g WHERE g.tree_id = t.id
            AND g.grafted_on <= d.picked_on
            AND (g.removed_on IS NULL OR g.removed_on > d.picked_on)), 0) < 100
    ) c
    UNION ALL
    SELECT d.block_id, d.picked_on, p.cultivar_id
    FROM bare_days d JOIN records_plantingline p ON p.block_id = d.block_id
         AND (p.ended_on IS NULL OR p.ended_on > d.picked_on)
    WHERE NOT EXISTS (SELECT FROM records_tree t WHERE t.block_id = d.block_id)
),
of_block AS (
    SELECT block_id, picked_on, min(cultivar_id::text)::uuid AS cultivar_id
    FROM standing GROUP BY block_id, picked_on
    HAVING count(DISTINCT cultivar_id) = 1 AND bool_and(cultivar_id IS NOT NULL)
),
spans AS (
    SELECT c.id, c.block_id, coalesce(c.picking_starts_on, c.opened_on) AS first_on,
           coalesce(c.picking_ends_on, lead(c.opened_on) OVER (
               PARTITION BY c.block_id, c.name ORDER BY c.opened_on) - 1) AS last_on
    FROM records_crop c WHERE c.block_id IN (SELECT block_id FROM days)
),
of_date AS (
    SELECT d.block_id, d.picked_on, min(s.id::text)::uuid AS crop_id
    FROM days d JOIN spans s ON s.block_id = d.block_id AND s.first_on <= d.picked_on
         AND (s.last_on IS NULL OR s.last_on >= d.picked_on)
    GROUP BY d.block_id, d.picked_on HAVING count(*) = 1
),
resolved AS (
    SELECT w.id, coalesce(w.cultivar_id, w.entered_cultivar_id, of_block.cultivar_id)
               AS cultivar_id,
           CASE WHEN w.crop_chosen_by = 'person' THEN w.crop_id ELSE of_date.crop_id END AS crop_id
    FROM of_trees w
    LEFT JOIN of_block USING (block_id, picked_on)
    LEFT JOIN of_date USING (block_id, picked_on)
)
"""

STORED = (
    """
WITH w AS MATERIALIZED (
    SELECT id, block_id, picked_on, entered_cultivar_id, crop_id, crop_chosen_by
    FROM records_harvestweight WHERE block_id = %s
),
l AS NOT MATERIALIZED (SELECT weight_id, tree_id FROM records_harvestweighttree),
"""
    + RESOLVE
    + """
UPDATE records_harvestweight AS h SET cultivar_id = r.cultivar_id, crop_id = r.crop_id
FROM resolved r
WHERE h.id = r.id
  AND (h.cultivar_id, h.crop_id) IS DISTINCT FROM (r.cultivar_id, r.crop_id)
"""
)

UNSAVED = (
    """
WITH w AS (
    SELECT %(id)s::uuid AS id, %(block)s::uuid AS block_id, %(picked_on)s::date AS picked_on,
           %(cultivar)s::uuid AS entered_cultivar_id, %(crop)s::uuid AS crop_id,
           %(chosen_by)s AS crop_chosen_by
),
l AS (SELECT %(id)s::uuid AS weight_id, unnest(%(trees)s::uuid[]) AS tree_id),
"""
    + RESOLVE
    + "SELECT cultivar_id, crop_id FROM resolved"
)


def attribute(weight: HarvestWeight, tree_ids: Iterable[UUID]) -> None:
    """Set the cultivar and crop of a weighing that is about to be saved."""
    values: dict[str, Any] = {
        "id": weight.pk,
        "block": weight.block_id,
        "picked_on": weight.picked_on,
        "cultivar": weight.entered_cultivar_id,
        "crop": weight.crop_id,
        "chosen_by": weight.crop_chosen_by,
        "trees": list(tree_ids),
    }
    with connection.cursor() as cursor:
        cursor.execute(UNSAVED, values)
        weight.cultivar_id, weight.crop_id = cursor.fetchone()


def attribute_block(block_id: UUID) -> None:
    """Resolve a block's weighings, after its trees, planting lines or crops changed.

    Rows that are right already are not written.
    """
    with connection.cursor() as cursor:
        cursor.execute(STORED, [block_id])
