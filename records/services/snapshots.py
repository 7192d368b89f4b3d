"""A record with the rows below it as plain values, and put back from them."""

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import ManyToManyField, Model

from records.models import FruitCount, Intake, PollinationRound, TaskLog
from records.services import saving

Plain = dict[str, Any]

# What makes a record: all columns but those that the database and `saving` keep for themselves.
KEPT = frozenset(
    {"id", "farm_id", "version", "created_at", "updated_at", "fingerprint", "tick", "links_version"}
)
# The rows below records of a model, by the names under which `saving.save` takes them.
BELOW: dict[type[Any], tuple[str, ...]] = {
    TaskLog: ("trees",),
    PollinationRound: ("trees",),
    FruitCount: ("rounds", "trees"),
    Intake: ("sorted_weights",),
}


def names_below(model: type[Any]) -> tuple[str, ...]:
    return BELOW.get(model, ())


def taken_of(record: Any) -> Plain:
    """A record's facts, and its rows by name: ids of what it is linked to, or lines of values."""
    rows = {name: _taken_rows(record, name) for name in names_below(type(record))}
    if isinstance(record, PollinationRound):
        rows["flowers_by_tree"] = [
            [link.tree_id, link.flowers]
            for link in record.tree_links.all()
            if link.flowers is not None
        ]
    return {"version": record.version, "facts": _facts(record, KEPT), "rows": rows}


def put_back(record: Any, taken: Plain) -> None:
    """Save a record as it was when `taken_of` saw it. ValidationError if that can no longer be."""
    for name, value in taken["facts"].items():
        setattr(record, name, _read(type(record), name, value))
    rows: dict[str, Any] = {
        name: _put_rows(type(record), name, given) for name, given in taken["rows"].items()
    }
    saving.save(record, **rows)


def _facts(row: Any, left_out: Iterable[str]) -> Plain:
    names = (field.attname for field in row._meta.concrete_fields)
    return {name: _plain(getattr(row, name)) for name in names if name not in left_out}


def _plain(value: Any) -> Any:
    """As JSON has it, digit for digit."""
    if isinstance(value, list):
        return [_plain(each) for each in value]
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value


def _read(model: type[Model], name: str, value: Any) -> Any:
    field = next(field for field in model._meta.concrete_fields if field.attname == name)
    return field.to_python(value)


def _taken_rows(record: Any, name: str) -> list[Any]:
    rows = getattr(record, name).all()
    field = record._meta.get_field(name)
    if isinstance(field, ManyToManyField):
        return [str(row.pk) for row in rows]
    return [_facts(row, {"id", "farm_id", field.field.attname}) for row in rows]


def _put_rows(model: type[Model], name: str, given: list[Any]) -> list[Any]:
    if name == "flowers_by_tree":
        return [(UUID(tree), flowers) for tree, flowers in given]
    field: Any = model._meta.get_field(name)
    if isinstance(field, ManyToManyField):
        return list(field.related_model._default_manager.filter(pk__in=given))
    line = field.related_model
    return [{key: _read(line, key, value) for key, value in row.items()} for row in given]
