"""Derived rows: what was computed takes the place of what is stored, where they differ."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db import connection
from django.db.models import Model, QuerySet

# Columns that say when a row was written, not what it says.
BOOKKEEPING = frozenset({"id", "version", "created_at", "updated_at", "fingerprint", "tick"})
BATCH = 500


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


def store(
    stored: QuerySet[Any], computed: Iterable[Mapping[str, Any]], *, key: Sequence[str]
) -> Written:
    """Make the stored rows say what was computed. Rows keep their ids; equal ones stay as is.

    A computed row is its columns' values, those left out being empty. Model instances are made
    of the rows that differ only: there may be a hundred thousand, and few change in a day.
    """
    model: Any = stored.model
    columns = told_columns(model)
    names = list(columns)
    place = [names.index(model._meta.get_field(name).attname) for name in key]
    old = {_pick(values, place): (pk, values) for pk, *values in stored.values_list("pk", *names)}
    new = {
        _pick(values, place): values
        for values in ([row.get(name, columns[name]) for name in names] for row in computed)
    }
    added = [model(**_named(names, values)) for found, values in new.items() if found not in old]
    changed = [
        model(pk=old[found][0], **_named(names, values))
        for found, values in new.items()
        if found in old and old[found][1] != values
    ]
    gone = [pk for found, (pk, _) in old.items() if found not in new]
    model._default_manager.bulk_create(added, batch_size=BATCH)
    if changed:
        # One statement a batch; the rows exist, so that every insert turns into an update.
        model._default_manager.bulk_create(
            changed, BATCH, update_conflicts=True, unique_fields=["id"], update_fields=names
        )
    stored.filter(pk__in=gone).delete()
    return Written(added=len(added), changed=len(changed), deleted=len(gone))


@cache
def told_columns(model: Any) -> dict[str, Any]:
    """The columns that say something, each with what it says when nothing is."""
    fields = [field for field in model._meta.concrete_fields if field.name not in BOOKKEEPING]
    return {field.attname: field.get_default() for field in fields}


def columns_of(row: Model) -> dict[str, Any]:
    """What a row, stored or not, says."""
    return {name: getattr(row, name) for name in told_columns(type(row))}


def _pick(values: Sequence[Any], places: Sequence[int]) -> tuple[Any, ...]:
    return tuple(values[place] for place in places)


def _named(names: Sequence[str], values: Sequence[Any]) -> dict[str, Any]:
    return dict(zip(names, values, strict=True))
