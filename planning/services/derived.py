"""Derived rows: what was computed takes the place of what is stored, where they differ."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Model, QuerySet

# Columns that say when a row was written, not what it says.
BOOKKEEPING = frozenset({"id", "version", "created_at", "updated_at", "fingerprint", "tick"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """How many rows a rebuild wrote."""

    added: int
    changed: int
    deleted: int


def lock(name: str) -> None:
    """Let rebuilds of one thing follow each other, to the end of the transaction.

    Each reads after it has the lock, so that the last one to write has seen the most.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [name])


def store(stored: QuerySet[Any], computed: Iterable[Model], *, key: Sequence[str]) -> Written:
    """Make the stored rows say what was computed. Rows keep their ids; equal ones stay as is."""
    model = stored.model
    columns = [field.attname for field in model._meta.concrete_fields]
    told = [name for name in columns if name not in BOOKKEEPING]
    keyed = [model._meta.get_field(name).attname for name in key]
    old = {_values(row, keyed): row for row in stored}
    new = {_values(row, keyed): row for row in computed}
    added = [row for found, row in new.items() if found not in old]
    changed = [
        _take_over(old[found], row, told)
        for found, row in new.items()
        if found in old and _values(old[found], told) != _values(row, told)
    ]
    gone = [row.pk for found, row in old.items() if found not in new]
    model._default_manager.bulk_create(added, batch_size=500)
    if changed:
        # One statement a batch; the rows exist, so that every insert turns into an update.
        model._default_manager.bulk_create(
            changed, batch_size=500, update_conflicts=True, unique_fields=["id"], update_fields=told
        )
    stored.filter(pk__in=gone).delete()
    return Written(added=len(added), changed=len(changed), deleted=len(gone))


def _values(row: Model, names: Sequence[str]) -> tuple[Any, ...]:
    return tuple(getattr(row, name) for name in names)


def _take_over(row: Any, computed: Model, names: Sequence[str]) -> Any:
    for name in names:
        setattr(row, name, getattr(computed, name))
    return row
