"""A member's file, from its bytes to weighings: detect, match, decide, read."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import chain
from typing import Generic, TypeVar

from records.importing.columns import Heading, HeadingMap, Kind
from records.importing.contents import Content
from records.importing.files import OpenFile, open_file
from records.importing.lines import Line
from records.importing.marks import (
    EvidenceGatherer,
    Marks,
    Question,
    Reckoning,
    ask_unit,
    settled_unit,
)
from records.importing.pages import Page, Search, find_pages
from records.importing.remarks import Observer, Remark, of_left_out
from records.importing.rowreader import RowReader
from records.importing.rows import WEIGHINGS, RowKind, RowProblem, WeighingRow
from records.importing.sheets import Row as Cells
from records.importing.units import fold
from records.importing.wide import Known, understand
from records.importing.written import DateOrder, DecimalMark

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What is known before reading.

    The first group overrides what the file shows; a cell that contradicts an overriding mark is a
    problem. The `saved_` ones are the member's and decide only where the file does not tell.
    `unit` and `saved_unit` are for weights that name no unit themselves. `mapping` says
    {heading: column name}; "net by grade: Extra" for a heading of a wide sheet, "" for a column
    that is left out. `known` are the farm's own codes and names by column ("block", "grade"), by
    which wide headings and the names of sheets are recognised.
    """

    encoding: str | None = None
    delimiter: str | None = None
    sheet: str | None = None
    heading_row: int | None = None
    decimal_mark: DecimalMark | None = None
    date_order: DateOrder | None = None
    unit: str | None = None
    mapping: Mapping[str, str] = field(default_factory=dict)
    known: Mapping[str, Sequence[str]] = field(default_factory=dict)
    saved_decimal_mark: DecimalMark | None = None
    saved_date_order: DateOrder | None = None
    saved_unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Detected:
    """How the file was read. None where it does not apply or nothing depends on it.

    `sheet` is a workbook's, the first of `sheets` that are read; `unit` is that of weights whose
    row names none.
    """

    encoding: str | None
    delimiter: str | None
    line_ends: str | None
    sheet: str | None
    heading_row: int
    decimal_mark: DecimalMark | None
    date_order: DateOrder | None
    unit: str | None
    sheets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Generic[Row]):
    """A file understood, or the questions that stand in the way.

    `columns` are those of the first sheet, or of the first that is not understood; `row_count` is
    of entries, and `remarks` tell the sender what was left out, carried down or supplied.
    """

    kind: RowKind[Row]
    detected: Detected
    columns: HeadingMap
    questions: tuple[Question, ...]
    remarks: tuple[Remark, ...]
    row_count: int
    pages: tuple[Page, ...] = field(repr=False)
    known_unit: str | None
    today: date

    @property
    def is_ready(self) -> bool:
        return not self.questions and all(map(_is_understood, self.pages))

    def rows(self) -> Iterator[Row | RowProblem]:
        """Every entry of every sheet, anew at each call. ValueError if not `is_ready`."""
        if not self.is_ready:
            raise ValueError("the file has open questions or headings that are not understood")
        return chain.from_iterable(self.reader(page).read(page.lines()) for page in self.pages)

    def reader(self, page: Page) -> RowReader[Row]:
        detected = self.detected
        return RowReader(
            self.kind,
            page.columns,
            supplied=page.supplied,
            marks=Marks(decimal_mark=detected.decimal_mark, date_order=detected.date_order),
            unit=settled_unit(page.columns, self.known_unit),
            sheet=page.sheet.name,
            is_text=page.sheet.is_text,
            adds_up=page.adds_up,
            today=self.today,
        )


def read(
    content: bytes | Content, file_name: str, settings: Settings, today: date
) -> Reading[WeighingRow]:
    """Understand a harvest file; no picking may be dated after `today`, the farm's own date.

    FileRefused if there is no sheet with headings in it.
    """
    return read_as(WEIGHINGS, content, file_name, settings, today)


def read_as(
    kind: RowKind[Row], content: bytes | Content, file_name: str, settings: Settings, today: date
) -> Reading[Row]:
    """Understand a file of any kind, as `read` does one of weighings."""
    search = Search(
        kind=kind.file,
        mapping=settings.mapping,
        words={column: _by_folded(known) for column, known in settings.known.items()},
        file_name=file_name,
        heading_row=settings.heading_row,
    )
    opened = _open(Content.of(content), search, settings)
    found = find_pages(opened.sheets, search)
    observers = [Observer(page) for page in found.read]
    reckoning = _reckon(observers)
    marks = reckoning.marks(
        override=Marks(decimal_mark=settings.decimal_mark, date_order=settings.date_order),
        saved=Marks(decimal_mark=settings.saved_decimal_mark, date_order=settings.saved_date_order),
    )
    pages = tuple(observer.observed() for observer in observers)
    known_unit = settings.unit or settings.saved_unit
    told = (remark for observer in observers for remark in observer.remarks())
    return Reading(
        kind=kind,
        detected=_detected(opened, pages, marks, known_unit),
        columns=_telling(pages).columns,
        questions=(*reckoning.questions(marks), *_unit_questions(pages, known_unit)),
        remarks=(*told, *of_left_out(found, opened.hidden)),
        row_count=reckoning.row_count,
        pages=pages,
        known_unit=known_unit,
        today=today,
    )


def _reckon(observers: Iterable[Observer]) -> Reckoning:
    """What the cells of all sheets together tell of their marks, as the rows go by."""
    evidence = EvidenceGatherer()
    for observer in observers:
        page = observer.page
        evidence.look_at_days(page.heading_row, _days(page))
        evidence.look_at_rows(_cells(observer.entries(page.lines())), page.columns)
    return evidence.reckoning()


def _by_folded(known: Sequence[str]) -> dict[str, str]:
    """The words by their folded spelling, the first of those that differ in nothing but case.

    Words that differ in more, such as "P-1" and "P 1", are left out: they cannot be told apart.
    """
    folded: dict[str, list[str]] = defaultdict(list)
    for word in known:
        folded[fold(word)].append(word)
    return {
        key: words[0]
        for key, words in folded.items()
        if key and len({word.casefold() for word in words}) == 1
    }


def _open(content: Content, search: Search, settings: Settings) -> OpenFile:
    def recognise(cells: Cells) -> int:
        return len(understand(cells, search.kind, search.mapping, Known(words=search.words)).used)

    return open_file(
        content,
        search.file_name,
        recognise=recognise,
        encoding=settings.encoding,
        delimiter=settings.delimiter,
        sheet_name=settings.sheet,
    )


def _days(page: Page) -> list[Heading]:
    """Headings and names of sheets that are days, whose order counts as that of any other."""
    by_name = page.kind.by_name
    wide = [one for one in page.columns.wide if by_name[one.over].kind is Kind.DATE]
    return [*wide, *(one for one in page.supplied if one.column.kind is Kind.DATE)]


def _cells(lines: Iterator[Line]) -> Iterator[tuple[int, Cells]]:
    return ((line.number, line.cells) for line in lines)


def _is_understood(page: Page) -> bool:
    return not (page.columns.missing or page.columns.problems)


def _telling(pages: Sequence[Page]) -> Page:
    return next((page for page in pages if not _is_understood(page)), pages[0])


def _unit_questions(pages: Sequence[Page], known_unit: str | None) -> list[Question]:
    """One question for the whole file: the first sheet that lacks a unit asks it."""
    for page in pages:
        unit = settled_unit(page.columns, known_unit)
        if asked := ask_unit(_cells(page.lines()), page.columns, unit):
            return asked
    return []


def _detected(
    opened: OpenFile, pages: Sequence[Page], marks: Marks, known_unit: str | None
) -> Detected:
    first = pages[0]
    return Detected(
        encoding=opened.encoding,
        delimiter=opened.delimiter,
        line_ends=opened.line_ends,
        sheet=first.sheet.name or None,
        heading_row=first.heading_row,
        decimal_mark=marks.decimal_mark,
        date_order=marks.date_order,
        unit=settled_unit(first.columns, known_unit),
        sheets=tuple(page.sheet.name for page in pages if page.sheet.name),
    )
