"""Compared rows become weighings, and leave behind what is needed to take them back.

The rows of a step are written with the change ticks of their farms, so that the trigger that would
write each of them a second time, at commit, has nothing left to do. Whoever holds a tick holds up
all who change the farm; so that nobody waits for whom they hold up, all that the rows point at and
all that they change is locked before the ticks are taken, and the ticks in the order of farms.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from records.importing.checks import problem_of
from records.importing.relaying import STORED_TREES
from records.importing.staging import Staged
from records.services.attribution import RESOLVE
from records.services.imports import forget_plans

OF_STEP = "s.import_id = %(import)s AND s.entry > %(after)s AND s.entry <= %(through)s"
WRITES = f"{OF_STEP} AND (s.is_new OR s.is_changed)"

TO_WRITE = f"""
SELECT count(*) FILTER (WHERE s.is_new), count(*) FILTER (WHERE s.is_changed),
       count(*) FILTER (WHERE s.is_changed OR s.tree_ids <> '{{}}')
FROM records_stagedweighing s WHERE {WRITES}
"""

# What weighings point at, in one scan; whoever is about to delete some of it is waited for.
LOCKED = "(SELECT count(*) FROM (SELECT FROM {table} WHERE {which} ORDER BY id FOR KEY SHARE) x)"
LOCK_PARENTS = f"""
WITH named AS MATERIALIZED (
    SELECT DISTINCT s.farm_id, s.block_id, s.container_id, s.grade_id
    FROM records_stagedweighing s WHERE {WRITES}
)
SELECT {
    ", ".join(
        LOCKED.format(table=f"records_{table}", which=which)
        for table, which in (
            ("farm", "id IN (SELECT farm_id FROM named)"),
            ("cultivar", "farm_id IS NULL OR farm_id IN (SELECT farm_id FROM named)"),
            ("block", "id IN (SELECT block_id FROM named)"),
            ("container", "id IN (SELECT container_id FROM named)"),
            ("grade", "id IN (SELECT grade_id FROM named)"),
            ("crop", "block_id IN (SELECT block_id FROM named)"),
        )
    )
}
"""
LOCK_TREES = "SELECT " + LOCKED.format(
    table="records_tree",
    which=f"""id IN (SELECT DISTINCT unnest(s.tree_ids)
                     FROM records_stagedweighing s WHERE {WRITES})""",
)

LOCK_CHANGED = f"""
SELECT count(*) FROM (
    SELECT FROM records_harvestweight h WHERE h.id IN (
        SELECT s.weight_id FROM records_stagedweighing s WHERE {OF_STEP} AND s.is_changed)
    ORDER BY h.id FOR UPDATE) locked
"""

# Somebody was quicker: what they wrote stays.
EDITED = f"""{OF_STEP} AND s.is_changed AND NOT EXISTS (
    SELECT FROM records_harvestweight h WHERE h.id = s.weight_id AND h.version = s.known_version)"""
EDITED_MEANWHILE = problem_of(
    broken=EDITED.removeprefix("s.import_id = %(import)s AND "),
    code="'edited-meanwhile'",
    value="s.picked_on::text",
    detail="""'Somebody edited this weighing while the file was brought in, so that it stays as '
              'they left it. Send the file again if the file is right.'""",
    is_warning=True,
)
LEAVE_EDITED = f"UPDATE records_stagedweighing s SET is_changed = false WHERE {EDITED}"

TAKE_TICKS = f"""
SELECT farm, orchard_tick(farm, false) FROM (
    SELECT DISTINCT s.farm_id AS farm FROM records_stagedweighing s WHERE {WRITES} ORDER BY 1) farms
"""
TICKS = """JOIN unnest(%(farms)s::uuid[], %(ticks)s::bigint[]) k (farm_id, tick)
    ON k.farm_id = s.farm_id"""

ATTRIBUTED = (
    f"""
WITH w AS MATERIALIZED (
    SELECT weight_id AS id, block_id, picked_on, entered_cultivar_id, crop_id, crop_chosen_by
    FROM records_stagedweighing s WHERE {OF_STEP} AND {{which}}
),
l AS (
    SELECT s.weight_id, t.tree_id
    FROM records_stagedweighing s CROSS JOIN LATERAL unnest(s.tree_ids) t (tree_id)
    WHERE {OF_STEP} AND {{which}}
),
"""
    + RESOLVE
)

# A weighing's column, and what the staged row `s` puts there.
WRITTEN = {
    **{
        name: f"s.{name}"
        for name in (
            *("block_id", "picked_on", "weight", "unit", "weight_kind", "containers"),
            *("container_id", "tare_g", "container_tare_g", "fruit_count", "net_g", "grade_id"),
            *("entered_cultivar_id", "crop_chosen_by", "docket"),
            *("ticket", "pickers", "minutes", "note"),
        )
    },
    "cultivar_id": "r.cultivar_id",
    "crop_id": "r.crop_id",
    "estimated_from_containers_g": "s.estimated_g",
    "harvest_import_id": "%(import)s",
    "retired_on": "NULL",
    "tick": "k.tick",
}
COLUMNS, VALUES = ", ".join(WRITTEN), ", ".join(WRITTEN.values())

ADD = f"""
{ATTRIBUTED.format(which="s.is_new")}
INSERT INTO records_harvestweight (id, farm_id, import_key, created_by_id, {COLUMNS})
SELECT s.weight_id, s.farm_id, s.import_key, %(created_by)s, {VALUES}
FROM records_stagedweighing s {TICKS} JOIN resolved r ON r.id = s.weight_id
WHERE {OF_STEP} AND s.is_new ORDER BY s.entry
"""

# Before the change, and with the version that it will make.
NOTE_BEFORE = f"""
INSERT INTO records_importedchange
    (farm_id, harvest_import_id, weight_id, landed_version, before, sent)
SELECT h.farm_id, %(import)s, h.id, h.version + 1,
       to_jsonb(h) - 'fingerprint' || jsonb_build_object('trees', to_jsonb({STORED_TREES})), s.sent
FROM records_stagedweighing s JOIN records_harvestweight h ON h.id = s.weight_id
WHERE {OF_STEP} AND s.is_changed
"""

CHANGE = f"""
{ATTRIBUTED.format(which="s.is_changed")}
UPDATE records_harvestweight h SET ({COLUMNS}) = ROW({VALUES}),
    links_version = h.links_version + (s.tree_ids IS DISTINCT FROM {STORED_TREES})::integer,
    version = h.version + 1, updated_at = now()
FROM records_stagedweighing s {TICKS} JOIN resolved r ON r.id = s.weight_id
WHERE {OF_STEP} AND s.is_changed AND h.id = s.weight_id
"""

UNLINK = f"""
DELETE FROM records_harvestweighttree l USING records_stagedweighing s
WHERE {OF_STEP} AND s.is_changed AND l.weight_id = s.weight_id AND l.tree_id <> ALL (s.tree_ids)
"""

LINK = f"""
INSERT INTO records_harvestweighttree (farm_id, weight_id, tree_id)
SELECT s.farm_id, s.weight_id, t.tree_id
FROM records_stagedweighing s CROSS JOIN LATERAL unnest(s.tree_ids) t (tree_id)
WHERE {WRITES} ORDER BY s.entry
ON CONFLICT (weight_id, tree_id) DO NOTHING
"""

NOTE_ADDED = f"""
INSERT INTO records_importedchange (farm_id, harvest_import_id, weight_id, landed_version, sent)
SELECT s.farm_id, %(import)s, s.weight_id, 1, s.sent
FROM records_stagedweighing s WHERE {OF_STEP} AND s.is_new ORDER BY s.entry
"""

STAMPING = "SELECT set_config('orchard.stamping', %(is_on)s, true)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The entries after one and up to another."""

    after: int
    through: int


ALL = Step(after=0, through=2**31 - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Landed:
    """How many weighings a step wrote, and how many it left as somebody had edited them."""

    added: int
    changed: int
    left: int


def land(staged: Staged, step: Step) -> Landed:
    """Write what is new and what changed. The caller holds the farms' import locks."""
    where: dict[str, Any] = {"after": step.after, "through": step.through}
    new, changed, linked = staged.rows(TO_WRITE, **where)[0]
    staged.rows(LOCK_PARENTS, **where)
    if linked:
        staged.rows(LOCK_TREES, **where)
    left = _leave_edited(staged, where) if changed else 0
    if new or changed > left:
        with _ticks_taken(staged, where) as ticks:
            _write(staged, {**where, **ticks}, is_any_changed=changed > left, is_any_linked=linked)
    return Landed(added=new, changed=changed - left, left=left)


@contextmanager
def _ticks_taken(staged: Staged, where: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Rows written meanwhile carry the ticks; the triggers of versions and ticks rest."""
    ticks = staged.rows(TAKE_TICKS, **where)
    staged.rows(STAMPING, is_on="on")
    yield {"farms": [farm for farm, _ in ticks], "ticks": [tick for _, tick in ticks]}
    staged.rows(STAMPING, is_on="")


def _write(
    staged: Staged, where: dict[str, Any], *, is_any_changed: bool, is_any_linked: bool
) -> None:
    staged.run(ADD, created_by=staged.harvest_import.created_by_id, **where)
    if is_any_changed:
        staged.run(NOTE_BEFORE, **where)
        forget_plans()
        staged.run(CHANGE, **where)
        staged.run(UNLINK, **where)
    if is_any_linked:
        staged.run(LINK, **where)
    staged.run(NOTE_ADDED, **where)
    forget_plans()


def _leave_edited(staged: Staged, where: dict[str, Any]) -> int:
    """Somebody may have been quicker than the file: how many weighings stay as they left them."""
    staged.rows(LOCK_CHANGED, **where)
    staged.run(EDITED_MEANWHILE, heading=staged.heading("picked_on"), **where)
    return staged.run(LEAVE_EDITED, **where)
