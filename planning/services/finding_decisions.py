"""What people decide about findings: a fix is applied and taken back, or nothing is wrong.

Applying writes rows as any edit does, by `records.services.saving`, in one transaction with the
decision, and only while every row is as the finding saw it.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

import pghistory
from django.db import transaction
from django.utils import timezone

from orchard.access import Caller
from planning.choices import FindingState
from planning.models import Finding
from records.models import HarvestWeight, Intake
from records.services import saving
from records.services.saving.faults import fault

MODELS: dict[str, Any] = {"harvest-weights": HarvestWeight, "intakes": Intake}
# What a fix may set, as columns of each kind.
FIELDS = ("weight", "unit", "picked_on", "retired_on")
OPEN = (FindingState.OPEN, FindingState.REVERSED)

Rows = Mapping[tuple[str, UUID], Any]


class FindingConflictError(Exception):
    """The finding, or a row that it is about, is not as the decision takes it to be."""


@transaction.atomic
def apply(finding: Finding, *, caller: Caller, today: dt.date, note: str = "") -> Finding:
    """Put the rows right. FindingConflictError where one of them was changed meanwhile."""
    _require(finding, OPEN)
    if finding.fix is None:
        text = "There is no fix to apply: correct the records themselves, or dismiss the finding."
        raise fault("decision", text, "no-fix")
    changes = finding.fix["changes"]
    rows = _rows(changes, caller)
    before = [{**_place(change), "before": _values(_row(rows, change))} for change in changes]
    with pghistory.context(finding=str(finding.pk)):
        for change in changes:
            values = {**change["set"], **({"retired_on": today} if change["retire"] else {})}
            _write(_row(rows, change), values, caller)
    versions = _versions(changes)
    finding.applied = {"rows": [{**row, "version": versions[_key(row)]} for row in before]}
    return _decide(finding, FindingState.APPLIED, caller, note)


@transaction.atomic
def dismiss(finding: Finding, *, caller: Caller, note: str) -> Finding:
    """Nothing is wrong, and `note` says why."""
    _require(finding, OPEN)
    if not note.strip():
        raise fault("note", "Say why nothing is wrong.", "required")
    return _decide(finding, FindingState.DISMISSED, caller, note)


@transaction.atomic
def reverse(finding: Finding, *, caller: Caller, note: str = "") -> Finding:
    """Take a fix back, so that rows say what they said before; or open a dismissed finding."""
    _require(finding, (FindingState.APPLIED, FindingState.DISMISSED))
    if finding.state == FindingState.DISMISSED:
        return _decide(finding, FindingState.REVERSED, caller, note)
    changed = finding.applied["rows"]
    rows = _rows(changed, caller)
    with pghistory.context(finding=str(finding.pk)):
        for change in changed:
            _write(_row(rows, change), change["before"], caller)
    finding.applied = None
    versions = _versions(changed)
    fixed = finding.fix["changes"]
    fixes = [{**change, "version": versions[_key(change)]} for change in fixed]
    finding.fix = {**finding.fix, "changes": fixes}
    return _decide(finding, FindingState.REVERSED, caller, note)


def _require(finding: Finding, states: Iterable[str]) -> None:
    if finding.state not in states:
        text = f"The finding is {finding.state}; it would have to be {' or '.join(states)}."
        raise FindingConflictError(text)


def _decide(finding: Finding, state: FindingState, caller: Caller, note: str) -> Finding:
    finding.state = finding.decision = state
    finding.decided_by, finding.decided_at, finding.note = caller.name, timezone.now(), note
    finding.save()
    return finding


# Rows --------------------------------------------------------------------------------------------


def _rows(changes: Iterable[Mapping[str, Any]], caller: Caller) -> Rows:
    """The rows to change, locked: all there, the caller's to write, and not changed since."""
    wanted = {_key(change): change["version"] for change in changes}
    found: dict[tuple[str, UUID], Any] = {}
    for kind, model in MODELS.items():
        ids = [pk for named, pk in wanted if named == kind]
        locked = model.objects.select_for_update(of=("self",)).select_related("farm")
        rows = list(locked.filter(pk__in=ids).order_by("pk"))
        found |= {(kind, row.pk): row for row in rows}
        if ids and model.objects.writable_by(caller).filter(pk__in=ids).count() < len(rows):
            raise fault("", "You may not write all the records that it is about.", "not-allowed")
    for key, version in wanted.items():
        if key not in found:
            raise FindingConflictError("A record that the finding is about is gone.")
        if found[key].version != version:
            text = f"{found[key]} was changed since: it is at version {found[key].version} now."
            raise FindingConflictError(text)
    return found


def _write(row: Any, values: Mapping[str, Any], caller: Caller) -> None:
    for name, value in values.items():
        setattr(row, name, row._meta.get_field(name).to_python(value))
    saving.save(row, caller=caller)


def _values(row: Any) -> dict[str, str | None]:
    """What a fix may change of a row, as it stands."""
    values = {name: getattr(row, name, None) for name in FIELDS if hasattr(row, name)}
    return {name: None if value is None else str(value) for name, value in values.items()}


def _versions(changes: Iterable[Mapping[str, Any]]) -> dict[tuple[str, UUID], int]:
    """Read anew: the database counts them."""
    return {
        (kind, pk): version
        for kind, model in MODELS.items()
        for pk, version in model.objects.filter(
            pk__in=[key for named, key in map(_key, changes) if named == kind]
        ).values_list("pk", "version")
    }


def _row(rows: Rows, change: Mapping[str, Any]) -> Any:
    return rows[_key(change)]


def _key(change: Mapping[str, Any]) -> tuple[str, UUID]:
    return change["kind"], UUID(change["id"])


def _place(change: Mapping[str, Any]) -> dict[str, Any]:
    return {"kind": change["kind"], "id": change["id"]}
