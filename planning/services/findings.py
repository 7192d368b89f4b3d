"""Findings of a farm, brought up to date with its weighings and intakes."""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from django.db import transaction

from planning.choices import FindingState
from planning.compute.findings import Change, Finding, Fix, Sure, findings
from planning.models import Finding as FindingRow
from planning.models import FindingRun
from planning.queries.findings import look
from planning.services.derived import Written, columns_of, lock, store
from records.models import Farm

MAX_SENTENCE = 600


def lock_findings(farm_id: UUID) -> None:
    """To be taken before any finding of the farm is locked."""
    lock(f"findings of farm {farm_id}")


@transaction.atomic
def rebuild_findings(farm_id: UUID, today: dt.date) -> Written:
    """Look at a farm's recent seasons, and at older ones in which something changed."""
    lock_findings(farm_id)
    farm = Farm.objects.get(pk=farm_id)
    looked = look(farm, today)
    stored = FindingRow.objects.filter(farm_id=farm_id, about_on__gte=looked.since)
    found = {each.key: each for each in findings(looked.ground)}
    known = {row.key: row for row in stored}
    rows = [*_known_rows(known, found), *_new_rows(farm_id, known, found)]
    written = store(stored, rows, key=("key",))
    FindingRun.objects.update_or_create(farm_id=farm_id, defaults={"tick": looked.tick})
    return written


def _known_rows(
    known: Mapping[str, FindingRow], found: Mapping[str, Finding]
) -> Iterator[dict[str, Any]]:
    """Those stored already. Evidence stays as it was found, unless it became surer or less so."""
    for key, row in known.items():
        columns = columns_of(row)
        again = found.get(key)
        if again is None:
            yield {**columns, "state": _state_of_the_gone(row)}
        elif row.decision == FindingState.APPLIED:  # somebody put the slip back by hand
            yield _columns(row.farm_id, again)
        elif row.sure != again.sure:
            yield {**columns, **_facts(again), "state": row.decision or FindingState.OPEN}
        else:
            fix = document_of(again.fix)
            yield {**columns, "fix": fix, "state": row.decision or FindingState.OPEN}


def _state_of_the_gone(row: FindingRow) -> str:
    """An applied fix is what makes a finding go; anything else has become outdated."""
    is_applied = row.decision == FindingState.APPLIED
    return FindingState.APPLIED if is_applied else FindingState.OUTDATED


def _new_rows(
    farm_id: UUID, known: Mapping[str, FindingRow], found: Mapping[str, Finding]
) -> Iterator[dict[str, Any]]:
    return (_columns(farm_id, each) for key, each in found.items() if key not in known)


def _columns(farm_id: UUID, finding: Finding) -> dict[str, Any]:
    """A finding that nobody has decided about."""
    first = finding.first
    blocks = {row.block for row in finding.about}
    sources = {row.source for row in finding.about}
    return {
        "farm_id": farm_id,
        "key": finding.key,
        "co_op_id": first.co_op,
        "block_id": first.block if len(blocks) == 1 else None,
        "harvest_import_id": first.source if len(sources) == 1 else None,
        "kind": finding.kind.value,
        "season_year": first.season_year,
        "season_label": first.season_label,
        "about_on": finding.about_on,
        "rows": [{"kind": row.kind.value, "id": str(row.id)} for row in finding.about],
        "state": FindingState.OPEN.value,
        **_facts(finding),
    }


def _facts(finding: Finding) -> dict[str, Any]:
    return {
        "sentence": finding.sentence[:MAX_SENTENCE],
        "sure": Sure(finding.sure).value,
        "evidence": dict(finding.evidence),
        "fix": document_of(finding.fix),
        "effect_g": finding.fix.effect_g if finding.fix else 0,
    }


def document_of(fix: Fix | None) -> dict[str, Any] | None:
    if fix is None:
        return None
    return {"sentence": fix.sentence, "changes": [_change(change) for change in fix.changes]}


def _change(change: Change) -> dict[str, Any]:
    return {
        "kind": change.kind.value,
        "id": str(change.id),
        "version": change.version,
        "set": dict(change.fields),
        "from": dict(change.was),
        "retire": change.retires,
    }
