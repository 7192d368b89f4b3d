"""Weighings on their way into the database: gathered in a table of their own, batch by batch."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count, islice
from typing import Any, NamedTuple
from uuid import UUID

import orjson
from django.db import connection, transaction
from psycopg import Copy

from records.importing.cells import Fault
from records.importing.pages import Page
from records.importing.rows import RowProblem, WeighingRow
from records.models import HarvestImport, ImportFile, ImportProblem

BATCH = 5_000
# Of the progress shown; the rest is checking and landing.
READING_PERCENT = 80

AS_SENT = (
    *("import_id", "entry", "sheet", "row", "column", "farm", "picked_on"),
    *("block", "tree", "tree_row", "tree_position"),
    *("cultivar", "grade", "crop", "weight", "unit", "weight_kind", "tare_g", "containers"),
    *("container", "fruit_count", "docket", "ticket", "line", "pickers", "minutes", "note"),
)
# How many characters of a problem's texts are kept.
PROBLEM_TEXTS: dict[str, int] = {
    name: ImportProblem._meta.get_field(name).max_length  # type: ignore[misc, union-attr]  # texts
    for name in ("sheet", "column", "code", "value", "detail")
}
PROBLEM = ("farm_id", "harvest_import_id", "row", *PROBLEM_TEXTS, "is_warning")

REFUSE = """
UPDATE records_stagedweighing SET is_refused = true
WHERE import_id = %(import)s AND entry = ANY (%(entries)s)
"""


class SupersededError(Exception):
    """The import was taken over by another worker, or deleted, while this one read it."""


class Place(NamedTuple):
    """A staged entry, and where it stands: in a wide sheet, below which heading."""

    entry: int
    sheet: str
    row: int
    column: str


class Finding(NamedTuple):
    """What is wrong with an entry: in the first of these columns that its sheet has."""

    place: Place
    columns: tuple[str, ...]
    value: str
    fault: Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Staged:
    """An import's staged entries, each a weighing.

    By sheet: `headings` are the sender's words for the columns that say one thing for a whole row,
    `over` is the column whose values are the headings of a wide sheet, and `said` are all columns
    that it speaks of.
    """

    harvest_import: HarvestImport
    headings: Mapping[str, Mapping[str, str]]
    over: Mapping[str, str]
    said: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, harvest_import: HarvestImport, pages: Sequence[Page]) -> "Staged":
        by_sheet = {page.sheet.name: page for page in pages}
        return cls(
            harvest_import=harvest_import,
            headings={
                name: {one.column.name: one.text for one in (*page.supplied, *page.columns.fixed)}
                for name, page in by_sheet.items()
            },
            over={name: page.over for name, page in by_sheet.items() if page.over},
            said={name: page.said for name, page in by_sheet.items()},
        )

    def heading(self, *columns: str) -> str:
        """The sender's word for the first of these columns, by sheet, as JSON.

        A sheet without any is not in it: there they stand below wide headings.
        """
        found = {sheet: self._heading(sheet, columns) for sheet in self.headings}
        return orjson.dumps({sheet: text for sheet, text in found.items() if text}).decode()

    def run(self, statement: str, **values: Any) -> int:
        """Execute a statement on the staged entries; how many it touched."""
        with connection.cursor() as cursor:
            cursor.execute(statement, self._values(values))
            return cursor.rowcount

    def rows(self, statement: str, **values: Any) -> list[Any]:
        with connection.cursor() as cursor:
            cursor.execute(statement, self._values(values))
            return cursor.fetchall()

    def analyse(self) -> None:
        """Let the planner know the staged entries as they are now."""
        self.run("ANALYZE records_stagedweighing")

    def refuse(self, findings: Iterable[Finding]) -> None:
        """Note what is wrong and leave those entries out."""
        found = list(findings)
        note_problems(self.harvest_import, self._problems(found))
        self.run(REFUSE, entries=[finding.place.entry for finding in found])

    def warn(self, findings: Iterable[Finding]) -> None:
        note_problems(self.harvest_import, self._problems(findings), is_warning=True)

    def _problems(self, findings: Iterable[Finding]) -> Iterable[RowProblem]:
        """What is wrong with a whole row of several entries is told once."""
        return dict.fromkeys(map(self._problem, findings))

    def _problem(self, finding: Finding) -> RowProblem:
        place = finding.place
        return RowProblem(
            sheet=place.sheet,
            row=place.row,
            column=self._heading(place.sheet, finding.columns) or place.column,
            code=finding.fault.code,
            value=finding.value,
            detail=finding.fault.detail,
        )

    def _heading(self, sheet: str, columns: Sequence[str]) -> str:
        known = self.headings[sheet]
        return next((known[name] for name in columns if name in known), "")

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
    left, done, entries = iter(rows), 0, count(1)
    while batch := list(islice(left, BATCH)):
        done += len({(row.sheet, _number(row)) for row in batch})
        percent = min(READING_PERCENT, READING_PERCENT * done // max(row_count, 1))
        with transaction.atomic():
            note_progress(harvest_import, attempt, percent)
            _stage(
                harvest_import,
                ((next(entries), row) for row in batch if isinstance(row, WeighingRow)),
            )
            note_problems(harvest_import, [row for row in batch if isinstance(row, RowProblem)])


def _number(row: WeighingRow | RowProblem) -> int:
    return row.row_number if isinstance(row, WeighingRow) else row.row


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


def _stage(harvest_import: HarvestImport, rows: Iterable[tuple[int, WeighingRow]]) -> None:
    with _copy("records_stagedweighing", AS_SENT) as copy:
        for entry, row in rows:
            copy.write_row((harvest_import.pk, entry, row.sheet, *_as_sent(row)))


@contextmanager
def _copy(table: str, columns: Iterable[str]) -> Iterator[Copy]:
    names = ", ".join(f'"{name}"' for name in columns)
    cursor: Any
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
        yield copy


def _as_sent(row: WeighingRow) -> tuple[Any, ...]:
    return (
        row.row_number,
        row.column,
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
