"""Compared rows become weighings, and leave behind what is needed to take them back."""

from records.importing.relaying import STORED_TREES
from records.importing.staging import Staged
from records.services.attribution import RESOLVE
from records.services.imports import forget_plans

# Made in the order of the file, so that the ids sort as the rows do; a join may not make them anew.
NAME_NEW = """
WITH n AS MATERIALIZED (
    SELECT entry, uuidv7() AS id FROM (
        SELECT entry FROM records_stagedweighing WHERE import_id = %(import)s AND is_new
        ORDER BY entry
    ) ordered
)
UPDATE records_stagedweighing s SET weight_id = n.id
FROM n WHERE s.import_id = %(import)s AND s.entry = n.entry
"""

ATTRIBUTE = (
    """
WITH w AS MATERIALIZED (
    SELECT weight_id AS id, block_id, picked_on, entered_cultivar_id, crop_id, crop_chosen_by
    FROM records_stagedweighing WHERE import_id = %(import)s AND (is_new OR is_changed)
),
l AS (
    SELECT s.weight_id, t.tree_id
    FROM records_stagedweighing s CROSS JOIN LATERAL unnest(s.tree_ids) t (tree_id)
    WHERE s.import_id = %(import)s AND (s.is_new OR s.is_changed)
),
"""
    + RESOLVE
    + """
UPDATE records_stagedweighing s SET cultivar_id = r.cultivar_id, crop_id = r.crop_id
FROM resolved r WHERE s.import_id = %(import)s AND s.weight_id = r.id
"""
)

NOTE_BEFORE = f"""
UPDATE records_stagedweighing s
SET before = to_jsonb(h) - 'fingerprint' || jsonb_build_object('trees', to_jsonb({STORED_TREES}))
FROM records_harvestweight h
WHERE s.import_id = %(import)s AND s.is_changed AND h.id = s.weight_id
"""

# A weighing's column, and what the staged row `s` puts there.
WRITTEN = {
    **{
        name: f"s.{name}"
        for name in (
            *("block_id", "picked_on", "weight", "unit", "weight_kind", "containers"),
            *("container_id", "tare_g", "container_tare_g", "fruit_count", "net_g", "grade_id"),
            *("entered_cultivar_id", "cultivar_id", "crop_id", "crop_chosen_by", "docket"),
            *("ticket", "pickers", "minutes", "note"),
        )
    },
    "estimated_from_containers_g": "s.estimated_g",
    "harvest_import_id": "%(import)s",
    "retired_on": "NULL",
}
COLUMNS, VALUES = ", ".join(WRITTEN), ", ".join(WRITTEN.values())

ADD = f"""
INSERT INTO records_harvestweight (id, farm_id, import_key, created_by_id, {COLUMNS})
SELECT s.weight_id, %(farm)s, s.import_key, %(created_by)s, {VALUES}
FROM records_stagedweighing s
WHERE s.import_id = %(import)s AND s.is_new ORDER BY s.entry
"""

CHANGE = f"""
UPDATE records_harvestweight h SET ({COLUMNS}) = ROW({VALUES}),
    links_version = h.links_version + (s.tree_ids IS DISTINCT FROM {STORED_TREES})::integer
FROM records_stagedweighing s
WHERE s.import_id = %(import)s AND s.is_changed AND h.id = s.weight_id
"""

UNLINK = """
DELETE FROM records_harvestweighttree l USING records_stagedweighing s
WHERE s.import_id = %(import)s AND s.is_changed AND l.weight_id = s.weight_id
  AND l.tree_id <> ALL (s.tree_ids)
"""

LINK = """
INSERT INTO records_harvestweighttree (farm_id, weight_id, tree_id)
SELECT %(farm)s, s.weight_id, t.tree_id
FROM records_stagedweighing s CROSS JOIN LATERAL unnest(s.tree_ids) t (tree_id)
WHERE s.import_id = %(import)s AND (s.is_new OR s.is_changed) ORDER BY s.entry
ON CONFLICT (weight_id, tree_id) DO NOTHING
"""

NOTE_CHANGES = """
INSERT INTO records_importedchange
    (farm_id, harvest_import_id, weight_id, landed_version, before, sent)
SELECT %(farm)s, %(import)s, h.id, h.version, s.before, s.sent
FROM records_stagedweighing s JOIN records_harvestweight h ON h.id = s.weight_id
WHERE s.import_id = %(import)s AND (s.is_new OR s.is_changed)
"""


def land(staged: Staged) -> None:
    """Write what is new and what changed. The caller holds the farm's import lock."""
    staged.run(NAME_NEW)
    staged.analyse()
    staged.run(ATTRIBUTE)
    staged.run(NOTE_BEFORE)
    staged.run(ADD, created_by=staged.harvest_import.created_by_id)
    forget_plans()
    staged.run(CHANGE)
    staged.run(UNLINK)
    staged.run(LINK)
    staged.run(NOTE_CHANGES)
    forget_plans()  # at commit, all rows get their change tick at once
