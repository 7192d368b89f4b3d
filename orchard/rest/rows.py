"""Pages of the largest lists, read as plain rows.

What a serializer makes of a record takes ten times as long as reading it. `PlainRows` says the same
of most records straight from their columns, and leaves those of which more is to be said to the
serializer. A test holds the two equal.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from operator import itemgetter
from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Case, DateTimeField, F, Func, Q, QuerySet, Value, When
from django.db.models.expressions import RawSQL
from django.db.models.fields import TextField
from django.db.models.functions import TruncSecond

from orchard.rest.serializers import RecordSerializer

Row = dict[str, Any]
PAGE = """
WITH page AS MATERIALIZED (SELECT row_number() OVER () AS place, found.* FROM ({finding}) found)
{reading}
"""


class UtcText(Func):
    """A time as the serializer writes it; the driver would make an object of each first."""

    function = "to_char"
    output_field = TextField()

    def __init__(self, name: str) -> None:
        whole = When(**{name: TruncSecond(name)}, then=Value('YYYY-MM-DD"T"HH24:MI:SS"Z"'))
        parts = Case(whole, default=Value('YYYY-MM-DD"T"HH24:MI:SS.US"Z"'))
        in_utc = Func(Value("UTC"), F(name), function="timezone")
        super().__init__(in_utc, parts)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlainRows:
    """How the rows of a resource are read.

    `computed` are fields of the serializer that are no columns, as the expressions that give
    them; `needs_record` says of which rows only the serializer can tell all.
    """

    serializer: type[RecordSerializer]
    computed: Mapping[str, Any]
    needs_record: Q

    def read(self, found: QuerySet[Any]) -> list[Row]:
        """Each row by the serializer's fields, with `limited` and `needs_record`.

        Only what finds the rows is put together anew each time; what is read of them is always
        the same, and would take longer to put together than to read.
        """
        sought = found.prefetch_related(None).values_list("pk", "limited")
        try:
            finding, given = sought.query.sql_with_params()
        except EmptyResultSet:
            return []
        names, reading, params = _reading(self)
        with connection.cursor() as cursor:
            cursor.execute(PAGE.format(finding=finding, reading=reading), (*given, *params))
            rows = sorted(cursor, key=itemgetter(-1))
        return [dict(zip(names, row, strict=False)) for row in rows]

    def shown(
        self, rows: Sequence[Row], records: Callable[[], QuerySet[Any]], context: Mapping[str, Any]
    ) -> list[Row]:
        """Rows as the caller is shown them; `records` gives those that the caller may see."""
        whole = [row["id"] for row in rows if row["needs_record"] and not row["limited"]]
        found = records().in_bulk(whole) if whole else {}
        withheld = dict.fromkeys(_withheld(self.serializer))
        return [
            self.serializer(found[row["id"]], context=context).data
            if row["id"] in found
            else self._plain(row, withheld)
            for row in rows
        ]

    def _plain(self, row: Row, withheld: Row) -> Row:
        del row["needs_record"]
        row["warnings"] = []
        return {**row, **withheld} if row.pop("limited") else row


@cache
def _reading(plain: PlainRows) -> tuple[list[str], str, tuple[Any, ...]]:
    """What is read of the rows of a page: names, the statement, and its parameters."""
    meta: Any = plain.serializer.Meta
    names = [name for name in meta.fields if name != "warnings"]
    times = {field.name for field in meta.model._meta.fields if isinstance(field, DateTimeField)}
    expressions = {
        **{name: UtcText(name) for name in names if name in times},
        **plain.computed,
        "needs_record": plain.needs_record,
        "limited": RawSQL("page.limited", []),
        "place": RawSQL("page.place", []),
    }
    names += ["needs_record", "limited", "place"]
    rows = meta.model._base_manager.order_by().annotate(
        **{f"{name}_read": expression for name, expression in expressions.items()}
    )
    columns = [f"{name}_read" if name in expressions else name for name in names]
    statement, params = rows.values_list(*columns).query.sql_with_params()
    table = meta.model._meta.db_table
    return names[:-1], f"{statement} JOIN page ON page.pk = {table}.id", params


@cache
def _withheld(serializer: type[RecordSerializer]) -> set[str]:
    """The fields that a limited right does not show."""
    meta: Any = serializer.Meta
    return set(meta.fields) - {*meta.shared, *serializer.base_fields}
