"""The rows of one table, whatever its kind: cells to values, values to records or problems."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Generic, TypeVar

from records.importing.cells import Fault, cell_reader, number_reader
from records.importing.columns import Heading, HeadingMap, Kind
from records.importing.entries import Entry, Gathered, Values
from records.importing.lines import Line, LineIs, Places
from records.importing.marks import Marks
from records.importing.rows import RowKind, RowProblem
from records.importing.scales import CellFault
from records.importing.sheets import Cell, as_written, column_letters, is_filled, printable
from records.importing.totals import Difference, Numbers, Tally, agree, plain
from records.importing.totalwords import says_total

VALUE_CHARS = 100  # of a refused value: enough to find it again
NOT_BELOW = -1  # the place of a value that is not in the rows: a sheet's name, a wide heading
_GAPS = frozenset({"", "-", "\N{EN DASH}", "\N{EM DASH}"})

Row = TypeVar("Row")


@dataclass(frozen=True, kw_only=True)
class Part:
    """All of a row, or a wide row's cells of one value: its `wide` headings.

    `values` are those that are the same on every row, with what is wrong with them.
    """

    headings: Mapping[str, Heading]
    wide: tuple[Heading, ...] = ()
    values: Values
    faults: tuple[CellFault, ...] = ()

    @cached_property
    def column(self) -> str:
        return self.wide[0].text if self.wide else ""

    @cached_property
    def weighed(self) -> tuple[Heading, ...]:
        return tuple(one for one in self.headings.values() if one.column.kind is Kind.WEIGHT)


class RowReader(Generic[Row]):
    """Reads the lines of one table.

    `supplied` are columns that the sheet's name fills in; `unit` is for weights whose row and
    heading name none. Without `adds_up` there are no totals to hold against the rows.
    """

    def __init__(
        self,
        kind: RowKind[Row],
        headings: HeadingMap,
        *,
        supplied: Sequence[Heading] = (),
        marks: Marks,
        unit: str | None,
        sheet: str = "",
        is_text: bool,
        adds_up: bool = True,
        today: date,
    ) -> None:
        self._kind = kind
        self._headings = headings
        self._unit = unit
        self._sheet = sheet
        self._is_text = is_text
        self._adds_up = adds_up
        self._places = Places.of(headings, kind.file)
        self._read = {one.name: cell_reader(one, marks, today) for one in kind.file.columns}
        self._read_number = number_reader(marks)
        self._fixed = [one for one in headings.fixed if one.column.name != "total"]
        self._needed = [one for one in self._fixed if one.column.name in kind.file.needed]
        self._row_total = headings.heading("total")
        self._added_up = [one for one in headings.used if _is_added_up(one, kind)]
        self._today = today
        self._whole = self._whole_part(supplied)
        self._parts = list(self._wide_parts())
        self._tally = Tally(is_text=is_text)

    def read(self, lines: Iterable[Line]) -> Iterator[Row | RowProblem]:
        """A record, or one or more problems, for each entry in turn; totals only if they differ."""
        for line in lines:
            yield from self.read_line(line)

    def read_line(self, line: Line) -> Iterable[Row | RowProblem]:
        if line.what is LineIs.ENTRY:
            return self._shifted(line) or self._entries(line)
        return self._total(line) if line.what is LineIs.TOTAL else ()

    # Once for the table ------------------------------------------------------------------------

    def _whole_part(self, supplied: Sequence[Heading]) -> Part:
        by_name = {one.column.name: one for one in (*supplied, *self._fixed)}
        values, faults = self._constants(supplied)
        return Part(headings=by_name, values=values, faults=faults)

    def _wide_parts(self) -> Iterator[Part]:
        """What the whole row says, and one value with what stands below it."""
        whole = self._whole
        for wide in _by_value(self._headings.wide):
            over = self._kind.file.by_name[wide[0].over]
            value = Heading(text=wide[0].text, index=NOT_BELOW, column=over, value=wide[0].value)
            own, own_faults = self._constants((value,))
            below = {one.column.name: one for one in wide}
            yield Part(
                headings={**whole.headings, over.name: value, **below},
                wide=wide,
                values=Values({**whole.values, **own}),
                faults=(*whole.faults, *own_faults),
            )

    def _constants(self, headings: Sequence[Heading]) -> tuple[Values, tuple[CellFault, ...]]:
        values, faults = Values(), []
        for heading in headings:
            value = self._read[heading.column.name](heading.value)
            if isinstance(value, Fault):
                faults.append(CellFault(heading, value))
            else:
                values[heading.column.name] = value
        return values, tuple(faults)

    # Entries -----------------------------------------------------------------------------------

    def _shifted(self, line: Line) -> list[RowProblem]:
        """In text, a cell beyond the headings means that a delimiter stands within a cell."""
        beyond = line.cells[self._headings.width :] if self._is_text else ()
        extra = next(filter(is_filled, beyond), None)
        if extra is None:
            return []
        detail = (
            "The row has more cells than there are headings. "
            "Quote cells with a delimiter in them, or give the last column a heading."
        )
        return [self._problem(line, "", extra, Fault("extra-cells", detail))]

    def _entries(self, line: Line) -> Iterator[Row | RowProblem]:
        values, faults = self._values(line)
        faults += self._missing(values)
        if self._adds_up:
            faults += self._add_up(line)
        if not self._headings.wide:
            yield from self._built(line, self._entry(line, self._whole, values, faults))
        elif self._kind.file.is_gathered:
            yield from self._gathered(line, values, faults)
        else:
            yield from self._wide(line, values, faults)

    def _wide(
        self, line: Line, values: Values, faults: list[CellFault]
    ) -> Iterator[Row | RowProblem]:
        """Faults of the whole row are told once, and then those of its parts."""
        told, once = 0, self._kind.file.once
        for part in self._parts:
            own, own_faults = self._amounts(line, part)
            if own or own_faults:
                entry = self._entry(line, part, Values({**values, **own}), [*faults, *own_faults])
                yield from self._built(line, entry, told)
                told = len(faults)
                values = Values({name: value for name, value in values.items() if name not in once})
        if not told:
            yield from self._problems(line, faults)

    def _gathered(
        self, line: Line, values: Values, faults: list[CellFault]
    ) -> Iterator[Row | RowProblem]:
        found: list[Gathered] = []
        for part in self._parts:
            own, own_faults = self._amounts(line, part)
            faults += own_faults
            value = part.values.get(part.wide[0].over)
            below = (one for one in part.wide if one.column.name in own)
            found += [Gathered(value, own[one.column.name], one) for one in below]
        entry = self._entry(line, self._whole, values, faults)
        entry.gathered = found
        yield from self._built(line, entry)

    def _built(self, line: Line, entry: Entry, told: int = 0) -> Iterator[Row | RowProblem]:
        """What an entry becomes, but for the faults that were told before."""
        record = self._kind.build(entry)
        if record is not None and not entry.faults:
            yield record
        else:
            yield from self._problems(line, entry.faults[told:])

    def _values(self, line: Line) -> tuple[Values, list[CellFault]]:
        values, faults = Values(), []
        for heading in self._fixed:
            value = self._read[heading.column.name](line.cells[heading.index])
            if isinstance(value, Fault):
                faults.append(CellFault(heading, value))
            else:
                values[heading.column.name] = value
        return values, faults

    def _missing(self, values: Values) -> list[CellFault]:
        noun, needed = self._kind.file.noun, self._kind.file.needed
        return [
            CellFault(heading, Fault("missing", f"Every {noun} needs its {needed[name]}."))
            for heading in self._needed
            if values.get(name := heading.column.name, True) in (None, "", ())
        ]

    def _entry(self, line: Line, part: Part, values: Values, faults: list[CellFault]) -> Entry:
        values.update(part.values)
        return Entry(
            row_number=line.number,
            sheet=self._sheet,
            column=part.column,
            values=values,
            headings=part.headings,
            weighed=part.weighed,
            unit=self._unit,
            today=self._today,
            faults=[*faults, *part.faults],
        )

    def _amounts(self, line: Line, part: Part) -> tuple[Values, list[CellFault]]:
        """What stands under the part's own headings; nothing, a dash and 0 are no amounts."""
        amounts, faults = Values(), []
        for heading in part.wide:
            cell = line.cells[heading.index]
            value = None if _is_gap(cell) else self._read[heading.column.name](cell)
            if isinstance(value, Fault):
                faults.append(CellFault(heading, value))
            elif value:
                amounts[heading.column.name] = value
        return amounts, faults

    # Totals ------------------------------------------------------------------------------------

    def _total(self, line: Line) -> list[RowProblem]:
        numbers, faults = self._numbers(line)
        label = next((cell for cell in line.cells if says_total(cell)), "")
        differences = self._tally.check(numbers, label=as_written(label))
        return self._problems(line, [*faults, *(self._differs(line, one) for one in differences)])

    def _differs(self, line: Line, found: Difference) -> CellFault:
        heading = next(one for one in self._added_up if one.index == found.column)
        stated = f"Cell {column_letters(found.column)}{line.number} says {plain(found.stated)}"
        if not found.last_row:
            detail = f"{stated}, but there are no rows above it to add up."
        else:
            rows = f"rows {found.first_row} to {found.last_row} add up"
            if found.first_row == found.last_row:
                rows = f"row {found.last_row} alone comes"
            detail = (
                f"{stated}, but {rows} to {plain(found.expected)}. "
                "Correct the total, or the row that is wrong."
            )
        return CellFault(heading, Fault("total-differs", detail))

    def _add_up(self, line: Line) -> list[CellFault]:
        numbers, unreadable = self._numbers(line)
        faults = self._row_or_total(line, numbers)
        if self._row_total and not unreadable:
            faults += self._across(line, self._row_total, numbers)
        self._tally.add(line.number, numbers, [one.heading.index for one in unreadable])
        return faults

    def _row_or_total(self, line: Line, numbers: Numbers) -> list[CellFault]:
        """A row without its block, with nothing but the sum of those above it."""
        by_name = self._kind.file.by_name
        lacking = [name for name in line.carried if by_name[name].kind is not Kind.DATE]
        described = any(is_filled(line.cells[index]) for index in self._places.described)
        if not lacking or described or not self._tally.repeats(numbers):
            return []
        heading = self._headings.heading(lacking[0])
        detail = (
            f"This row has no {lacking[0]} and repeats the sum of the rows above it. "
            f'Fill in its {lacking[0]} if it is a {self._kind.file.noun}, or call it "Total".'
        )
        return [CellFault(heading, Fault("row-or-total", detail))] if heading else []

    def _across(self, line: Line, total: Heading, numbers: Numbers) -> list[CellFault]:
        """A wide row's own total, held against the weights beside it."""
        stated = self._read_number(line.cells[total.index])
        weights = [one.index for one in self._headings.wide if one.column.kind is Kind.WEIGHT]
        expected = sum((numbers.get(index, Decimal(0)) for index in weights), Decimal(0))
        if not isinstance(stated, Decimal) or agree(stated, expected, is_text=self._is_text):
            return []
        cell = f"{column_letters(total.index)}{line.number}"
        detail = (
            f"Cell {cell} says {plain(stated)}, but the weights of its row add up to "
            f"{plain(expected)}. Correct the one that is wrong."
        )
        return [CellFault(total, Fault("row-total-differs", detail))]

    def _numbers(self, line: Line) -> tuple[dict[int, Decimal], list[CellFault]]:
        numbers: dict[int, Decimal] = {}
        unreadable = []
        for heading in self._added_up:
            cell = line.cells[heading.index]
            number = None if _is_gap(cell) else self._read_number(cell)
            if isinstance(number, Fault):
                unreadable.append(CellFault(heading, number))
            elif isinstance(number, Decimal):
                numbers[heading.index] = number
        return numbers, unreadable

    def _problems(self, line: Line, faults: Iterable[CellFault]) -> list[RowProblem]:
        return [
            self._problem(
                line,
                heading.text,
                heading.value if heading.index == NOT_BELOW else line.cells[heading.index],
                fault,
            )
            for heading, fault in faults
        ]

    def _problem(self, line: Line, column: str, cell: Cell, fault: Fault) -> RowProblem:
        return RowProblem(
            row=line.number,
            column=column,
            code=fault.code,
            value=printable(as_written(cell))[:VALUE_CHARS],
            detail=fault.detail,
            sheet=self._sheet,
        )


def _is_added_up(heading: Heading, kind: RowKind[Row]) -> bool:
    return bool(heading.over) or heading.column.name in kind.file.added_up


def _by_value(wide: Iterable[Heading]) -> list[tuple[Heading, ...]]:
    """The headings of one value together, by the first of each."""
    groups: dict[Cell, list[Heading]] = {}
    for heading in wide:
        groups.setdefault(heading.value, []).append(heading)
    return [tuple(group) for group in groups.values()]


def _is_gap(cell: Cell) -> bool:
    return isinstance(cell, str) and cell.strip() in _GAPS
