"""A member's file, from its bytes to weighings: detect, match, decide, read."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from itertools import dropwhile

from records.importing.columns import HeadingMap, find_headings, known_headings
from records.importing.files import open_file
from records.importing.harvest import HARVEST
from records.importing.marks import (
    Marks,
    Question,
    ask_unit,
    gather_evidence,
    settled_unit,
)
from records.importing.rows import RowProblem, RowReader, WeighingRow
from records.importing.sheets import Row, Sheet, check_limits
from records.importing.written import DateOrder, DecimalMark


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What is known before reading.

    The first group overrides what the file shows; a cell that contradicts an overriding mark is a
    problem. The `saved_` ones are the member's and decide only where the file does not tell.
    `unit` and `saved_unit` are for weights that name no unit themselves. `mapping` says
    {heading: column name}.
    """

    encoding: str | None = None
    delimiter: str | None = None
    sheet: str | None = None
    heading_row: int | None = None
    decimal_mark: DecimalMark | None = None
    date_order: DateOrder | None = None
    unit: str | None = None
    mapping: Mapping[str, str] = field(default_factory=dict)
    saved_decimal_mark: DecimalMark | None = None
    saved_date_order: DateOrder | None = None
    saved_unit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Detected:
    """How the file was read. None where it does not apply or nothing depends on it.

    `sheet` is a workbook's; `unit` is that of weights whose row names none.
    """

    encoding: str | None
    delimiter: str | None
    line_ends: str | None
    sheet: str | None
    heading_row: int
    decimal_mark: DecimalMark | None
    date_order: DateOrder | None
    unit: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A file understood, or the questions that stand in the way."""

    detected: Detected
    columns: HeadingMap
    questions: tuple[Question, ...]
    row_count: int
    sheet: Sheet = field(repr=False)
    today: date

    @property
    def is_ready(self) -> bool:
        return not (self.questions or self.columns.missing or self.columns.problems)

    def rows(self) -> Iterator[WeighingRow | RowProblem]:
        """Every row below the headings, anew at each call. ValueError if not `is_ready`."""
        if not self.is_ready:
            raise ValueError("the file has open questions or headings that are not understood")
        reader = RowReader(
            self.columns,
            marks=Marks(
                decimal_mark=self.detected.decimal_mark, date_order=self.detected.date_order
            ),
            unit=self.detected.unit,
            is_text=self.sheet.is_text,
            today=self.today,
        )
        return reader.read(_below(self.sheet, self.detected.heading_row))


def read(content: bytes, file_name: str, settings: Settings, today: date) -> Reading:
    """Understand a harvest file; no picking may be dated after `today`, the farm's own date.

    FileRefused if there is no sheet with headings in it.
    """
    opened = open_file(
        content,
        file_name,
        recognise=lambda row: known_headings(row, HARVEST, settings.mapping),
        encoding=settings.encoding,
        delimiter=settings.delimiter,
        sheet_name=settings.sheet,
    )
    sheet = opened.sheets[0]
    check_limits(sheet)
    heading_row, columns = find_headings(sheet, HARVEST, settings.mapping, settings.heading_row)
    evidence = gather_evidence(_below(sheet, heading_row), columns)
    marks = evidence.marks(
        override=Marks(decimal_mark=settings.decimal_mark, date_order=settings.date_order),
        saved=Marks(decimal_mark=settings.saved_decimal_mark, date_order=settings.saved_date_order),
    )
    unit = settled_unit(columns, settings.unit or settings.saved_unit)
    return Reading(
        detected=Detected(
            encoding=opened.encoding,
            delimiter=opened.delimiter,
            line_ends=opened.line_ends,
            sheet=sheet.name or None,
            heading_row=heading_row,
            decimal_mark=marks.decimal_mark,
            date_order=marks.date_order,
            unit=unit,
        ),
        columns=columns,
        questions=(
            *evidence.questions(marks),
            *ask_unit(_below(sheet, heading_row), columns, unit),
        ),
        row_count=evidence.row_count,
        sheet=sheet,
        today=today,
    )


def _below(sheet: Sheet, heading_row: int) -> Iterator[tuple[int, Row]]:
    return dropwhile(lambda numbered: numbered[0] <= heading_row, sheet.rows())
