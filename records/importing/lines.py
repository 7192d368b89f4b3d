"""The rows below the headings, each known for what it is: an entry, a total, or neither.

A date or block that is left blank is taken from the row above, but never across a blank row or a
total: what stands below those begins anew.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum, auto
from itertools import count
from operator import contains
from typing import NamedTuple

from records.importing.columns import NUMBERS, FileKind, HeadingMap, Kind
from records.importing.sheets import Cell, Row, as_written, is_filled, printable
from records.importing.totalwords import is_mean, is_total_alone, says_total
from records.importing.written import Month, could_be_date, day_of_month

# What may be said of a row without making it more than bare numbers.
_NO_DESCRIPTION = frozenset({"note", "unit", "total"})
_FREE_TEXT = frozenset({"note", "pickers"})
MAX_REMEMBERED = 10_000  # cells of a column


class LineIs(Enum):
    ENTRY = auto()
    TOTAL = auto()
    HEADINGS = auto()
    MEAN = auto()
    NOTE = auto()


class Line(NamedTuple):
    """A row as wide as its headings at least, and the columns it took from the row above."""

    number: int
    what: LineIs
    cells: list[Cell]
    carried: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where in a row to look for what."""

    width: int
    titles: tuple[tuple[int, str], ...]
    date: int | None
    carried: tuple[tuple[int, str], ...]
    amounts: tuple[int, ...]
    described: tuple[int, ...]
    named: tuple[int, ...]

    @classmethod
    def of(cls, headings: HeadingMap, kind: FileKind) -> "Places":
        fixed = headings.fixed
        numbers = {one.name for one in kind.columns if one.kind in NUMBERS}
        summed = numbers & {*kind.amounts, *kind.added_up}
        carried = [one for one in fixed if one.column.name in kind.carried]
        needed = [one for one in fixed if one.column.name in kind.needed]
        plain = [one for one in fixed if one not in carried and one.column.name not in summed]
        texts = [one for one in plain if one.column.kind is Kind.TEXT]
        return cls(
            width=headings.width,
            titles=tuple((one.index, printable(one.text)) for one in headings.used),
            date=next((one.index for one in needed if one.column.kind is Kind.DATE), None),
            carried=tuple((one.index, one.column.name) for one in carried),
            amounts=tuple(
                one.index for one in headings.used if one.over or one.column.name in kind.amounts
            ),
            described=tuple(one.index for one in plain if one.column.name not in _NO_DESCRIPTION),
            named=tuple(one.index for one in texts if one.column.name not in _FREE_TEXT),
        )


class Ordinary:
    """Knows rows that are entries at first sight: dated, carrying nothing, adding up nothing.

    Each different cell of a column is looked at once, as far as there is room to remember it.
    """

    def __init__(self, places: Places) -> None:
        self._date = places.date
        self._seen: list[set[Cell]] = [set() for _ in range(places.width)]
        self._filled = {places.date, *(index for index, _ in places.carried)}
        self._titles = dict(places.titles)

    def has(self, cells: Sequence[Cell]) -> bool:
        if all(map(contains, self._seen, cells)):
            return True
        return self._date is not None and all(map(self._look_at, count(), self._seen, cells))

    def _look_at(self, index: int, seen: set[Cell], cell: Cell) -> bool:
        if cell in seen:
            return True
        if says_total(cell) or is_mean(cell) or (index in self._filled and not is_filled(cell)):
            return False
        if index == self._date and (not _is_date(cell) or cell == self._titles.get(index)):
            return False
        if len(seen) < MAX_REMEMBERED:
            seen.add(cell)
        return True


class LineReader:
    """Tells the rows of one table apart. `month` is that of dates which are mere numbers."""

    def __init__(self, places: Places, month: Month | None = None) -> None:
        self._at = places
        self._ordinary = Ordinary(places)
        self._month = month
        self._above: Sequence[Cell] | None = None
        self._last_number = 0
        self._has_entries = False

    def read(self, rows: Iterable[tuple[int, Row]]) -> Iterator[Line]:
        """Notes are the rows after the last one that belongs to the table."""
        held: list[tuple[int, list[Cell]]] = []
        for number, short in rows:
            cells = [*short, *[""] * (self._at.width - len(short))]
            if not held and self._month is None and self._ordinary.has(cells):
                self._last_number, self._above, self._has_entries = number, cells, True
                yield Line(number, LineIs.ENTRY, cells)
                continue
            held.append((number, cells))
            if self._is_of_table(cells):
                yield from (self._line(*one) for one in held)
                held.clear()
        yield from (Line(number, LineIs.NOTE, cells) for number, cells in held)

    def _is_of_table(self, cells: Sequence[Cell]) -> bool:
        if any(is_filled(cells[index]) for index in self._at.amounts):
            return True
        return self._at.date is not None and _is_date(self._full_date(cells[self._at.date]))

    def _line(self, number: int, cells: list[Cell]) -> Line:
        above = self._above if number == self._last_number + 1 else None
        self._last_number, self._above = number, None
        if self._repeats_headings(cells):
            return Line(number, LineIs.HEADINGS, cells)
        if self._is_total(cells):
            return Line(number, LineIs.TOTAL, cells)
        if is_mean(next(filter(is_filled, cells))):
            return Line(number, LineIs.MEAN, cells)
        carried = () if above is None else self._carry(cells, above)
        self._has_entries = True
        self._above = cells
        if self._month and self._at.date is not None:
            cells[self._at.date] = self._full_date(cells[self._at.date])
        return Line(number, LineIs.ENTRY, cells, carried)

    def _carry(self, cells: list[Cell], above: Sequence[Cell]) -> tuple[str, ...]:
        blank = [(index, name) for index, name in self._at.carried if not is_filled(cells[index])]
        taken = [(index, name) for index, name in blank if is_filled(above[index])]
        for index, _ in taken:
            cells[index] = above[index]
        return tuple(name for _, name in taken)

    def _full_date(self, cell: Cell) -> Cell:
        if self._month is None or isinstance(cell, date):
            return cell
        return day_of_month(as_written(cell).strip(), self._month) or cell

    def _repeats_headings(self, cells: Sequence[Cell]) -> bool:
        """A printed list has its headings on every page."""
        return all(
            isinstance(cell := cells[index], str) and printable(cell) == title
            for index, title in self._at.titles
        )

    def _is_total(self, cells: Sequence[Cell]) -> bool:
        at = self._at
        if any(is_total_alone(cells[index]) for index in at.named):
            return True
        if any(says_total(cells[index]) for index, _ in at.carried):
            return True
        if at.carried and self._names_its_place(cells):
            return says_total(next(filter(is_filled, cells)))
        return any(map(says_total, cells)) or self._is_bare(cells)

    def _names_its_place(self, cells: Sequence[Cell]) -> bool:
        return all(is_filled(cells[index]) for index, _ in self._at.carried)

    def _is_bare(self, cells: Sequence[Cell]) -> bool:
        """Numbers with neither date nor block nor anything else to say whose they are."""
        at = self._at
        if not self._has_entries or not at.carried:
            return False
        said = (*(index for index, _ in at.carried), *at.described)
        return not any(is_filled(cells[index]) for index in said) and any(
            is_filled(cells[index]) for index in at.amounts
        )


def _is_date(cell: Cell) -> bool:
    if isinstance(cell, date | datetime):
        return True
    return isinstance(cell, str) and could_be_date(cell.strip())
