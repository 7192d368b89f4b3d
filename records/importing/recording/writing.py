"""A draft saved as a record, by every rule that the API has; what is wrong told by column."""

from collections import Counter
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ManyToManyField, Model

from records.importing.cells import Fault
from records.importing.recording.drafts import Draft, Recording
from records.importing.recording.seeking import Seeker
from records.services import saving


def added(draft: Draft, recording: Recording, **stamps: Any) -> Any:
    """A new record, saved. ValidationError if a rule is broken."""
    record = recording.model(**draft.facts, **draft.first, **stamps)
    return _saved(record, dict(draft.below))


def changed(record: Any, facts: dict[str, Any], below: dict[str, Any], **stamps: Any) -> Any:
    """A stored record with what the row says, saved. ValidationError if a rule is broken."""
    for name, value in {**facts, **stamps}.items():
        setattr(record, name, value)
    return _saved(record, below)


def _saved(record: Any, below: dict[str, Any]) -> Any:
    """Most rules cost a query each to be looked at alone, so the database looks at all of them
    first, and they are gone through only when it refuses."""
    unsaid = {f.name for f in record._meta.fields if f.is_relation or not f.editable}
    record.clean_fields(exclude=unsaid)
    try:
        return saving.save(record, **below)
    except IntegrityError:
        with transaction.atomic():
            record.validate_constraints()
        raise


def differing(
    record: Any, draft: Draft, said: frozenset[str], recording: Recording
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The facts and the rows below in which what the sheet says differs from what is stored."""
    facts = {
        name: value
        for name, value in draft.facts.items()
        if not said.isdisjoint(recording.columns(name)) and _stored(record, name) != _plain(value)
    }
    below = {
        name: rows
        for name, rows in draft.below.items()
        if not said.isdisjoint(recording.columns(name)) and _rows_differ(record, name, rows)
    }
    return facts, below


def _stored(record: Any, name: str) -> Any:
    return getattr(record, record._meta.get_field(name).attname)


def _plain(value: Any) -> Any:
    return value.pk if isinstance(value, Model) else value


def _rows_differ(record: Any, name: str, rows: list[Any]) -> bool:
    stored = getattr(record, name).all()
    if isinstance(record._meta.get_field(name), ManyToManyField):
        return {row.pk for row in rows} != {row.pk for row in stored}
    lines = Counter(tuple(_plain(value) for value in row.values()) for row in rows)
    names = list(rows[0]) if rows else []
    return lines != Counter(tuple(_stored(row, one) for one in names) for row in stored)


def blame(seek: Seeker, recording: Recording, error: ValidationError) -> None:
    """Tell each broken rule in the column that the field is said in."""
    for name, faults in error.error_dict.items():
        columns = () if name == NON_FIELD_ERRORS else recording.columns(name)
        for fault in faults:
            told = Fault(fault.code or "rule-broken", " ".join(fault.messages))
            seek.blame(told, *columns)
