"""Derived rows: what was computed takes the place of what is stored, where they differ.

The computed rows go by COPY into a temporary table, and a fixed number of statements makes the
stored ones equal to them, however many there are. Each farm with a difference takes its change
tick there and then: the rows are written with it, and the trigger that would write every one of
them a second time, at commit, has nothing left to do. So that nobody waits for whom they hold up,
what the rows point at is locked before the tick is taken.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any
from uuid import UUID

from django.db import connection, models
from django.db.models import Model, QuerySet
from psycopg.types.json import Jsonb

# Columns that say when a row was written, not what it says.
BOOKKEEPING = frozenset({"id", "version", "created_at", "updated_at", "fingerprint", "tick"})
ANALYSED = 2_000  # from so many rows on the planner is told what they are like

Row = Sequence[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """How many rows a rebuild wrote."""

    added: int = 0
    changed: int = 0
    deleted: int = 0

    def __add__(self, other: "Written") -> "Written":
        return Written(
            added=self.added + other.added,
            changed=self.changed + other.changed,
            deleted=self.deleted + other.deleted,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Comparison:
    """The SQL of a comparison of the stored rows of some scope with those computed."""

    table: str
    computed: str
    names: Sequence[str]
    scope: str
    params: tuple[Any, ...]
    match: str

    @property
    def joined(self) -> str:
        return f"{self.computed} c LEFT JOIN ({self.scope}) s ON {self.match}"

    @property
    def differs(self) -> str:
        stored, computed = (", ".join(f'{side}."{name}"' for name in self.names) for side in "sc")
        return f"ROW({stored}) IS DISTINCT FROM ROW({computed})"


def lock(*names: str) -> None:
    """Let rebuilds of one thing follow each other, to the end of the transaction.

    Each reads after it has the lock, so that the last one to write has seen the most.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_advisory_xact_lock(hashtextextended(name, 0))"
            " FROM (SELECT unnest(%s::text[]) AS name ORDER BY 1) names",
            [list(names)],
        )


def store(
    stored: QuerySet[Any], computed: Iterable[Mapping[str, Any]], *, key: Sequence[str]
) -> Written:
    """Make the stored rows say what was computed. Rows keep their ids; equal ones stay as is.

    A computed row is its columns' values, those left out being empty.
    """
    model: Any = stored.model
    columns = told_columns(model)
    documents = _documents(model, list(columns))
    rows = ([row.get(name, empty) for name, empty in columns.items()] for row in computed)
    written = (_with_documents(row, documents) for row in rows)
    return store_rows(stored, list(columns), written, key=key)


def store_rows(
    stored: QuerySet[Any],
    names: Sequence[str],
    computed: Iterable[Row],
    *,
    key: Sequence[str],
    keep_others: bool = False,
) -> Written:
    """As `store`, of rows as COPY takes them, in the order of `names`; others may be kept."""
    number = stage(stored.model, names, computed)
    each = _comparison(stored, names, key)
    with whole_scopes() as cursor:
        deleted = 0 if keep_others else _delete(cursor, stored, each)
        if not number:
            return Written(deleted=deleted)
        farms = _farms_that_differ(cursor, each)
        if not farms:
            return Written(deleted=deleted)
        _lock_parents(cursor, stored.model, each)
        ticks = _take_ticks(cursor, farms)
        cursor.execute("SELECT set_config('orchard.stamping', 'on', true)")
        changed = _update(cursor, each, ticks)
        added = _insert(cursor, each, ticks)
        cursor.execute("SELECT set_config('orchard.stamping', '', true)")
    return Written(added=added, changed=changed, deleted=deleted)


@contextmanager
def whole_scopes() -> Iterator[Any]:
    """For statements that compare all rows of two sides.

    The planner may not know yet how many there are, and is not to try each against each.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('enable_nestloop', 'off', true)")
        yield cursor
        cursor.execute("SELECT set_config('enable_nestloop', 'on', true)")


def stage(model: Any, names: Sequence[str], rows: Iterable[Row]) -> int:
    """Fill the temporary table of computed rows of a model; how many there are."""
    table, computed = model._meta.db_table, staged_table(model)
    columns = ", ".join(f'"{name}"' for name in names)
    cursor: Any
    with connection.cursor() as cursor:
        cursor.execute(
            f"CREATE TEMPORARY TABLE IF NOT EXISTS {computed} ON COMMIT DELETE ROWS AS"
            f" SELECT * FROM {table} WITH NO DATA"
        )
        cursor.execute(f"TRUNCATE {computed}")
        with cursor.copy(f"COPY {computed} ({columns}) FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
        number = cursor.rowcount
        if number >= ANALYSED:
            cursor.execute(f"ANALYZE {computed}")
    return int(number)


def staged_table(model: Any) -> str:
    return f"pg_temp.computed_{model._meta.db_table}"


@cache
def told_columns(model: Any) -> dict[str, Any]:
    """The columns that say something, each with what it says when nothing is."""
    fields = [field for field in model._meta.concrete_fields if field.name not in BOOKKEEPING]
    return {field.attname: field.get_default() for field in fields}


def columns_of(row: Model) -> dict[str, Any]:
    """What a row, stored or not, says."""
    return {name: getattr(row, name) for name in told_columns(type(row))}


def _documents(model: Any, names: Sequence[str]) -> list[int]:
    """The places of JSON columns."""
    kinds = {field.attname: field for field in model._meta.concrete_fields}
    return [place for place, name in enumerate(names) if isinstance(kinds[name], models.JSONField)]


def _with_documents(row: Row, places: Sequence[int]) -> Row:
    values = list(row)
    for place in places:
        if values[place] is not None:
            values[place] = Jsonb(values[place])
    return values


def _comparison(stored: QuerySet[Any], names: Sequence[str], key: Sequence[str]) -> _Comparison:
    meta = stored.model._meta
    scope, params = stored.order_by().values("id", *names).query.sql_with_params()
    fields = [meta.get_field(name) for name in ("farm", *key) if name != "farm" or _has_farm(meta)]
    return _Comparison(
        table=meta.db_table,
        computed=staged_table(stored.model),
        names=names,
        scope=scope,
        params=params,
        match=" AND ".join(_equal(field) for field in fields),
    )


def _has_farm(meta: Any) -> bool:
    return any(field.name == "farm" for field in meta.concrete_fields)


def _equal(field: Any) -> str:
    """Two nulls are equal, in a way that a hash join can use."""
    name = field.attname
    if not field.null:
        return f's."{name}" = c."{name}"'
    return f"coalesce(s.\"{name}\"::text, '') = coalesce(c.\"{name}\"::text, '')"


def _delete(cursor: Any, stored: QuerySet[Any], each: _Comparison) -> int:
    """Delete the stored rows of the scope that were not computed."""
    gone = (
        f"SELECT s.id FROM ({each.scope}) s"
        f" WHERE NOT EXISTS (SELECT FROM {each.computed} c WHERE {each.match})"
    )
    cursor.execute(gone, each.params)
    ids = [pk for (pk,) in cursor.fetchall()]
    if ids:
        stored.model._default_manager.filter(pk__in=ids).delete()
    return len(ids)


def _farms_that_differ(cursor: Any, each: _Comparison) -> list[UUID | None]:
    """Those with rows that are new or changed; None stands for rows of no farm."""
    cursor.execute(
        f"SELECT DISTINCT c.farm_id FROM {each.joined} WHERE s.id IS NULL OR {each.differs}",
        each.params,
    )
    return [farm_id for (farm_id,) in cursor.fetchall()]


def _lock_parents(cursor: Any, model: Any, each: _Comparison) -> None:
    """Whoever is about to delete what the rows point at is waited for first."""
    for field in model._meta.concrete_fields:
        if isinstance(field, models.ForeignKey) and field.attname in each.names:
            parent = field.related_model._meta
            cursor.execute(
                f"SELECT count(*) FROM (SELECT FROM {parent.db_table} WHERE {parent.pk.column} IN"
                f' (SELECT DISTINCT "{field.attname}" FROM {each.computed}) FOR KEY SHARE) locked'
            )


def _take_ticks(cursor: Any, farms: Iterable[UUID | None]) -> tuple[list[UUID], list[int]]:
    """In the order of farms, as the trigger takes them at commit."""
    cursor.execute(
        "SELECT farm, orchard_tick(farm, true)"
        " FROM (SELECT unnest(%s::uuid[]) AS farm ORDER BY 1) farms",
        [[farm for farm in farms if farm is not None]],
    )
    taken = cursor.fetchall()
    return [farm for farm, _ in taken], [tick for _, tick in taken]


TICKS = "LEFT JOIN unnest(%s::uuid[], %s::bigint[]) k (farm_id, tick) ON k.farm_id = c.farm_id"


def _update(cursor: Any, each: _Comparison, ticks: tuple[list[UUID], list[int]]) -> int:
    values = ", ".join(f'"{name}" = c."{name}"' for name in each.names)
    cursor.execute(
        f"UPDATE {each.table} t SET {values},"
        " version = t.version + 1, updated_at = now(), tick = k.tick"
        f" FROM {each.computed} c JOIN ({each.scope}) s ON {each.match} {TICKS}"
        f" WHERE t.id = s.id AND {each.differs}",
        [*each.params, *ticks],
    )
    return int(cursor.rowcount)


def _insert(cursor: Any, each: _Comparison, ticks: tuple[list[UUID], list[int]]) -> int:
    """In the order in which they were computed, which the ids keep."""
    names = ", ".join(f'"{name}"' for name in each.names)
    values = ", ".join(f'c."{name}"' for name in each.names)
    cursor.execute(
        f"INSERT INTO {each.table} (id, tick, {names})"
        f" SELECT uuidv7(), n.* FROM (SELECT k.tick, {values} FROM {each.joined} {TICKS}"
        " WHERE s.id IS NULL ORDER BY c.ctid) n",
        [*each.params, *ticks],
    )
    return int(cursor.rowcount)
