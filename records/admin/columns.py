"""Columns of lists and read-only fields of pages, made once for all of them."""

import json
from collections.abc import Callable
from functools import cache
from typing import Any
from urllib.parse import urlencode

from django.contrib import admin
from django.db.models import QuerySet
from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from records.admin.labels import label, tree_name

Shown = Callable[[Any], Any]


@cache
def column(path: str, title: str) -> Shown:
    """A list column that follows links (`block__code`) and sorts by what it shows."""

    def shown(record: Any) -> Any:
        value = record
        for name in path.split("__"):
            value = getattr(value, name, None)
        return value

    return _named(shown, path, title)


@cache
def tree(path: str) -> Shown:
    """What is on a tree's label, or else where it stands, as far as the reader may know it.

    `path` leads to the number, whether of the tree itself or of a linked one.
    """

    def shown(record: Any) -> str:
        found = record.tree if path.startswith("tree__") else record
        return tree_name(found, limited=getattr(record, "limited", False))

    return _named(shown, path, "tree")


@cache
def kilos(name: str, title: str) -> Shown:
    """Grams at rest, kilograms on the page."""

    def shown(record: Any) -> str:
        grams = getattr(record, name)
        return "-" if grams is None else f"{grams / 1000:,.3f}"

    return _named(shown, name, title)


@cache
def link(name: str) -> Shown:
    """The record that a field leads to, by its label."""

    def shown(record: Any) -> str:
        other = getattr(record, name)
        limited = getattr(record, "limited", False)
        return "-" if other is None else link_to(other, label(other, limited=limited))

    return _named(shown, name, words(name))


def linked_records(name: str, link_name: str, seen: QuerySet[Any]) -> Shown:
    """The records that a many-to-many link leads to, of those in `seen`."""

    def shown(record: Any) -> str:
        others = seen.filter(pk__in=getattr(record, link_name).values("pk"))
        limited = getattr(record, "limited", False) or None
        links = ((link_to(other, label(other, limited=limited)),) for other in others)
        return format_html_join(", ", "{}", links) or "-"

    return _named(shown, name, words(link_name))


@cache
def document(name: str) -> Shown:
    """JSON, laid out for reading."""

    def shown(record: Any) -> str:
        text = json.dumps(getattr(record, name), indent=1, ensure_ascii=False, default=str)
        return format_html("<pre>{}</pre>", text)

    return _named(shown, name, words(name))


def link_to(record: Any, text: str) -> str | SafeString:
    """A link to a record's page, or its bare name where it has none."""
    try:
        return format_html('<a href="{}">{}</a>', page_of(type(record), record.pk), text)
    except NoReverseMatch:
        return text


def page_of(model: Any, key: Any) -> str:
    """The address of a record's page."""
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_change", args=[key])


@cache
def rows(model: Any, path: str) -> Shown:
    """A link to the list of those rows of a model that lead to this record by `path`."""
    title = str(model._meta.verbose_name_plural)

    def shown(record: Any) -> str:
        return format_html('<a href="{}">{}</a>', rows_of(model, **way_to(record, path)), title)

    shown.__name__ = f"its_{model._meta.model_name}"
    shown.is_address = True  # type: ignore[attr-defined]
    return admin.display(description=title)(shown)


def way_to(record: Any, path: str) -> dict[str, Any]:
    """What a list is filtered by to show what leads to a record; its farm first, if it has one."""
    farm = getattr(record, "farm", None)
    return {"farm": farm, path: record} if farm is not None else {path: record}


def words(name: str) -> str:
    """A field's name as people write it."""
    return name.replace("co_op", "co-op").replace("_", " ")


def rows_of(model: Any, **where: Any) -> str:
    """The address of the list of a model's rows that lead to these records."""
    meta = model._meta
    query = urlencode({f"{name}__id__exact": record.pk for name, record in where.items()})
    return f"{reverse(f'admin:{meta.app_label}_{meta.model_name}_changelist')}?{query}"


def needed(column: Any) -> str:
    """The field that a column shows, or starts from; an address tells no more than the key."""
    if getattr(column, "is_address", False):
        return "pk"
    path = getattr(column, "admin_order_field", None) or column
    return str(path).partition("__")[0]


def _named(shown: Shown, path: str, title: str) -> Shown:
    shown.__name__ = path
    return admin.display(description=title, ordering=path)(shown)
