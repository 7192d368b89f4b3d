"""The rows below a record: what it is linked to, and lines of its own.

`given` is what a write names: by the name of a many-to-many field, records; by the name of a
line's reverse relation, the lines' values. What it does not name stays as stored.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Manager, ManyToManyField, ManyToOneRel, Model

from records.services.saving.faults import fault

Given = dict[str, list[Any]]


def as_given(links: dict[str, Iterable[Any] | None]) -> Given:
    """Lists of rows; a mapping becomes a list of its pairs."""
    return {name: _listed(rows) for name, rows in links.items() if rows is not None}


def _listed(rows: Iterable[Any]) -> list[Any]:
    return list(rows.items() if isinstance(rows, Mapping) else rows)


def linked(record: Any, given: Given, name: str) -> list[Any]:
    """The records that a link will lead to once the write is done."""
    if name in given or record._state.adding:
        return given.get(name, [])
    return list(getattr(record, name).all())


def check_same_farm(record: Any, given: Given) -> None:
    """A link leads to the record's own farm, or to reference data."""
    for name, rows in given.items():
        for row in rows:
            owner = getattr(row, "farm_id", None)
            if owner is not None and owner != record.farm_id:
                raise fault(name, "This belongs to another farm.", "other-farm")


def check_in_block(record: Any, trees: Iterable[Any], field: str = "trees") -> None:
    """Trees that a record of a block names stand in that block."""
    for tree in trees:
        if tree.block_id != record.block_id:
            raise fault(field, f"Tree {tree} stands in another block.", "tree-in-another-block")


def note_changes(record: Any, given: Given) -> None:
    """Let the record's version rise when only the rows below it change."""
    if record._state.adding or not hasattr(record, "links_version"):
        return
    if any(_differs(record, name, rows) for name, rows in given.items()):
        record.links_version += 1


def write(record: Any, given: Given) -> None:
    """Store the rows below a record that has just been stored itself."""
    for name, rows in given.items():
        if isinstance(record._meta.get_field(name), ManyToManyField):
            defaults = {"farm_id": record.farm_id}
            getattr(record, name).set(rows, through_defaults=defaults)
        elif _differs(record, name, rows):
            _replace(record, name, rows)


def _differs(record: Any, name: str, rows: list[Any]) -> bool:
    manager: Manager[Any] = getattr(record, name)
    if isinstance(record._meta.get_field(name), ManyToManyField):
        return {row.pk for row in rows} != set(manager.values_list("pk", flat=True))
    stored = Counter(map(_values, manager.all()))
    return stored != Counter(map(_values, _lines(record, name, rows)))


def _replace(record: Any, name: str, rows: list[Any]) -> None:
    lines = _lines(record, name, rows)
    getattr(record, name).all().delete()
    getattr(record, name).bulk_create(lines)


def _lines(record: Any, name: str, rows: list[dict[str, Any]]) -> list[Model]:
    relation: ManyToOneRel = record._meta.get_field(name)
    return [
        relation.related_model(
            **{relation.field.name: record, **row},
            **({} if {"farm", "farm_id"} & set(row) else {"farm_id": record.farm_id}),
        )
        for row in rows
    ]


def _values(line: Any) -> tuple[Any, ...]:
    """A line's own facts, whatever its id."""
    return tuple(
        getattr(line, field.attname) for field in line._meta.fields if not field.primary_key
    )
