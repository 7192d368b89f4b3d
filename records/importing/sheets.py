"""A sheet of cells with the sender's own row numbers, and the refusal of a file that has none."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TypeAlias

Cell: TypeAlias = str | float | bool | date | datetime | time | timedelta
Row: TypeAlias = Sequence[Cell]

MAX_COLUMNS = 200  # a harvest sheet has some twenty; more means the wrong delimiter or file
MAX_CELL_CHARS = 10_000  # the longest note anyone writes, many times over
MAX_ROWS = 2_000_000  # more than a worksheet can hold, and all that one import is meant for


class FileRefused(Exception):  # noqa: N818 - a decision about the file, not a failure of ours
    """The file as a whole cannot be read: a stable `code`, and a sentence for the sender."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Cells that can be walked through any number of times.

    `name` is empty for text files. Text cells are always `str`; workbook cells keep their type,
    and a blank cell is an empty string in both.
    """

    name: str
    is_text: bool
    cells: Callable[[], Iterable[Row]]

    def rows(self) -> Iterator[tuple[int, Row]]:
        """The rows that hold anything, numbered as a spreadsheet program numbers them."""
        for number, row in enumerate(self.cells(), start=1):
            if row and (is_filled(row[0]) or any(map(is_filled, row))):
                yield number, row


def is_filled(cell: Cell) -> bool:
    return not isinstance(cell, str) or bool(cell.strip())


def cell_at(row: Row, index: int) -> Cell:
    """Rows of text may be shorter than the headings: what is not there is blank."""
    return row[index] if index < len(row) else ""


def as_written(cell: Cell) -> str:
    """A cell as text: numbers without a needless ".0", dates in ISO form."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else f"{cell:.15g}"
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ")
    return str(cell)


def printable(text: str) -> str:
    """The text on one line, with a visible sign for what a database or a screen may not take."""
    line = " ".join(text.split())
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in line)


def column_letters(number: int) -> str:
    """What spreadsheet programs call a column, counted from 0."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def check_limits(sheet: Sheet) -> None:
    """Refuse a sheet that is empty or out of all proportion for a list of weighings."""
    number = 0
    for number, row in sheet.rows():
        if len(row) > MAX_COLUMNS and any(map(is_filled, row[MAX_COLUMNS:])):
            raise FileRefused(
                "too-many-columns",
                f"Row {number} has more than {MAX_COLUMNS} columns. "
                "Check the delimiter, or send only the columns of the weighings.",
            )
        if _longest(sheet, row) > MAX_CELL_CHARS:
            raise FileRefused(
                "cell-too-long",
                f"Row {number} has a cell of more than {MAX_CELL_CHARS:,} characters.",
            )
    if number == 0:
        raise FileRefused("empty-file", "The file holds no cells. Send the sheet with its rows.")
    if number > MAX_ROWS:
        raise FileRefused("too-many-rows", f"The file has more than {MAX_ROWS:,} rows. Split it.")


def _longest(sheet: Sheet, row: Row) -> int:
    """How many characters the longest text of a row has."""
    texts = row if sheet.is_text else [cell for cell in row if isinstance(cell, str)]
    return len(max(texts, key=len, default=""))  # type: ignore[arg-type]  # texts alone
