"""Which decimal mark, order of day and month, and unit a file uses: its own cells decide.

A cell that makes sense in one way only is evidence ("12,5", "1.234,56", "13/04/2026"); one that
makes sense in two ways ("1.234", "03/04/2026") is not. Where there is no evidence, or it
contradicts itself, the member's saved setting decides, and without one the sender is asked.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Generic, NamedTuple, TypeVar

from records.importing.columns import NUMBERS, Heading, HeadingMap, Kind
from records.importing.sheets import Row, as_written, cell_at, is_filled, printable
from records.importing.units import GRAMS
from records.importing.written import DateOrder, DecimalMark, parse_date, parse_number

EXAMPLES_KEPT = 5
MAX_REMEMBERED = 50_000  # cells; those beyond are looked at again


class Example(NamedTuple):
    """A cell of the sender's: row number, heading, and what is written there."""

    row: int
    column: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What the sender must say before the file can be read; `setting` names where to say it."""

    setting: str
    detail: str
    examples: tuple[Example, ...]


Option = TypeVar("Option", bound=str)


@dataclass(slots=True)
class Evidence(Generic[Option]):
    """The first few cells that speak for each option, and those that could be either."""

    options: tuple[Option, ...]
    read: Callable[[str, Option], object]
    speaking: dict[Option, list[Example]] = field(default_factory=dict)
    ambiguous: list[Example] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def add(self, row: int, column: str, cell: str) -> None:
        if len(self.seen) < MAX_REMEMBERED:
            self.seen.add(cell)
        example = Example(row, column, cell.strip())
        readings = {option: self.read(example.value, option) for option in self.options}
        sensible = [option for option, reading in readings.items() if reading is not None]
        if len(sensible) == 1:
            _keep(self.speaking.setdefault(sensible[0], []), example)
        elif len(set(readings.values())) > 1:
            _keep(self.ambiguous, example)

    @property
    def clear(self) -> Option | None:
        """The option all evidence speaks for, if any."""
        return next(iter(self.speaking)) if len(self.speaking) == 1 else None

    @property
    def is_needed(self) -> bool:
        return bool(self.ambiguous) or len(self.speaking) > 1

    def decide(self, override: Option | None, saved: Option | None) -> Option | None:
        """An override always holds; a saved setting only where the file itself does not tell."""
        return override or self.clear or (saved if saved in self.options else None)

    def examples(self) -> tuple[Example, ...]:
        contradicting = [cells[0] for cells in self.speaking.values()]
        return tuple((contradicting + self.ambiguous)[:EXAMPLES_KEPT])


def _keep(examples: list[Example], example: Example) -> None:
    if len(examples) < EXAMPLES_KEPT:
        examples.append(example)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """How a file writes numbers and dates; None where nothing in it depends on that."""

    decimal_mark: DecimalMark | None = None
    date_order: DateOrder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """The evidence of a whole file, and how many rows it came from."""

    decimals: Evidence[DecimalMark]
    dates: Evidence[DateOrder]
    row_count: int

    def marks(self, *, override: Marks, saved: Marks) -> Marks:
        return Marks(
            decimal_mark=self.decimals.decide(override.decimal_mark, saved.decimal_mark),
            date_order=self.dates.decide(override.date_order, saved.date_order),
        )

    def questions(self, marks: Marks) -> list[Question]:
        questions = []
        if marks.decimal_mark is None and self.decimals.is_needed:
            questions.append(_ask_decimal_mark(self.decimals))
        if marks.date_order is None and self.dates.is_needed:
            questions.append(_ask_date_order(self.dates))
        return questions


class EvidenceGatherer:
    """Looks at every text cell of numbers and dates; typed cells need no decision."""

    def __init__(self) -> None:
        self.decimals = Evidence[DecimalMark]((".", ","), parse_number)
        self.dates = Evidence[DateOrder](("day-month-year", "month-day-year"), parse_date)
        self._row_count = 0

    def look_at_days(self, row: int, headings: Iterable[Heading]) -> None:
        """Days that stand in the headings, or are a sheet's name."""
        for heading in headings:
            if isinstance(heading.value, str):
                self.dates.add(row, heading.text, heading.value)

    def look_at_rows(self, rows: Iterable[tuple[int, Row]], headings: HeadingMap) -> None:
        watched: list[tuple[Heading, Evidence[DecimalMark] | Evidence[DateOrder]]] = [
            (heading, self.dates if heading.column.kind is Kind.DATE else self.decimals)
            for heading in headings.used
            if heading.column.kind is Kind.DATE or heading.column.kind in NUMBERS
        ]
        for number, row in rows:
            self._row_count += 1
            for heading, evidence in watched:
                cell = cell_at(row, heading.index)
                if isinstance(cell, str) and cell not in evidence.seen:
                    evidence.add(number, heading.text, cell)

    def reckoning(self) -> Reckoning:
        return Reckoning(decimals=self.decimals, dates=self.dates, row_count=self._row_count)


def _ask_decimal_mark(evidence: Evidence[DecimalMark]) -> Question:
    if evidence.speaking:
        comma, point = evidence.speaking[","][0], evidence.speaking["."][0]
        reason = (
            f"Some numbers have a decimal comma (row {comma.row}: {comma.value}) "
            f"and others a decimal point (row {point.row}: {point.value})."
        )
    else:
        one = evidence.ambiguous[0]
        reason = (
            f"{one.value} in row {one.row} could be thousands or decimals, "
            "and no number in the file tells which."
        )
    return Question(
        setting="decimal_mark",
        detail=f"{reason} Say whether the decimal mark is a comma or a point.",
        examples=evidence.examples(),
    )


def _ask_date_order(evidence: Evidence[DateOrder]) -> Question:
    if evidence.speaking:
        day, month = (evidence.speaking[order][0] for order in evidence.options)
        reason = (
            f"Some dates have the day first (row {day.row}: {day.value}) "
            f"and others the month (row {month.row}: {month.value})."
        )
    else:
        one = evidence.ambiguous[0]
        reason = (
            f"{one.value} in row {one.row} could have the day or the month first, "
            "and no date in the file tells which."
        )
    return Question(
        setting="date_order",
        detail=f"{reason} Say which comes first.",
        examples=evidence.examples(),
    )


def settled_unit(headings: HeadingMap, known: str | None) -> str | None:
    """The unit of weights that name none: the one unit that headings name, else the known one."""
    named = {heading.unit for heading in headings.used if heading.unit}
    return named.pop() if len(named) == 1 else known


def ask_unit(
    rows: Iterable[tuple[int, Row]], headings: HeadingMap, unit: str | None
) -> list[Question]:
    """A question if weights have no unit from anywhere.

    Where a unit column is filled in for other rows, one forgotten is that row's problem instead.
    """
    bare = [one for one in headings.used if one.column.kind is Kind.WEIGHT and not one.unit]
    examples = [] if unit or not bare else _without_unit(rows, bare, headings.heading("unit"))
    if not examples:
        return []
    one = examples[0]
    return [
        Question(
            setting="unit",
            detail=f'{one.value} under "{one.column}" in row {one.row} has no unit, '
            f"and nothing in the file names one. Say which of {', '.join(GRAMS)} it is.",
            examples=tuple(examples),
        )
    ]


def _without_unit(
    rows: Iterable[tuple[int, Row]], bare: list[Heading], unit_column: Heading | None
) -> list[Example]:
    examples: list[Example] = []
    for number, row in rows:
        if unit_column and is_filled(cell_at(row, unit_column.index)):
            return []
        for heading in bare:
            cell = cell_at(row, heading.index)
            if is_filled(cell):
                _keep(examples, Example(number, heading.text, printable(as_written(cell))))
        if unit_column is None and len(examples) == EXAMPLES_KEPT:
            break
    return examples
