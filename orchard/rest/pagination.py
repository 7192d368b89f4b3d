"""Pages by position, not by number: the next page starts after the last row's sort key and id.

The order is total (it ends in the unique id), so a walk ends, and a row that was there all the
time comes exactly once, whatever is inserted or deleted meanwhile.
"""

import hashlib
import re
from typing import Any

from django.core import signing
from django.core.exceptions import ValidationError
from django.db.models import BooleanField, F, Func, Q, QuerySet, Value
from django.db.models.lookups import GreaterThan, LessThan
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from orchard.rest.problems import Problem

PAGE_SIZE = 100
MAX_PAGE_SIZE = 500
SALT = "orchard.page"
PAGE_PARAMETERS = frozenset({"cursor", "page_size", "ordering", "format"})


class KeysetPagination(BasePagination):
    """`view.orderings` names the fields a list may be sorted by; a leading minus reverses.

    `view.read_page` reads the rows of a page, as records or as plain rows.
    """

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.request = request
        ordering = chosen_ordering(request, view)
        field = ordering.lstrip("-")
        size = page_size(request)
        queryset = queryset.order_by(*sort_keys(ordering))
        if cursor := request.query_params.get("cursor"):
            queryset = queryset.filter(self._after(queryset, ordering, cursor))
        rows: list[Any] = view.read_page(queryset[: size + 1])
        self.next = self._cursor(rows[size - 1], ordering, field) if len(rows) > size else None
        return rows[:size]

    def get_paginated_response(self, data: Any) -> Response:
        link = None
        if self.next:
            link = replace_query_param(self.request.build_absolute_uri(), "cursor", self.next)
        return page_response(link, data)

    def _cursor(self, row: Any, ordering: str, field: str) -> str:
        if isinstance(row, dict):
            key, pk = str(row[field]), row["id"]
        else:
            key, pk = row._meta.get_field(field).value_to_string(row), row.pk
        return signing.dumps([ordering, self._filters(), key, str(pk)], salt=SALT, compress=True)

    def _after(self, queryset: QuerySet[Any], ordering: str, cursor: str) -> Q:
        """Rows behind the cursor's; refused when it was made for another list."""
        try:
            made_for, filters, key, pk = signing.loads(cursor, salt=SALT)
        except (signing.BadSignature, ValueError):
            raise bad_parameter("cursor", "is not one that this service made.") from None
        if made_for != ordering or filters != self._filters():
            raise bad_parameter("cursor", "was made for another ordering or other filters.")
        field = queryset.model._meta.get_field(ordering.lstrip("-"))
        try:
            value = field.to_python(key)
        except ValidationError:
            raise bad_parameter("cursor", "is not one that this service made.") from None
        # Compared as one, the two enter the index at the right place, however many rows are alike.
        row = _row(F(field.name), F("pk"))
        last = _row(Value(value, field), Value(pk, queryset.model._meta.pk))
        return Q(LessThan(row, last) if ordering.startswith("-") else GreaterThan(row, last))

    def _filters(self) -> str:
        """What the list is narrowed by, so that a cursor is not used on another one."""
        kept = sorted(
            (name, values)
            for name, values in self.request.query_params.lists()
            if name not in {"cursor", "page_size"}
        )
        return hashlib.sha256(f"{self.request.path} {kept}".encode()).hexdigest()[:16]

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["next", "results"],
            "properties": {
                "next": {"type": ["string", "null"], "format": "uri"},
                "results": schema,
            },
        }

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        names = sorted({*view.orderings, *(f"-{name}" for name in view.orderings)})
        size = {"type": "integer", "minimum": 1, "maximum": MAX_PAGE_SIZE, "default": PAGE_SIZE}
        order = {"type": "string", "enum": names, "default": view.orderings[0]}
        return [
            _parameter("cursor", "Where the page starts; take it from `next`.", {"type": "string"}),
            _parameter("page_size", "Rows a page.", size),
            _parameter("ordering", "The sort key; ties are sorted by id.", order),
        ]


def _row(*parts: Any) -> Func:
    return Func(*parts, function="ROW", output_field=BooleanField())


def _parameter(name: str, description: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": name,
        "in": "query",
        "required": False,
        "description": description,
        "schema": schema,
    }


def page_size(request: Request) -> int:
    text = request.query_params.get("page_size", str(PAGE_SIZE))
    if not re.fullmatch("[0-9]{1,4}", text) or not 1 <= int(text) <= MAX_PAGE_SIZE:
        raise bad_parameter("page_size", f"must be a whole number from 1 to {MAX_PAGE_SIZE}.")
    return int(text)


def page_response(link: str | None, rows: Any) -> Response:
    headers = {"Link": f'<{link}>; rel="next"'} if link else None
    return Response({"next": link, "results": rows}, headers=headers)


def sort_keys(ordering: str) -> list[str]:
    return [ordering, "-pk" if ordering.startswith("-") else "pk"]


def chosen_ordering(request: Request, view: Any) -> str:
    ordering: str = request.query_params.get("ordering", view.orderings[0])
    if ordering.removeprefix("-") not in view.orderings:
        raise bad_parameter("ordering", f"must be one of {', '.join(view.orderings)}.")
    return ordering


def bad_parameter(name: str, fault: str, *, code: str = "invalid-value") -> Problem:
    detail = f"{name} {fault}"
    return Problem(
        "invalid-request",
        detail,
        errors=[{"parameter": name, "code": code, "detail": detail}],
    )
