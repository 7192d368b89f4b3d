"""Plain long sheets: each row straight to the text that COPY takes.

A text sheet is plain if each row is one weighing whose cells stand for themselves: nothing is
added up, and one scale reading has one unit on every row. Each different cell of a column is then
read and written once, as far as there is room to remember it. A row with a cell that needs a closer
look goes the way of all others.
"""

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from records.importing.cells import Fault, Value, cell_reader
from records.importing.columns import Heading, Kind
from records.importing.lines import LineIs
from records.importing.marks import Marks, settled_unit
from records.importing.pages import Page
from records.importing.reading import Reading
from records.importing.rows import RowProblem, WeighingRow
from records.importing.scales import ON_THE_SCALE, Weight, in_grams
from records.importing.sheets import Cell

# What COPY fills in, in its order, and what stands there where nothing was given.
FIELDS: dict[str, str] = {
    "sheet": "",
    "row": "",
    "column": "",
    "farm": "",
    "picked_on": "",
    "block": "",
    "tree": "",
    "tree_row": r"\N",
    "tree_position": r"\N",
    "cultivar": "",
    "grade": "",
    "crop": "",
    "weight": r"\N",
    "unit": "",
    "weight_kind": "gross",
    "tare_g": r"\N",
    "containers": r"\N",
    "container": "",
    "fruit_count": r"\N",
    "docket": "",
    "ticket": "",
    "line": "",
    "pickers": "{}",
    "minutes": r"\N",
    "note": "",
}
_RENAMED = {"row": "tree_row", "position": "tree_position", "gross": "weight", "net": "weight"}
_NOT_PLAIN = frozenset({"unit", "tare", "total"})
MAX_REMEMBERED = 10_000  # cells of a column


class PlainRow(NamedTuple):
    """A row of the sender's as COPY takes it."""

    number: int
    text: str


class Field(NamedTuple):
    """Where a column's cells stand, what is remembered of them, and how one is written."""

    place: int
    known: dict[Cell, str | None]
    write: Callable[[Cell], str | None]


def copied(reading: Reading[WeighingRow]) -> Iterator[PlainRow | WeighingRow | RowProblem]:
    """All that `reading.rows()` has, in its order; plain rows as text."""
    for page in reading.pages:
        if is_plain(page, reading):
            yield from PlainRows(page, reading).read()
        else:
            yield from reading.reader(page).read(page.lines())


def is_plain(page: Page, reading: Reading[WeighingRow]) -> bool:
    columns = page.columns
    weighed = [one for one in columns.fixed if one.column.name in ON_THE_SCALE]
    return (
        page.sheet.is_text
        and not (columns.wide or page.adds_up or page.known.month or page.supplied)
        and _NOT_PLAIN.isdisjoint(one.column.name for one in columns.used)
        and len(weighed) == 1
        and bool(weighed[0].unit or settled_unit(columns, reading.known_unit))
    )


class PlainRows:
    """Reads the lines of one plain sheet."""

    def __init__(self, page: Page, reading: Reading[WeighingRow]) -> None:
        self._page = page
        self._reader = reading.reader(page)
        headings = sorted(page.columns.fixed, key=_place)
        self._fields = [Field(one.index, {}, _writer(one, page, reading)) for one in headings]
        self._form = _form(headings, page, reading)

    def read(self) -> Iterator[PlainRow | WeighingRow | RowProblem]:
        width, fields, form = self._page.columns.width, self._fields, self._form
        for line in self._page.lines():
            cells = line.cells
            try:
                texts = [known[cells[place]] for place, known, _ in fields]
            except KeyError:
                texts = [self._written(field, cells[field.place]) for field in fields]
            if None in texts or len(cells) > width or line.what is not LineIs.ENTRY:
                yield from self._reader.read_line(line)
            else:
                yield PlainRow(line.number, form % (line.number, *texts))

    def _written(self, field: Field, cell: Cell) -> str | None:
        if cell in field.known:
            return field.known[cell]
        text = field.write(cell)
        if len(field.known) < MAX_REMEMBERED:
            field.known[cell] = text
        return text


def _field_of(heading: Heading) -> str:
    name = heading.column.name
    return _RENAMED.get(name, name)


def _place(heading: Heading) -> int:
    return list(FIELDS).index(_field_of(heading))


def _form(headings: Sequence[Heading], page: Page, reading: Reading[WeighingRow]) -> str:
    """A row's text, with gaps for its number and what stands in its columns."""
    filled = {"row", *map(_field_of, headings)}
    weighed = next(one for one in headings if one.column.name in ON_THE_SCALE)
    constants = {
        **FIELDS,
        "unit": weighed.unit or settled_unit(page.columns, reading.known_unit) or "",
        "weight_kind": "net" if weighed.column.name == "net" else "gross",
    }
    return "\t".join("%s" if name in filled else text for name, text in constants.items())


def _writer(
    heading: Heading, page: Page, reading: Reading[WeighingRow]
) -> Callable[[Cell], str | None]:
    """The text that COPY takes for a cell; None where it needs a closer look."""
    detected = reading.detected
    marks = Marks(decimal_mark=detected.decimal_mark, date_order=detected.date_order)
    read = cell_reader(heading.column, marks, reading.today, remembered=0)
    unit = heading.unit or settled_unit(page.columns, reading.known_unit)
    is_needed = heading.column.name in page.kind.needed

    def write(cell: Cell) -> str | None:
        value = read(cell)
        if isinstance(value, Fault) or (is_needed and value in (None, "")):
            return None
        if heading.column.kind is Kind.WEIGHT:
            return _weight(heading, value, unit)
        return as_copied(value or None if isinstance(value, int) else value)

    return write


def _weight(heading: Heading, value: Value, unit: str | None) -> str | None:
    """Of the weighings without a weight, and those of nothing, there is more to say."""
    weight = in_grams(heading, value, unit) if isinstance(value, Decimal) else None
    return str(weight.entered) if isinstance(weight, Weight) else None


def as_copied(value: Value) -> str:
    """A value as COPY takes it."""
    if isinstance(value, str):
        return _escaped(value)
    if isinstance(value, tuple):
        quoted = (name.replace("\\", r"\\").replace('"', r"\"") for name in value)
        return _escaped("{" + ",".join(f'"{name}"' for name in quoted) + "}")
    return r"\N" if value is None else str(value)


def _escaped(text: str) -> str:
    for sign, escape in _ESCAPES.items():
        if sign in text:
            text = text.replace(sign, escape)
    return text


# The backslash first: the others put new ones in.
_ESCAPES = {"\\": r"\\", "\t": r"\t", "\n": r"\n", "\r": r"\r"}
