"""Taking back an import of records that are no weighings, one by one and by the rules of each."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model, ProtectedError

from records import models
from records.choices import ImportKind
from records.models import HarvestImport, ImportedRecord
from records.services import saving
from records.services.imports import ImportConflictError
from records.services.snapshots import Plain, names_below, put_back

MODELS: dict[str, type[Any]] = {
    ImportKind.INTAKES: models.Intake,
    ImportKind.WEATHER_DAYS: models.WeatherDay,
    ImportKind.TASK_LOGS: models.TaskLog,
    ImportKind.GROWTH_STAGES: models.GrowthStage,
    ImportKind.POLLINATION_ROUNDS: models.PollinationRound,
    ImportKind.FRUIT_COUNTS: models.FruitCount,
}


def take_back(harvest_import: HarvestImport) -> None:
    """Delete what the import added, and put back what it changed.

    ImportConflictError if any of it was changed or deleted since, or is in use elsewhere.
    """
    changes = list(ImportedRecord.objects.filter(harvest_import=harvest_import))
    stored = _stored(harvest_import, changes)
    _require_untouched(changes, stored)
    for change in changes:
        _take_back(stored[change.record_id], change)
    _hand_back(harvest_import, [change for change in changes if change.before])
    ImportedRecord.objects.filter(harvest_import=harvest_import).delete()


def _stored(harvest_import: HarvestImport, changes: list[ImportedRecord]) -> dict[Any, Any]:
    model = MODELS[harvest_import.kind]
    found = model.objects.select_for_update().prefetch_related(*names_below(model))
    stored: dict[Any, Any] = found.in_bulk([change.record_id for change in changes])
    return stored


def _require_untouched(changes: list[ImportedRecord], stored: dict[Any, Any]) -> None:
    if gone := sum(change.record_id not in stored for change in changes):
        raise ImportConflictError(f"{gone} of the records were deleted since the import landed.")
    touched = [
        stored[change.record_id]
        for change in changes
        if stored[change.record_id].version != change.landed_version
    ]
    if touched:
        raise ImportConflictError(
            f"Records were changed since the import landed: {len(touched)} of them, among them "
            f"{touched[0]} (id {touched[0].pk})."
        )


def _take_back(record: Model, change: ImportedRecord) -> None:
    try:
        if change.before is None:
            saving.delete(record)
        else:
            put_back(record, change.before)
    except ProtectedError:
        raise ImportConflictError(
            f"{record} (id {record.pk}) is in use by other records. Delete those first."
        ) from None
    except ValidationError as error:
        told = " ".join(error.messages)
        raise ImportConflictError(
            f"{record} (id {record.pk}) cannot be as it was before: {told}"
        ) from None


def _hand_back(harvest_import: HarvestImport, restored: list[ImportedRecord]) -> None:
    """An earlier import finds its records untouched again, so that several can be undone."""
    model = MODELS[harvest_import.kind]
    keys = [change.record_id for change in restored]
    versions = dict(model.objects.filter(pk__in=keys).values_list("pk", "version"))
    for change in restored:
        before: Plain = change.before or {}
        ImportedRecord.objects.filter(
            harvest_import=before["facts"]["harvest_import_id"],
            record_id=change.record_id,
            landed_version=before["version"],
        ).update(landed_version=versions[change.record_id])
