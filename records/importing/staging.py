"""Rows on their way into the database: gathered in a table of their own, batch by batch."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from psycopg import Copy

from records.importing.columns import HeadingMap
from records.importing.rows import RowProblem, WeighingRow
from records.models import HarvestImport, ImportFile, ImportProblem

BATCH = 5_000
# Of the progress shown; the rest is checking and landing.
READING_PERCENT = 80

AS_SENT = (
    *("import_id", "row", "farm", "picked_on", "block", "tree", "tree_row", "tree_position"),
    *("cultivar", "grade", "crop", "weight", "unit", "weight_kind", "tare_g", "containers"),
    *("container", "fruit_count", "docket", "ticket", "line", "pickers", "minutes", "note"),
)
# How many characters of a problem's texts are kept.
PROBLEM_TEXTS: dict[str, int] = {
    name: ImportProblem._meta.get_field(name).max_length  # type: ignore[misc, union-attr]  # texts
    for name in ("column", "code", "value", "detail")
}
PROBLEM = ("farm_id", "harvest_import_id", "row", *PROBLEM_TEXTS, "is_warning")


class SupersededError(Exception):
    """The import was taken over by another worker, or deleted, while this one read it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """An import's staged rows. `headings` says how the sender's sheet calls its columns."""

    harvest_import: HarvestImport
    headings: Mapping[str, str]

    @classmethod
    def of(cls, harvest_import: HarvestImport, columns: HeadingMap) -> "Staged":
        used = {heading.column.name: heading.text for heading in columns.used}
        return cls(harvest_import=harvest_import, headings=used)

    def heading(self, *columns: str) -> str:
        """The sender's word for the first of these columns that the sheet has."""
        return next((self.headings[name] for name in columns if name in self.headings), columns[0])

    def run(self, statement: str, **values: Any) -> int:
        """Execute a statement on the staged rows; how many it touched."""
        with connection.cursor() as cursor:
            cursor.execute(statement, self._values(values))
            return cursor.rowcount

    def rows(self, statement: str, **values: Any) -> list[Any]:
        with connection.cursor() as cursor:
            cursor.execute(statement, self._values(values))
            return cursor.fetchall()

    def refuse(self, problems: Iterable[RowProblem]) -> None:
        note_problems(self.harvest_import, problems)

    def warn(self, problems: Iterable[RowProblem]) -> None:
        note_problems(self.harvest_import, problems, is_warning=True)

    def _values(self, values: dict[str, Any]) -> dict[str, Any]:
        ours = self.harvest_import
        return {"import": ours.pk, "farm": ours.farm_id, "series": ours.series, **values}


def gather(
    harvest_import: HarvestImport,
    attempt: UUID,
    rows: Iterable[WeighingRow | RowProblem],
    row_count: int,
) -> None:
    """Stage every weighing and note every problem, a batch a transaction.

    SupersededError if the reading is no longer the import's own.
    """
    left, done = iter(rows), 0
    while batch := list(islice(left, BATCH)):
        done += len(batch)
        percent = min(READING_PERCENT, READING_PERCENT * done // max(row_count, 1))
        with transaction.atomic():
            note_progress(harvest_import, attempt, percent)
            _stage(harvest_import, [row for row in batch if isinstance(row, WeighingRow)])
            note_problems(harvest_import, [row for row in batch if isinstance(row, RowProblem)])


def note_progress(harvest_import: HarvestImport, attempt: UUID, percent: int) -> None:
    ours = ImportFile.objects.filter(pk=harvest_import.pk, attempt=attempt)
    if not ours.update(progress=percent):
        raise SupersededError


def clear(import_id: UUID) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM records_stagedweighing WHERE import_id = %s", [import_id])


def note_problems(
    harvest_import: HarvestImport, problems: Iterable[RowProblem], *, is_warning: bool = False
) -> None:
    found = list(problems)
    ours = (harvest_import.farm_id, harvest_import.pk)
    with _copy("records_importproblem", PROBLEM) as copy:
        for problem in found:
            texts = [getattr(problem, name)[:limit] for name, limit in PROBLEM_TEXTS.items()]
            copy.write_row((*ours, problem.row, *texts, is_warning))


def _stage(harvest_import: HarvestImport, rows: Iterable[WeighingRow]) -> None:
    with _copy("records_stagedweighing", AS_SENT) as copy:
        for row in rows:
            copy.write_row((harvest_import.pk, *_as_sent(row)))


@contextmanager
def _copy(table: str, columns: Iterable[str]) -> Iterator[Copy]:
    names = ", ".join(f'"{name}"' for name in columns)
    cursor: Any
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
        yield copy


def _as_sent(row: WeighingRow) -> tuple[Any, ...]:
    return (
        row.row_number,
        row.farm,
        row.picked_on,
        row.block,
        row.tree,
        row.row,
        row.position,
        row.cultivar,
        row.grade,
        row.crop,
        row.weight,
        row.unit,
        row.weight_is or "gross",
        row.tare_total_g,
        row.containers,
        row.container,
        row.fruit_count,
        row.docket,
        row.ticket,
        row.line,
        list(row.pickers),
        row.minutes,
        row.note,
    )
