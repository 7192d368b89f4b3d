"""Totals checked against the rows above them.

A total adds up the rows since the total before it, or since an earlier one, or all of them. The
numbers are compared as they are written, as a spreadsheet adds them up, whatever their unit.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from records.importing.units import fold

LOOK_BACK = 100  # totals that a later one may include: days of a season, blocks of a farm
ZERO = Decimal(0)
HALF = Decimal("0.5")
FINEST = Decimal("0.000001")  # what a computer's own adding up leaves over is far below

Numbers = Mapping[int, Decimal]


class Difference(NamedTuple):
    """A total that is not the sum of the rows from `first_row` to `last_row`."""

    column: int
    stated: Decimal
    expected: Decimal
    first_row: int
    last_row: int


@dataclass(slots=True)
class Sums:
    """What the rows up to a place add up to, column by column."""

    row_count: int = 0
    last_row: int = 0
    by_index: dict[int, Decimal] = field(default_factory=dict)
    unreadable: dict[int, int] = field(default_factory=dict)

    def copy(self) -> "Sums":
        return Sums(self.row_count, self.last_row, dict(self.by_index), dict(self.unreadable))


class Tally:
    """Adds up the rows of one table as they come, and holds its totals against them.

    Where cells are text they show their rounding; a workbook's numbers are what they are.
    """

    def __init__(self, *, is_text: bool) -> None:
        self._is_text = is_text
        self._now = Sums()
        self._earlier = [Sums()]
        self._first_rows = [0]
        self._places: dict[int, int] = {}

    def add(self, row: int, numbers: Numbers, unreadable: Sequence[int]) -> None:
        now = self._now
        if not self._first_rows[-1]:
            self._first_rows[-1] = row
        now.row_count += 1
        now.last_row = row
        for index, number in numbers.items():
            now.by_index[index] = now.by_index.get(index, ZERO) + number
            self._places[index] = max(self._places.get(index, 0), places(number))
        for index in unreadable:
            now.unreadable[index] = now.unreadable.get(index, 0) + 1

    def repeats(self, numbers: Numbers) -> bool:
        """Whether a row is the sum of two rows or more since the last total, number by number."""
        last = self._earlier[-1]
        given = {index: number for index, number in numbers.items() if number}
        return (
            bool(given)
            and self._now.row_count - last.row_count > 1
            and not any(self._differences(given, len(self._earlier) - 1))
        )

    def check(self, stated: Numbers, *, label: str = "") -> list[Difference]:
        """What is wrong with a total; the rows after it begin a new group."""
        nearest = self._nearest(label)
        found = list(self._differences(stated, nearest))
        others = [0, *range(len(self._earlier) - 1, 0, -1)[:LOOK_BACK]]
        if found and any(not any(self._differences(stated, start)) for start in others):
            found = []
        self._earlier.append(self._now.copy())
        self._first_rows.append(0)
        return found

    def _nearest(self, label: str) -> int:
        """Where the group of a total begins: after the last one, unless nothing stands between."""
        last = len(self._earlier) - 1
        is_grand = not {"grand", "gran", "general", "geral"}.isdisjoint(fold(label).split())
        return 0 if is_grand or self._earlier[last].row_count == self._now.row_count else last

    def _differences(self, stated: Mapping[int, Decimal], start: int) -> Iterator[Difference]:
        before, now = self._earlier[start], self._now
        for index, number in stated.items():
            expected = now.by_index.get(index, ZERO) - before.by_index.get(index, ZERO)
            if now.unreadable.get(index, 0) > before.unreadable.get(index, 0):
                continue
            rows = now.row_count - before.row_count
            if abs(expected - number) > self._rounding(index, number, rows):
                yield Difference(index, number, expected, self._first(start), now.last_row)

    def _rounding(self, index: int, stated: Decimal, rows: int) -> Decimal:
        """Half a unit in the last place that both have; where only the rows are rounded, each."""
        of_rows = self._places.get(index, 0)
        if not self._is_text:
            return max(HALF.scaleb(-of_rows), FINEST)
        if places(stated.normalize()) > of_rows:
            return HALF.scaleb(-of_rows) * rows
        return HALF.scaleb(-min(of_rows, places(stated)))

    def _first(self, start: int) -> int:
        return next(filter(None, self._first_rows[start:]), self._now.last_row)


def agree(stated: Decimal, expected: Decimal, *, is_text: bool) -> bool:
    """Whether a total of few numbers is their sum, up to its own rounding where it is written."""
    rounding = HALF.scaleb(-places(stated)) if is_text else FINEST
    return abs(stated - expected) <= rounding


def places(number: Decimal) -> int:
    """Decimal places as written."""
    return max(0, -int(number.as_tuple().exponent))


def plain(number: Decimal) -> str:
    """ "45.5" for 45.50, and never with an exponent."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
