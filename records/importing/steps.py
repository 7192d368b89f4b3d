"""A large file lands step by step, each a transaction of its own.

Nobody who changes the farm then waits for more than a step, and after a kill only the last step is
lost: the file is read and compared anew, and goes on with the first entry that has not landed. What
cannot go on stops where it is, and can be resumed or undone.
"""

from collections.abc import Callable

from django.db import connection, transaction
from django.db.models import F, Max
from django.utils import timezone

from records.choices import ImportState, OnProblem
from records.importing import landing, staging
from records.importing.landing import Step
from records.importing.outcomes import COUNT_PROBLEMS, Counts
from records.importing.staging import Staged
from records.models import HarvestImport, ImportFile, ImportProblem
from records.services.imports import WRITTEN

STEP = 20_000  # entries; a farm's other writers wait for no more than one step

LAST = "SELECT coalesce(max(entry), 0) FROM records_stagedweighing WHERE import_id = %(import)s"

# Of what was told at an earlier attempt, or is of a row that has landed, nothing is told again.
FORGET_TOLD = """
DELETE FROM records_importproblem p
WHERE p.harvest_import_id = %(import)s AND p.id > %(told)s AND (
    EXISTS (SELECT FROM records_importproblem o
            WHERE o.harvest_import_id = %(import)s AND o.id <= %(told)s
              AND (o.sheet, o.row, o."column", o.code) = (p.sheet, p.row, p."column", p.code))
    OR (p.sheet, p.row) IN (SELECT left(s.sheet, 80), s.row FROM records_stagedweighing s
                            WHERE s.import_id = %(import)s AND s.entry <= %(through)s))
"""

REST = """
SELECT count(*) FILTER (WHERE is_new AND entry > %(through)s),
       count(*) FILTER (WHERE is_changed AND entry > %(through)s),
       count(*) FILTER (WHERE NOT is_refused OR entry <= %(through)s)
FROM records_stagedweighing WHERE import_id = %(import)s
"""


def begin(harvest_import: HarvestImport) -> None:
    """Show that all checks were passed, and that rows are landing."""
    harvest_import.state = ImportState.LANDING
    harvest_import.save()


def land_next(staged: Staged, ours: Callable[[], HarvestImport]) -> bool:
    """Land the next step; whether there was one."""
    with transaction.atomic():
        harvest_import = ours()
        file = ImportFile.objects.get(pk=harvest_import.pk)
        last = staged.rows(LAST)[0][0]
        if file.landed_through >= last:
            return False
        step = Step(after=file.landed_through, through=file.landed_through + STEP)
        landed = landing.land(staged, step)
        reach = 100 - staging.READING_PERCENT
        ImportFile.objects.filter(pk=harvest_import.pk).update(
            landed_through=step.through,
            landed_added=F("landed_added") + landed.added,
            landed_changed=F("landed_changed") + landed.changed,
            progress=staging.READING_PERCENT + min(reach - 1, reach * step.through // last),
        )
    return True


def last_problem(harvest_import: HarvestImport) -> int:
    """By which those that are told later can be known."""
    found: int | None = harvest_import.problems.aggregate(last=Max("pk"))["last"]
    return found or 0


def take_stock(staged: Staged, harvest_import: HarvestImport, told: int) -> bool:
    """After another comparison: what is left to land. False if some of it may not any more."""
    file = ImportFile.objects.get(pk=harvest_import.pk)
    where = {"told": told, "through": file.landed_through}
    staged.run(FORGET_TOLD, **where)
    refused = ImportProblem.objects.filter(
        harvest_import=harvest_import, pk__gt=told, is_warning=False
    )
    if harvest_import.on_problem == OnProblem.REJECT and refused.exists():
        return False
    added, changed, accepted = staged.rows(REST, **where)[0]
    harvest_import.rows_added = file.landed_added + added
    harvest_import.rows_changed = file.landed_changed + changed
    harvest_import.rows_unchanged = accepted - file.landed - added - changed
    harvest_import.save()
    return True


def counts_of(harvest_import: HarvestImport, *, is_wide: bool) -> Counts:
    """What became of all rows, once they have landed."""
    file = ImportFile.objects.get(pk=harvest_import.pk)
    planned = (harvest_import.rows_added or 0) + (harvest_import.rows_changed or 0)
    refused, warned = _problem_rows(harvest_import)
    return Counts(
        read=harvest_import.rows_read or 0,
        added=file.landed_added,
        changed=file.landed_changed,
        unchanged=(harvest_import.rows_unchanged or 0) + planned - file.landed,
        refused=refused,
        warned=warned,
        is_wide=is_wide,
    )


def stop(harvest_import: HarvestImport, why: str) -> None:
    """End an import on its way. What has landed stays, to be resumed or undone."""
    file = ImportFile.objects.get(pk=harvest_import.pk)
    if file.landed:
        planned = sum(getattr(harvest_import, f"rows_{name}") or 0 for name in WRITTEN)
        harvest_import.explanation = (
            f"{file.landed} of {planned} weighings have landed; then {why}. "
            "Mend what is wrong and resume the import, or undo it."
        )
        harvest_import.rows_added = file.landed_added
        harvest_import.rows_changed = file.landed_changed
        harvest_import.state = ImportState.STOPPED
    else:
        harvest_import.explanation = (
            f"The file could not be brought in, as {why}, and nothing was written. "
            "Start the import again later."
        )
        harvest_import.state = ImportState.FAILED
    harvest_import.finished_at = timezone.now()
    harvest_import.save()
    ImportFile.objects.filter(pk=harvest_import.pk).update(attempt=None)
    staging.clear(harvest_import.pk)


def _problem_rows(harvest_import: HarvestImport) -> tuple[int, int]:
    with connection.cursor() as cursor:
        cursor.execute(COUNT_PROBLEMS, {"import": harvest_import.pk})
        refused, warned = cursor.fetchone()
    return refused, warned
