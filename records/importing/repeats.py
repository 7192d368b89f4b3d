"""A file sent again, byte for byte, since which nothing it could touch has changed.

Every row of it was found added, changed or unchanged when it landed, so that each would be found
unchanged now. Change ticks tell exactly whether anything of the farm that a comparison looks at was
written since, and tombstones whether anything was deleted; what belongs to no farm has a time of
change. In every other case the file is read and compared.
"""

from collections.abc import Callable
from typing import Any

from django.db import connection, transaction

from records.choices import ImportKind, ImportState
from records.importing.outcomes import Counts, explain
from records.models import HarvestImport
from records.services.imports import OPTIONS, imports_locked

# What decides what rows mean, and what they are compared with.
LOOKED_AT = ("block", "tree", "container", "grade", "crop", "cultivar", "membership", "filelayout")
WRITTEN_SINCE = " OR ".join(
    f"EXISTS (SELECT FROM records_{table} WHERE farm_id = %(farm)s AND tick > %(tick)s)"
    for table in (*LOOKED_AT, "harvestweight")
)
CHANGED_SINCE = f"""
SELECT {WRITTEN_SINCE}
    OR EXISTS (SELECT FROM records_farm WHERE id = %(farm)s AND tick > %(tick)s)
    OR EXISTS (SELECT FROM records_tombstone
               WHERE farm_id = %(farm)s AND tick > %(tick)s AND kind = ANY (%(kinds)s))
    OR EXISTS (SELECT FROM records_harvestimport
               WHERE farm_id = %(farm)s AND tick > %(tick)s AND id <> %(again)s
                 AND state IN ('landed', 'landing', 'stopped', 'undone'))
    OR (SELECT count(*) FROM records_cultivar
        WHERE farm_id IS NULL AND updated_at >= %(landed_at)s) > 0
"""
KINDS = [f"records_{table}" for table in (*LOOKED_AT, "harvestweight", "harvestweighttree")]
# Whether a replaced or a trial reading landed is for it to say; the other choices must be the same.
CHOICES = (*(name for name in OPTIONS if name not in {"dry_run", "remember"}), "kind", "series")


def answered(
    harvest_import: HarvestImport,
    ours: Callable[[], HarvestImport],
    close: Callable[[HarvestImport, ImportState], None],
) -> bool:
    """Report on such a file without reading it; whether it is one."""
    is_asked = (
        harvest_import.state == ImportState.READING
        and harvest_import.kind == ImportKind.HARVEST_WEIGHTS
        and not (harvest_import.replaces or harvest_import.remember)
    )
    if harvest_import.farm_id is None or not is_asked or _earlier(harvest_import) is None:
        return False
    with imports_locked([harvest_import.farm_id]), transaction.atomic():
        current = ours()
        earlier = _earlier(current)
        if earlier is None or _has_changed(earlier, current):
            return False
        _report(current, earlier, close)
    return True


def _earlier(harvest_import: HarvestImport) -> HarvestImport | None:
    """The last import of the same bytes by the same choices, if it landed with nothing odd."""
    same = HarvestImport.objects.filter(
        farm=harvest_import.farm,
        file_sha256=harvest_import.file_sha256,
        file_name=harvest_import.file_name,
        co_op_id=harvest_import.co_op_id,
        state=ImportState.LANDED,
        rows_refused=0,
        rows_warned=0,
        **{name: getattr(harvest_import, name) for name in CHOICES},
    )
    return same.exclude(tick=None).order_by("-tick").first()


def _has_changed(earlier: HarvestImport, again: HarvestImport) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            CHANGED_SINCE,
            {
                "farm": earlier.farm_id,
                "tick": earlier.tick,
                "again": again.pk,
                "kinds": KINDS,
                "landed_at": earlier.finished_at,
            },
        )
        found: bool = cursor.fetchone()[0]
    return found


def _report(
    harvest_import: HarvestImport, earlier: HarvestImport, close: Callable[..., Any]
) -> None:
    state = ImportState.CHECKED if harvest_import.dry_run else ImportState.LANDED
    counted = ("added", "changed", "unchanged")
    found = earlier.found or {}
    counts = Counts(
        read=earlier.rows_read or 0,
        added=0,
        changed=0,
        unchanged=sum(getattr(earlier, f"rows_{name}") or 0 for name in counted),
        refused=0,
        warned=0,
        is_wide=any(" by " in heading["column"] for heading in found.get("headings", [])),
    )
    counts.note(harvest_import, state)
    harvest_import.found = earlier.found
    harvest_import.explanation = explain(harvest_import, state, counts)
    close(harvest_import, state)
