"""The rows below the headings: each one a weighing, or what is wrong with it."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache

from records.importing.cells import Fault, Value, cell_reader
from records.importing.columns import Heading, HeadingMap, Kind
from records.importing.marks import Marks
from records.importing.scales import (
    CellFault,
    ScaleReading,
    Weight,
    WeightIs,
    in_grams,
    read_scale,
)
from records.importing.sheets import Cell, Row, as_written, is_filled, printable
from records.importing.units import fold

VALUE_CHARS = 100  # of a refused value: enough to find it again
AMOUNTS = frozenset({"weight", "gross", "net", "containers", "fruit_count"})
NEEDED = {"picked_on": "picking date", "block": "block"}

_TOTAL = re.compile(r"(?:grand |sub ?)?(?:total|totals|totais|totales)(?: .*)?|sum|suma|soma")


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingRow:
    """One weighing as its sender entered it.

    `row_number` is the sender's own. Texts are tidy, "" where nothing was given; a number that was
    not given is None, and a count of 0 counts as not given. `weight` is in `unit`, `tare` in
    `tare_unit`, both as entered to four decimals; `weight_g` and `tare_total_g` are whole grams.
    `weight_is` says whether the containers are in `weight`; a tare beside a net weight is for
    information. `row` and `position` are the tree's place in the block.
    """

    row_number: int
    picked_on: date
    block: str
    tree: str
    row: int | None
    position: int | None
    cultivar: str
    grade: str
    crop: str
    weight: Decimal | None
    unit: str
    weight_is: WeightIs | None
    weight_g: int | None
    tare: Decimal | None
    tare_unit: str
    tare_total_g: int | None
    containers: int | None
    container: str
    fruit_count: int | None
    docket: str
    ticket: str
    line: str
    pickers: tuple[str, ...]
    minutes: int | None
    note: str
    farm: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowProblem:
    """Why a row is no weighing: where, what is written there, and what would be right."""

    row: int
    column: str
    code: str
    value: str
    detail: str


class RowReader:
    """Reads the rows of one file. `unit` is for weights whose row and heading name none.

    A row's unit column speaks for its weights before their headings do; a tare whose heading
    names a unit keeps that one.
    """

    def __init__(
        self, headings: HeadingMap, *, marks: Marks, unit: str | None, is_text: bool, today: date
    ) -> None:
        self._headings = headings
        self._unit = unit
        self._is_text = is_text
        self._columns = [
            (heading, cell_reader(heading.column, marks, today)) for heading in headings.used
        ]
        self._weights = [one for one in headings.used if one.column.kind is Kind.WEIGHT]
        self._needed = [one for one in headings.used if one.column.name in NEEDED]
        self._amounts = [one for one in headings.used if one.column.name in AMOUNTS]

    def read(self, rows: Iterable[tuple[int, Row]]) -> Iterator[WeighingRow | RowProblem]:
        """A weighing, or one or more problems, for each row in turn."""
        for number, short in rows:
            row = [*short, *[""] * (self._headings.width - len(short))]
            odd = self._total(number, row) or self._shifted(number, row)
            if odd:
                yield odd
            else:
                yield from self._weighing(number, row)

    def _total(self, number: int, row: Row) -> RowProblem | None:
        first = next(index for index, cell in enumerate(row) if is_filled(cell))
        places = [first, *(heading.index for heading in self._needed)]
        for index in places:
            if says_total(row[index]):
                fault = Fault("total-row", "This row is a total, not a weighing. Leave it out.")
                return _problem(number, self._text_at(index), row[index], fault)
        return None

    def _shifted(self, number: int, row: Row) -> RowProblem | None:
        """In text, a cell beyond the headings means that a delimiter stands within a cell."""
        beyond = row[self._headings.width :] if self._is_text else ()
        extra = next(filter(is_filled, beyond), None)
        if extra is None:
            return None
        detail = (
            "The row has more cells than there are headings. "
            "Quote cells with a delimiter in them, or give the last column a heading."
        )
        return _problem(number, "", extra, Fault("extra-cells", detail))

    def _weighing(self, number: int, row: Row) -> list[WeighingRow] | list[RowProblem]:
        values, faults = self._values(row)
        faults += self._missing(values)
        scale = self._scale(values, faults)
        if not faults and not _has_amount(values, scale):
            detail = "Give a weight, a number of containers or a number of fruit."
            faults.append(CellFault(self._amounts[0], Fault("nothing-weighed", detail)))
        if faults:
            return [
                _problem(number, heading.text, row[heading.index], fault)
                for heading, fault in faults
            ]
        return [_weighing_row(number, values, scale)]

    def _values(self, row: Row) -> tuple["Values", list[CellFault]]:
        values, faults = Values(), []
        for heading, read in self._columns:
            value = read(row[heading.index])
            if isinstance(value, Fault):
                faults.append(CellFault(heading, value))
            else:
                values[heading.column.name] = value
        return values, faults

    def _missing(self, values: "Values") -> list[CellFault]:
        return [
            CellFault(heading, Fault("missing", f"Every weighing needs its {NEEDED[name]}."))
            for heading in self._needed
            if values.get(name := heading.column.name, True) in (None, "")
        ]

    def _scale(self, values: "Values", faults: list[CellFault]) -> ScaleReading:
        """The row's weights together; what is wrong with them is added to the faults."""
        if any(heading.column.kind in (Kind.WEIGHT, Kind.UNIT) for heading, _ in faults):
            return ScaleReading()
        weighed = [
            in_grams(heading, entered, self._unit_of(heading, values.text("unit")))
            for heading in self._weights
            if isinstance(entered := values[heading.column.name], Decimal)
        ]
        sound = {one.heading.column.name: one for one in weighed if isinstance(one, Weight)}
        wrong = [one for one in weighed if isinstance(one, CellFault)]
        scale = ScaleReading() if wrong else read_scale(sound)
        if isinstance(scale, CellFault):
            wrong, scale = [scale], ScaleReading()
        faults += wrong
        return scale

    def _unit_of(self, heading: Heading, row_unit: str) -> str | None:
        if heading.column.name == "tare" and heading.unit:
            return heading.unit
        return row_unit or heading.unit or self._unit

    def _text_at(self, index: int) -> str:
        return next((one.text for one in self._headings.used if one.index == index), "")


class Values(dict[str, Value]):
    """A row's values by column name, with what stands for one not given."""

    def text(self, name: str) -> str:
        value = self.get(name)
        return value if isinstance(value, str) else ""

    def count(self, name: str) -> int | None:
        value = self.get(name)
        return value if isinstance(value, int) and value else None

    def people(self, name: str) -> tuple[str, ...]:
        value = self.get(name)
        return value if isinstance(value, tuple) else ()


def says_total(cell: Cell) -> bool:
    """Whether a row is called "Total", "Subtotal Talhão 3", "Suma" or the like."""
    return isinstance(cell, str) and cell[:1].isalpha() and _is_total(cell)


@lru_cache(maxsize=10_000)
def _is_total(text: str) -> bool:
    return bool(_TOTAL.fullmatch(fold(text)))


def _has_amount(values: Values, scale: ScaleReading) -> bool:
    return bool(scale.weight or values.count("containers") or values.count("fruit_count"))


def _problem(number: int, column: str, cell: Cell, fault: Fault) -> RowProblem:
    return RowProblem(
        row=number,
        column=column,
        code=fault.code,
        value=printable(as_written(cell))[:VALUE_CHARS],
        detail=fault.detail,
    )


def _weighing_row(number: int, values: Values, scale: ScaleReading) -> WeighingRow:
    picked_on = values["picked_on"]
    if not isinstance(picked_on, date):
        raise TypeError(f"row {number} has no date although none was found missing")
    return WeighingRow(
        row_number=number,
        picked_on=picked_on,
        block=values.text("block"),
        tree=values.text("tree"),
        row=values.count("row"),
        position=values.count("position"),
        cultivar=values.text("cultivar"),
        grade=values.text("grade"),
        crop=values.text("crop"),
        weight=scale.weight.entered if scale.weight else None,
        unit=scale.weight.unit if scale.weight else "",
        weight_is=scale.weight_is,
        weight_g=scale.weight.grams if scale.weight else None,
        tare=scale.tare.entered if scale.tare else None,
        tare_unit=scale.tare.unit if scale.tare else "",
        tare_total_g=scale.tare_total_g,
        containers=values.count("containers"),
        container=values.text("container"),
        fruit_count=values.count("fruit_count"),
        docket=values.text("docket"),
        ticket=values.text("ticket"),
        line=values.text("line"),
        pickers=values.people("pickers"),
        minutes=values.count("minutes"),
        note=values.text("note"),
        farm=values.text("farm"),
    )
