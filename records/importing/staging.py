"""Weighings on their way into the database: gathered in a table of their own, batch by batch."""

import secrets
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any, NamedTuple
from uuid import UUID

import orjson
from django.db import connection, transaction
from django.db.models.functions import Greatest
from psycopg import Copy

from records.importing.cells import Fault
from records.importing.pages import Page
from records.importing.plainrows import FIELDS, PlainRow, as_copied
from records.importing.rows import RowProblem, WeighingRow
from records.models import HarvestImport, ImportFile, ImportProblem

BATCH = 5_000
# Of the progress shown; the rest is checking and landing.
READING_PERCENT = 80

AS_SENT = ("import_id", "farm_id", "entry", "new_id", *FIELDS)
_NONE = r"\N"
# How many characters of a problem's texts are kept.
PROBLEM_TEXTS: dict[str, int] = {
    name: ImportProblem._meta.get_field(name).max_length  # type: ignore[misc, union-attr]  # texts
    for name in ("sheet", "column", "code", "value", "detail")
}
PROBLEM = ("farm_id", "harvest_import_id", "row", *PROBLEM_TEXTS, "is_warning")

REFUSE = """
UPDATE records_stagedweighing SET is_refused = true, is_new = false, is_changed = false
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
        if found:
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
        return {
            "import": ours.pk,
            "farm": ours.farm_id,
            "co_op": ours.co_op_id,
            "series": ours.series,
            **values,
        }


def gather(
    harvest_import: HarvestImport,
    attempt: UUID,
    rows: Iterable[PlainRow | WeighingRow | RowProblem],
    row_count: int,
) -> None:
    """Stage every weighing and note every problem, a batch a transaction.

    SupersededError if the reading is no longer the import's own.
    """
    left, done, entries = iter(rows), 0, Entries(harvest_import)
    while batch := list(islice(left, BATCH)):
        done += _number_of_rows(batch)
        percent = min(READING_PERCENT, READING_PERCENT * done // max(row_count, 1))
        with transaction.atomic():
            note_progress(harvest_import, attempt, percent)
            with _copy("records_stagedweighing", AS_SENT) as copy:
                copy.write("".join(entries.lines(batch)))
            note_problems(harvest_import, [row for row in batch if isinstance(row, RowProblem)])


class Entries:
    """Numbers staged rows, and makes the ids of the weighings that they may become.

    The ids are of version 7: time, then the entry's number in place of chance, so that they sort
    as the entries do, then chance.
    """

    def __init__(self, harvest_import: HarvestImport) -> None:
        self._of = f"{harvest_import.pk}\t{harvest_import.farm_id or _NONE}"
        self._number = 0
        self._time = f"{time.time_ns() // 1_000_000:012x}"
        self._chance = secrets.token_hex(4)

    def lines(self, rows: Iterable[PlainRow | WeighingRow | RowProblem]) -> Iterator[str]:
        for row in rows:
            if not isinstance(row, RowProblem):
                text = row.text if isinstance(row, PlainRow) else _as_sent(row)
                self._number += 1
                yield f"{self._of}\t{self._number}\t{self._id()}\t{text}\n"

    def _id(self) -> str:
        number = self._number
        high, middle, low = number >> 30, number >> 16 & 0x3FFF, number & 0xFFFF
        return f"{self._time}7{high:03x}{0x8000 | middle:04x}{low:04x}{self._chance}"


def _number_of_rows(batch: Iterable[PlainRow | WeighingRow | RowProblem]) -> int:
    """Of the sender's: one of a wide sheet is several entries, and may have several problems."""
    plain, others = 0, set()
    for row in batch:
        if isinstance(row, PlainRow):
            plain += 1
        else:
            number = row.row_number if isinstance(row, WeighingRow) else row.row
            others.add((row.sheet, number))
    return plain + len(others)


def note_progress(harvest_import: HarvestImport, attempt: UUID, percent: int) -> None:
    """Percent of the way; what is landing does not fall back. SupersededError if taken over."""
    ours = ImportFile.objects.filter(pk=harvest_import.pk, attempt=attempt)
    if not ours.update(progress=Greatest("progress", percent)):
        raise SupersededError


def require_ours(harvest_import: HarvestImport, attempt: UUID) -> None:
    """As `note_progress`, of a reading that makes none."""
    if not ImportFile.objects.filter(pk=harvest_import.pk, attempt=attempt).exists():
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


@contextmanager
def _copy(table: str, columns: Iterable[str]) -> Iterator[Copy]:
    names = ", ".join(f'"{name}"' for name in columns)
    cursor: Any
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
        yield copy


def _as_sent(row: WeighingRow) -> str:
    """In the order of `FIELDS`, as COPY takes it."""
    values = (
        row.sheet,
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
        row.pickers,
        row.minutes,
        row.note,
    )
    return "\t".join(map(as_copied, values))
