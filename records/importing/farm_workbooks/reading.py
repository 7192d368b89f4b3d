"""From a workbook's bytes to entries, one a row, and what is wrong with its sheets and cells."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import takewhile

from records.importing.cells import Fault, Value, cell_reader
from records.importing.columns import HeadingMap, match_headings
from records.importing.contents import Content
from records.importing.farm_workbooks.declared import SHEETS, SheetKind
from records.importing.files import open_file
from records.importing.marks import Marks
from records.importing.sheets import (
    Cell,
    FileRefused,
    Row,
    Sheet,
    as_written,
    cell_at,
    check_limits,
    printable,
)
from records.importing.units import fold

HEADING_WITHIN_ROWS = 30
MAX_ENTRIES = 20_000  # a sheet
VALUE_CHARS = 100
SKIPPED = frozenset({"instructions", "instrucciones", "instrucoes"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is wrong, or odd, and where: sheet and row as the sender has them, row 0 for none."""

    sheet: str
    row: int
    column: str
    value: str
    code: str
    detail: str
    is_warning: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A row of a sheet: values by column name, without those that are blank."""

    kind: str
    sheet: str
    row: int
    values: dict[str, Value]
    headings: dict[str, str] = field(repr=False)
    cells: dict[str, str] = field(repr=False)

    def text(self, name: str) -> str:
        value = self.values.get(name, "")
        return value if isinstance(value, str) else ""

    def problem(self, column: str, code: str, detail: str, *, is_warning: bool = False) -> Problem:
        return Problem(
            sheet=self.sheet,
            row=self.row,
            column=self.headings.get(column, ""),
            value=self.cells.get(column, ""),
            code=code,
            detail=detail,
            is_warning=is_warning,
        )


@dataclass(slots=True, kw_only=True)
class Book:
    """What a workbook says: entries by the kind of their sheet."""

    entries: dict[str, list[Entry]] = field(default_factory=lambda: {s.name: [] for s in SHEETS})
    problems: list[Problem] = field(default_factory=list)


def read_book(content: bytes, file_name: str, today: date) -> Book:
    """Read every sheet that is known by its name. FileRefused if the file is no such workbook."""
    opened = open_file(Content.of(content), file_name, recognise=lambda row: 0)
    book = Book()
    if any(sheet.is_text for sheet in opened.sheets):
        raise FileRefused("unknown-type", "Send a workbook, XLSX or ODS: it has several sheets.")
    known = [(kind, sheet) for sheet in opened.sheets if (kind := _kind_of(sheet.name))]
    for kind, sheet in known:
        check_limits(sheet)
        _read_sheet(book, kind, sheet, today)
    _note_others(book, opened.sheets)
    if not known:
        raise FileRefused("no-such-sheet", f"None of its sheets is one of: {_names()}.")
    return book


def _kind_of(name: str) -> SheetKind | None:
    folded = fold(name)
    named = ((kind, (kind.name, *kind.synonyms)) for kind in SHEETS)
    return next((kind for kind, names in named if folded in map(fold, names)), None)


def _names() -> str:
    return ", ".join(kind.name for kind in SHEETS)


def _note_others(book: Book, sheets: tuple[Sheet, ...]) -> None:
    for sheet in sheets:
        if _kind_of(sheet.name) is None and fold(sheet.name) not in SKIPPED:
            text = f"This sheet is not read. Those read are: {_names()}."
            book.problems.append(_of_sheet(sheet, 0, "unknown-sheet", text, is_warning=True))


def _read_sheet(book: Book, kind: SheetKind, sheet: Sheet, today: date) -> None:
    found = _headings(kind, sheet)
    if found is None:
        needed = ", ".join(" or ".join(group) for group in kind.columns.required)
        text = f"No headings were recognised. Needed are columns for: {needed}."
        book.problems.append(_of_sheet(sheet, 0, "no-heading-row", text))
        return
    number, headings = found
    problems = list(_of_headings(sheet, number, headings))
    book.problems += problems
    if not all(problem.is_warning for problem in problems):
        return
    _read_rows(book, kind, sheet, number, headings, today)


def _headings(kind: SheetKind, sheet: Sheet) -> tuple[int, HeadingMap] | None:
    """The first row with all the columns that are needed, or else with the most, if two."""
    best: tuple[int, HeadingMap] | None = None
    for number, row in takewhile(lambda each: each[0] <= HEADING_WITHIN_ROWS, sheet.rows()):
        found = match_headings(row, kind.columns, {})
        if not found.missing:
            return number, found
        if len(found.used) > (len(best[1].used) if best else 1):
            best = number, found
    return best


def _of_headings(sheet: Sheet, row: int, headings: HeadingMap) -> Iterator[Problem]:
    for group in headings.missing:
        text = f"The sheet needs a column for {' or '.join(group)}."
        yield _of_sheet(sheet, row, "missing-column", text)
    for problem in headings.problems:
        yield _of_sheet(sheet, row, problem.code, problem.detail)
    for heading in headings.unused:
        text = f'The column "{heading}" is not known here and not read.'
        yield _of_sheet(sheet, row, "unknown-column", text, is_warning=True)


def _read_rows(
    book: Book, kind: SheetKind, sheet: Sheet, heading_row: int, headings: HeadingMap, today: date
) -> None:
    readers = [(one, cell_reader(one.column, Marks(), today)) for one in headings.used]
    texts = {one.column.name: one.text for one in headings.used}
    entries = book.entries[kind.name]
    for number, row in sheet.rows():
        if number <= heading_row:
            continue
        if len(entries) == MAX_ENTRIES:
            text = f"At most {MAX_ENTRIES:,} rows of a sheet are read at once. Split it."
            book.problems.append(_of_sheet(sheet, number, "too-many-rows", text))
            return
        entry = Entry(
            kind=kind.name,
            sheet=sheet.name,
            row=number,
            values={},
            headings=texts,
            cells={one.column.name: _shown(row, one.index) for one in headings.used},
        )
        for heading, read in readers:
            value = read(cell_at(row, heading.index))
            if isinstance(value, Fault):
                name = heading.column.name
                book.problems.append(entry.problem(name, value.code, value.detail))
            elif value not in (None, "", ()):
                entry.values[heading.column.name] = value
        if any(map(_is_said, row)):
            entries.append(entry)


def _is_said(cell: Cell) -> bool:
    return bool(as_written(cell).strip())


def _shown(row: Row, index: int) -> str:
    return printable(as_written(cell_at(row, index)))[:VALUE_CHARS]


def _of_sheet(
    sheet: Sheet, row: int, code: str, detail: str, *, is_warning: bool = False
) -> Problem:
    return Problem(
        sheet=sheet.name,
        row=row,
        column="",
        value="",
        code=code,
        detail=detail,
        is_warning=is_warning,
    )
