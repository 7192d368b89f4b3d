"""The audit history as pages: what became of a record, and everything that happened on a farm."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.db.models import Field, ForeignKey, Model
from django.urls import NoReverseMatch

from records.admin.columns import page_of
from records.admin.labels import label
from records.models import Farm
from records.services import history

PAGE = 100
SALT = "orchard.admin.history"
# How a change came about, as the middleware, the import and the commands note it.
WAYS = ("token", "harvest_import", "farm_workbook", "command", "request")


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    field: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One change, ready to be shown."""

    at: dt.datetime
    action: str
    by: str
    way: str
    details: list[Detail]
    kind: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    lines: list[Line]
    older: str = ""


def page(record: Any, cursor: str) -> Page:
    """A record's changes, the latest first; a farm's are those of everything on it."""
    return _of_farm(record, cursor) if isinstance(record, Farm) else _of_record(record, cursor)


# One record ----------------------------------------------------------------------------------


def _of_record(record: Any, cursor: str) -> Page:
    events: Any = history.history_of(type(record))._default_manager.filter(pgh_obj_id=record.pk)
    before = _read(cursor)
    if before is not None:
        events = events.filter(pgh_id__lt=before)
    found = list(events.select_related("pgh_context").order_by("-pgh_id")[: PAGE + 1])
    names = _names(found)
    lines = [
        _line(event, older, names)
        for event, older in zip(found[:PAGE], [*found[1:], None], strict=False)
    ]
    more = len(found) > PAGE
    return Page(lines=lines, older=signing.dumps(found[PAGE - 1].pk, salt=SALT) if more else "")


def _line(event: Any, older: Any, names: dict[Any, str]) -> Line:
    made_by = event.pgh_context.metadata if event.pgh_context else {}
    return Line(
        at=event.pgh_created_at,
        action=history.ACTIONS[event.pgh_label],
        by=_who(made_by),
        way=_way(made_by),
        details=list(_details(event, older, names)),
    )


def _details(event: Any, older: Any, names: dict[Any, str]) -> Iterator[Detail]:
    """What the change made different; of a new record, everything it says."""
    for field in _own_fields(type(event)):
        after = getattr(event, field.attname)
        before = getattr(older, field.attname) if older is not None else None
        if after != before and field.name != "version":
            yield Detail(
                field=str(field.verbose_name),
                before=_text(before, names),
                after=_text(after, names),
            )


def _names(events: list[Any]) -> dict[Any, str]:
    """The labels of the records that the events' links lead to, with one query a link."""
    names: dict[Any, str] = {}
    for field in _own_fields(type(events[0])) if events else ():
        if isinstance(field, ForeignKey):
            linked: Any = field.related_model
            keys = {getattr(event, field.attname) for event in events} - names.keys() - {None}
            names |= {row.pk: label(row) for row in _linked(linked, keys)}
    return names


def _linked(model: Any, keys: set[Any]) -> Iterable[Any]:
    ways = [name for name in ("farm", "block", "co_op") if _has_link(model, name)]
    rows = model._default_manager.filter(pk__in=keys)
    return rows.select_related(*ways) if ways else rows


def _has_link(model: type[Model], name: str) -> bool:
    return any(field.name == name and field.is_relation for field in model._meta.fields)


def _own_fields(model: type[Model]) -> list[Field]:
    fields: list[Any] = [f for f in model._meta.concrete_fields if not f.name.startswith("pgh_")]
    return [field for field in fields if field.name != "id"]


# A farm ----------------------------------------------------------------------------------------


def _of_farm(farm: Farm, cursor: str) -> Page:
    position = _read(cursor)
    before = (dt.datetime.fromisoformat(position[0]), *position[1:]) if position else None
    found = history.changes(farm.pk, kinds=list(history.KINDS), before=before, limit=PAGE + 1)
    more = len(found) > PAGE
    return Page(
        lines=[_farm_line(change) for change in found[:PAGE]],
        older=_cursor_behind(found[PAGE - 1]) if more else "",
    )


def _farm_line(change: history.Change) -> Line:
    return Line(
        at=change.at,
        action=change.action,
        by=_who(change.made_by),
        way=_way(change.made_by),
        details=[
            Detail(field=name.replace("_", " "), before="", after=_text(value, {}))
            for name, value in change.values.items()
            if value not in (None, "", [])
        ],
        kind=change.kind.replace("-", " "),
        url="" if change.action == "deleted" else _url(change),
    )


def _url(change: history.Change) -> str:
    events: Any = history.KINDS[change.kind]
    try:
        return page_of(events.pgh_tracked_model, change.record)
    except NoReverseMatch:
        return ""


def _cursor_behind(change: history.Change) -> str:
    return signing.dumps([change.at.isoformat(), change.kind, change.event], salt=SALT)


# Words -----------------------------------------------------------------------------------------


def _read(cursor: str) -> Any:
    """The position in a cursor of our own; a made-up one starts at the top."""
    try:
        return signing.loads(cursor, salt=SALT) if cursor else None
    except signing.BadSignature:
        return None


def _who(made_by: dict[str, Any]) -> str:
    return str(made_by.get("by") or "the service")


def _way(made_by: dict[str, Any]) -> str:
    for name in WAYS:
        if name in made_by:
            return f"{name.replace('_', ' ')} {made_by[name]}"
    return ""


def _text(value: Any, names: dict[Any, str]) -> str:
    if value is None or value == "":
        return "nothing"
    return names.get(value, str(value)) if not isinstance(value, list | dict) else str(value)
