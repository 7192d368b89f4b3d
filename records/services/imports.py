"""A member's file before it is read: taken in, sent round again with answers, thrown away."""

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import IO, Any
from uuid import UUID

from django.db import OperationalError, connection, transaction
from psycopg.errors import LockNotAvailable

from orchard.access import Area, Caller
from records.choices import ImportKind, ImportState, JobState, OnProblem
from records.models import CoOp, Farm, FileLayout, HarvestImport, ImportFile, Job, Membership
from records.models.imports import ReadingChoices
from records.services import file_parts, jobs

KIND = "harvest-import"
ANSWERS = tuple(field.name for field in ReadingChoices._meta.fields)
# What can be changed until an import has landed.
OPTIONS = (
    *ANSWERS,
    *("encoding", "delimiter", "sheet", "dry_run", "on_problem", "remember"),
    *("replaces", "replaces_from", "replaces_until"),
)
WRITTEN = ("added", "changed", "retired")
COUNTS = ("read", "added", "changed", "unchanged", "retired", "refused", "warned")

CAN_BE_READ_AGAIN = frozenset(
    {ImportState.QUESTION, ImportState.REFUSED, ImportState.CHECKED, ImportState.FAILED}
)
UNDER_WAY = frozenset({ImportState.RECEIVED, ImportState.READING, ImportState.LANDING})
HAS_LANDED = frozenset({ImportState.LANDED, ImportState.STOPPED})


class ImportConflictError(Exception):
    """What was asked does not fit the state of the import; the text says why."""


@transaction.atomic
def start_import(
    *,
    file_name: str,
    content: bytes | IO[bytes],
    farm: Farm | None = None,
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
    file_name: str,
    content: bytes | IO[bytes],
    farm: Farm | None = None,
    caller: Caller | None = None,
    **options: Any,
) -> HarvestImport:
    """Store a file and how it is to be read. Without a `farm`, its rows name members of `co_op`."""
    kind = ImportKind(options.get("kind", ImportKind.HARVEST_WEIGHTS))
    options.setdefault("series", kind.usual_series)
    if farm is not None:
        options["co_op"] = _sending_co_op(caller, farm.pk)
    received = HarvestImport(
        farm=farm,
        file_name=file_name,
        file_sha256=file_parts.digest(content),
        created_by_id=caller.person_id if caller else None,
        **options,
    )
    received.save(force_insert=True)
    file_parts.keep(received, content)
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
    if harvest_import.farm_id is not None:
        harvest_import.co_op = _sending_co_op(caller, harvest_import.farm_id)
    harvest_import.save()
    ImportFile.objects.filter(pk=harvest_import.pk).update(progress=0, attempt=None)
    _queue(harvest_import, caller.name)
    return harvest_import


@transaction.atomic
def discard(harvest_import: HarvestImport) -> None:
    """Delete an import that left nothing behind. A worker that is reading it will notice."""
    if harvest_import.state == ImportState.LANDING:
        raise ImportConflictError("The import is landing. Wait for the outcome, then undo it.")
    if harvest_import.state in HAS_LANDED:
        raise ImportConflictError("The import has landed; undo it first.")
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM records_stagedweighing WHERE import_id = %s", [harvest_import.pk]
        )
    harvest_import.delete()


@transaction.atomic
def resume(harvest_import: HarvestImport, *, caller: Caller) -> HarvestImport:
    """Have an import that stopped on its way go on. ImportConflictError if it did not stop."""
    if harvest_import.state != ImportState.STOPPED:
        state = harvest_import.state
        raise ImportConflictError(f"Only an import that stopped can go on; this one is {state}.")
    if harvest_import.on_problem == OnProblem.REJECT:  # they are what it stopped at
        harvest_import.problems.filter(is_warning=False).delete()
    harvest_import.state = ImportState.LANDING
    harvest_import.finished_at = None
    harvest_import.save()
    _queue(harvest_import, caller.name)
    return harvest_import


def remember_answers(harvest_import: HarvestImport) -> None:
    """Keep how a file was read for the next one of its series; what was not said stays as it is.

    Of a co-op's file the import itself keeps it.
    """
    if harvest_import.farm_id is None:
        return
    layout, _ = FileLayout.objects.get_or_create(
        farm_id=harvest_import.farm_id, kind=harvest_import.kind, series=harvest_import.series
    )
    for name in ANSWERS:
        if answer := getattr(harvest_import, name):
            setattr(layout, name, answer)
    layout.save()


def kept_answers(harvest_import: HarvestImport) -> ReadingChoices:
    """How earlier files of the series were read; of a co-op's, what the last one was sent with."""
    kind, series = harvest_import.kind, harvest_import.series
    if harvest_import.farm_id is not None:
        layouts = FileLayout.objects.filter(farm=harvest_import.farm, kind=kind, series=series)
        return layouts.first() or FileLayout()
    landed = HarvestImport.objects.filter(
        farm__isnull=True, co_op=harvest_import.co_op_id, kind=kind, series=series, remember=True
    )
    kept = landed.filter(state=ImportState.LANDED).order_by("-created_at", "-pk").first()
    return kept or FileLayout()


LOCKS = """
SELECT {lock}(hashtextextended(name, 0))
FROM (SELECT 'imports of farm ' || farm AS name FROM unnest(%s::uuid[]) farm ORDER BY 1) names
"""
PATIENCE = "5s"  # a landing may take minutes, and somebody waits for the answer


@contextmanager
def imports_locked(farm_ids: Collection[UUID]) -> Iterator[None]:
    """Let the imports of farms land one after the other, over several transactions.

    The locks are the connection's and end with it, so that a worker that died holds nobody up.
    """
    with connection.cursor() as cursor:
        cursor.execute(LOCKS.format(lock="pg_advisory_lock"), [list(farm_ids)])
    try:
        yield
    finally:
        if not connection.needs_rollback and connection.is_usable():
            with connection.cursor() as cursor:
                cursor.execute(LOCKS.format(lock="pg_advisory_unlock"), [list(farm_ids)])


def lock_imports(farm_ids: Collection[UUID]) -> None:
    """As `imports_locked`, to the end of the transaction.

    ImportConflictError if a file of one of the farms is landing.
    """
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SELECT set_config('lock_timeout', %s, true)", [PATIENCE])
            cursor.execute(LOCKS.format(lock="pg_advisory_xact_lock"), [list(farm_ids)])
            cursor.execute("SELECT set_config('lock_timeout', '0', true)")
    except OperationalError as error:
        if not isinstance(error.__cause__, LockNotAvailable):
            raise
        text = "Another file of the farm is landing. Wait until it has, then ask again."
        raise ImportConflictError(text) from None


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


def _sending_co_op(caller: Caller | None, farm_id: UUID) -> CoOp | None:
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
    found = terms.order_by("-starts_on").select_related("co_op").first()
    return found.co_op if found else None
