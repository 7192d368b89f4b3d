"""Taking a landed import back: what it added goes, what it changed is as it was before."""

from typing import Any
from uuid import UUID

import pghistory
from django.db import connection, transaction
from django.db.models import F, Q

from records.choices import ImportKind, ImportState
from records.models import HarvestImport, HarvestWeight, ImportedChange
from records.services import jobs
from records.services.attribution import attribute_block
from records.services.imports import (
    HAS_LANDED,
    WRITTEN,
    ImportConflictError,
    forget_plans,
    lock_imports,
)
from records.services.undoing_records import take_back

# What makes a weighing: all columns but those that the database keeps for itself, and the one
# that only ever rises with its trees.
KEPT_BY_DATABASE = frozenset(
    {"id", "farm_id", "version", "created_at", "updated_at", "fingerprint", "tick", "links_version"}
)
COLUMNS = tuple(
    field.attname
    for field in HarvestWeight._meta.concrete_fields
    if field.attname not in KEPT_BY_DATABASE
)

UNLINK = """
DELETE FROM records_harvestweighttree l USING records_importedchange c
WHERE c.harvest_import_id = %(import)s AND l.weight_id = c.weight_id
  AND (c.before IS NULL OR NOT jsonb_exists(c.before -> 'trees', l.tree_id::text))
"""

RESTORE = f"""
UPDATE records_harvestweight h
SET ({", ".join(COLUMNS)}) = ({", ".join(f"b.{c}" for c in COLUMNS)}),
    links_version = h.links_version + 1
FROM records_importedchange c
CROSS JOIN LATERAL jsonb_populate_record(NULL::records_harvestweight, c.before) b
WHERE c.harvest_import_id = %(import)s AND c.before IS NOT NULL AND h.id = c.weight_id
"""

LINK = """
INSERT INTO records_harvestweighttree (farm_id, weight_id, tree_id)
SELECT c.farm_id, c.weight_id, t.id::uuid
FROM records_importedchange c
CROSS JOIN LATERAL jsonb_array_elements_text(c.before -> 'trees') t (id)
WHERE c.harvest_import_id = %(import)s AND c.before IS NOT NULL
ON CONFLICT (weight_id, tree_id) DO NOTHING
"""

DELETE_ADDED = """
DELETE FROM records_harvestweight h USING records_importedchange c
WHERE c.harvest_import_id = %(import)s AND c.before IS NULL AND h.id = c.weight_id
"""

# An earlier import finds its rows untouched again, so that several can be undone in turn.
HAND_BACK = """
UPDATE records_importedchange earlier SET landed_version = h.version
FROM records_importedchange c JOIN records_harvestweight h ON h.id = c.weight_id
WHERE c.harvest_import_id = %(import)s AND c.before IS NOT NULL
  AND earlier.weight_id = c.weight_id
  AND earlier.harvest_import_id = (c.before ->> 'harvest_import_id')::uuid
  AND earlier.landed_version = (c.before ->> 'version')::integer
"""


@transaction.atomic
def undo(harvest_import: HarvestImport) -> HarvestImport:
    """Undo a landed import. ImportConflictError, with the reason, where that is not possible."""
    harvest_import = HarvestImport.objects.select_for_update().get(pk=harvest_import.pk)
    if harvest_import.state not in HAS_LANDED:
        state = harvest_import.state
        raise ImportConflictError(f"Only a landed import can be undone; this one is {state}.")
    lock_imports(_farms(harvest_import))
    with pghistory.context(harvest_import=str(harvest_import.pk)):
        if harvest_import.kind == ImportKind.HARVEST_WEIGHTS:
            _require_untouched(harvest_import)
            _take_back(harvest_import)
        else:
            take_back(harvest_import)
        harvest_import.state = ImportState.UNDONE
        harvest_import.explanation = "The import was undone; its rows are as they were before."
        harvest_import.save()
    jobs.wake()
    return harvest_import


def _farms(harvest_import: HarvestImport) -> list[UUID]:
    """The farm, or of a co-op's file all whose weighings it wrote."""
    if harvest_import.farm_id is not None:
        return [harvest_import.farm_id]
    changes = ImportedChange.objects.filter(harvest_import=harvest_import)
    return list(changes.order_by("farm_id").values_list("farm_id", flat=True).distinct())


def _take_back(harvest_import: HarvestImport) -> None:
    changes = ImportedChange.objects.filter(harvest_import=harvest_import)
    restored = changes.filter(before__isnull=False)
    blocks = set(restored.values_list("weight__block_id", flat=True))
    forget_plans()
    _execute(harvest_import, UNLINK, RESTORE, LINK, DELETE_ADDED)
    for block_id in blocks | set(restored.values_list("weight__block_id", flat=True)):
        attribute_block(block_id)
    _execute(harvest_import, HAND_BACK)
    changes.delete()
    forget_plans()  # at commit, all restored rows get their change tick at once


def _require_untouched(harvest_import: HarvestImport) -> None:
    """Every row that the import wrote is still there, at the version it then had."""
    changes = ImportedChange.objects.filter(harvest_import=harvest_import)
    touched = changes.filter(~Q(weight__version=F("landed_version")))
    first: Any = touched.select_related("weight__block").order_by("weight_id").first()
    if first is not None:
        raise ImportConflictError(
            f"Weighings were changed since the import landed: {touched.count()} of them, among "
            f"them that of {first.weight.picked_on} in block {first.weight.block} "
            f"(id {first.weight_id})."
        )
    written = sum(getattr(harvest_import, f"rows_{name}") or 0 for name in WRITTEN)
    if gone := written - changes.count():
        raise ImportConflictError(f"{gone} of the weighings were deleted since the import landed.")


def _execute(harvest_import: HarvestImport, *statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement, {"import": harvest_import.pk})
