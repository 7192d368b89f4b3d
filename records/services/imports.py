"""A member's file before it is read: taken in, sent round again with answers, thrown away."""

import hashlib
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from orchard.access import Area, Caller
from records.choices import ImportKind, ImportState, JobState
from records.models import Farm, FileLayout, HarvestImport, ImportFile, Job, Membership
from records.models.imports import ReadingChoices
from records.services import jobs

KIND = "harvest-import"
ANSWERS = tuple(field.name for field in ReadingChoices._meta.fields)
# What can be changed until an import has landed.
OPTIONS = (
    *ANSWERS,
    *("encoding", "delimiter", "sheet", "dry_run", "on_problem", "remember"),
    *("replaces", "replaces_from", "replaces_until"),
)
COUNTS = ("read", "added", "changed", "unchanged", "retired", "refused", "warned")

CAN_BE_READ_AGAIN = frozenset(
    {ImportState.QUESTION, ImportState.REFUSED, ImportState.CHECKED, ImportState.FAILED}
)
UNDER_WAY = frozenset({ImportState.RECEIVED, ImportState.READING})


class ImportConflictError(Exception):
    """What was asked does not fit the state of the import; the text says why."""


@transaction.atomic
def start_import(
    *,
    farm: Farm,
    file_name: str,
    content: bytes,
    caller: Caller | None = None,
    by: str = "",
    **options: Any,
) -> HarvestImport:
    """Take a file in and have it read; `by` names the sender where there is no caller."""
    received = receive(farm=farm, file_name=file_name, content=content, caller=caller, **options)
    _queue(received, caller.name if caller else by)
    return received


@transaction.atomic
def receive(
    *,
    farm: Farm,
    file_name: str,
    content: bytes,
    caller: Caller | None = None,
    **options: Any,
) -> HarvestImport:
    """Store a file and how it is to be read."""
    kind = ImportKind(options.get("kind", ImportKind.HARVEST_WEIGHTS))
    options.setdefault("series", kind.usual_series)
    received = HarvestImport(
        farm=farm,
        file_name=file_name,
        file_sha256=hashlib.sha256(content).hexdigest(),
        created_by_id=caller.person_id if caller else None,
        co_op_id=_sending_co_op(caller, farm.pk),
        **options,
    )
    received.save(force_insert=True)
    ImportFile.objects.create(harvest_import=received, content=content)
    return received


@transaction.atomic
def read_again(harvest_import: HarvestImport, *, caller: Caller, **options: Any) -> HarvestImport:
    """Start an import anew with answers or other options. ImportConflictError if it is too late."""
    _require_idle(harvest_import)
    for name, value in options.items():
        setattr(harvest_import, name, value)
    for name in COUNTS:
        setattr(harvest_import, f"rows_{name}", None)
    harvest_import.state = ImportState.RECEIVED
    harvest_import.explanation, harvest_import.questions = "", []
    harvest_import.found = harvest_import.finished_at = None
    harvest_import.co_op_id = _sending_co_op(caller, harvest_import.farm_id)
    harvest_import.save()
    ImportFile.objects.filter(pk=harvest_import.pk).update(progress=0, attempt=None)
    _queue(harvest_import, caller.name)
    return harvest_import


@transaction.atomic
def discard(harvest_import: HarvestImport) -> None:
    """Delete an import that left nothing behind. A worker that is reading it will notice."""
    if harvest_import.state == ImportState.LANDED:
        raise ImportConflictError("The import has landed; undo it first.")
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM records_stagedweighing WHERE import_id = %s", [harvest_import.pk]
        )
    harvest_import.delete()


def remember_answers(harvest_import: HarvestImport) -> None:
    """Keep how a file was read for the next one of its series; what was not said stays as it is."""
    layout, _ = FileLayout.objects.get_or_create(
        farm_id=harvest_import.farm_id, kind=harvest_import.kind, series=harvest_import.series
    )
    for name in ANSWERS:
        if answer := getattr(harvest_import, name):
            setattr(layout, name, answer)
    layout.save()


def lock_imports(farm_id: UUID) -> None:
    """Let the imports of a farm land and be undone one after the other, to the end of each."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"imports of farm {farm_id}"]
        )


def forget_plans() -> None:
    """Have what triggers do planned anew, for as many rows as there are now.

    The audit's trigger joins old rows with new ones and keeps its first plan for the whole session:
    one made for a single row takes hours for a file.
    """
    with connection.cursor() as cursor:
        cursor.execute("DISCARD PLANS")


def _queue(harvest_import: HarvestImport, by: str) -> None:
    jobs.enqueue(KIND, str(harvest_import.pk), {"by": by})
    jobs.wake()


def _require_idle(harvest_import: HarvestImport) -> None:
    state = harvest_import.state
    if state in CAN_BE_READ_AGAIN or (state in UNDER_WAY and not _has_job(harvest_import)):
        return
    if state in UNDER_WAY:
        raise ImportConflictError("The file is being read. Wait for the outcome, then change it.")
    raise ImportConflictError(f"The import is {state}; send the file again to import it anew.")


def _has_job(harvest_import: HarvestImport) -> bool:
    unfinished = [JobState.WAITING, JobState.RUNNING]
    return Job.objects.filter(kind=KIND, key=harvest_import.pk, state__in=unfinished).exists()


def _sending_co_op(caller: Caller | None, farm_id: UUID) -> UUID | None:
    """The co-op through which a caller may import at all; its membership's dates then bound the
    rows. None for the farm's own people and apps, and for the service itself."""
    if caller is None or caller.is_platform_admin:
        return None
    if farm_id in caller.farms_with("writes", Area.IMPORT):
        return None
    terms = Membership.objects.filter(
        farm_id=farm_id,
        co_op_id__in=caller.co_ops_with("writes", Area.IMPORT),
        staff_may_edit=True,
    )
    found: UUID | None = terms.order_by("-starts_on").values_list("co_op_id", flat=True).first()
    return found
