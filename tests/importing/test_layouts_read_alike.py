"""The same weighings come back from every layout that members write them in."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any, NamedTuple

from hypothesis import given
from hypothesis import strategies as st

from records.importing.reading import Settings, read
from records.importing.rows import RowProblem, WeighingRow
from tests.importing.making import TODAY, as_csv, as_xlsx

BLOCKS = ("P1", "P2", "Encosta", "12")
GRADES = ("Extra", "1.ª", "G", "Refugo")
KNOWN = {"block": BLOCKS, "grade": GRADES}


class Weighing(NamedTuple):
    picked_on: date
    block: str
    grade: str
    weight: Decimal


Table = list[list[Any]]


@dataclass(frozen=True, kw_only=True)
class Habits:
    """How a member writes, whatever the layout."""

    decimal_mark: str
    unit: str
    gap: str
    total: str | None
    has_grand_total: bool
    leaves_blank: bool
    title: Sequence[str]
    footer: Sequence[str]

    def number(self, weight: Decimal | None) -> str:
        return self.gap if weight is None else str(weight).replace(".", self.decimal_mark)

    def settings(self) -> Settings:
        return Settings(
            known=KNOWN,
            unit=self.unit,
            saved_decimal_mark=self.decimal_mark,
            saved_date_order="day-month-year",
        )

    def table(self, headings: list[str], rows: Table, keys: int) -> Table:
        """Rows whose first `keys` cells say whose the weights behind them are."""
        written: Table = [[text] for text in self.title] + [headings]
        for _, group in groupby(rows, key=lambda row: row[0]):
            entries = list(group)
            written += self.entries(entries, keys)
            if self.total is not None:
                written.append(self.sums(self.total, entries, keys))
        if self.has_grand_total:
            written.append(self.sums("Total geral", rows, keys))
        return written + [[text] for text in self.footer]

    def entries(self, entries: Table, keys: int) -> Iterator[list[Any]]:
        above: list[Any] = []
        for row in entries:
            named = [shown(cell) for cell in row[:keys]]
            if self.leaves_blank and above[:1] == row[:1]:
                named[0] = ""
                if keys > 2 and above[1] == row[1]:
                    named[1] = ""
            above = row
            yield [*named, *map(self.number, row[keys:])]

    def sums(self, label: str, rows: Table, keys: int) -> list[Any]:
        columns = list(zip(*(row[keys:] for row in rows), strict=True))
        added = [sum((one for one in column if one), Decimal(0)) for column in columns]
        return [label, *[""] * (keys - 1), *map(self.number, added)]


def shown(cell: Any) -> Any:
    return cell.strftime("%d/%m/%Y") if isinstance(cell, date) else cell


def long(weighings: list[Weighing], habits: Habits) -> bytes:
    headings = ["Data", "Talhão", "Categoria", f"Peso ({habits.unit})"]
    return as_csv(habits.table(headings, [list(one) for one in weighings], 3)).encode()


def spread(
    weighings: list[Weighing],
    keys: Callable[[Weighing], tuple[Any, ...]],
    value: Callable[[Weighing], Any],
) -> tuple[list[Any], Table]:
    """The values that become headings, and the rows below them."""
    values = sorted({value(one) for one in weighings})
    cells: dict[tuple[Any, ...], dict[Any, Decimal]] = defaultdict(dict)
    for one in weighings:
        cells[keys(one)][value(one)] = one.weight
    return values, [[*key, *map(cells[key].get, values)] for key in sorted(cells)]


def by_grade(weighings: list[Weighing], habits: Habits) -> bytes:
    grades, rows = spread(weighings, lambda one: one[:2], lambda one: one.grade)
    headings = ["Data", "Talhão", *(f"{grade} ({habits.unit})" for grade in grades)]
    return as_csv(habits.table(headings, rows, 2), delimiter=";").encode()


def by_block(weighings: list[Weighing], habits: Habits) -> bytes:
    blocks, rows = spread(weighings, lambda one: (one[0], one[2]), lambda one: one.block)
    headings = ["Fecha", "Calidad", *(f"Parcela {block}" for block in blocks)]
    return as_csv(habits.table(headings, rows, 2), delimiter="\t").encode()


def by_day(weighings: list[Weighing], habits: Habits) -> bytes:
    days, rows = spread(weighings, lambda one: one[1:3], lambda one: one.picked_on)
    return as_csv(habits.table(["Block", "Grade", *map(shown, days)], rows, 2)).encode()


def a_sheet_a_block(weighings: list[Weighing], habits: Habits) -> bytes:
    sheets: dict[str, Table] = {"Ler primeiro": [["Colheita"]]}
    for block in BLOCKS:
        rows = [[one.picked_on, one.grade, one.weight] for one in weighings if one.block == block]
        headings = ["Data", "Categoria", f"Peso ({habits.unit})"]
        sheets[block] = habits.table(headings, rows, 2)
    return as_xlsx(sheets)


def a_sheet_a_month(weighings: list[Weighing], habits: Habits) -> bytes:
    """A column for each day that was picked on, by its mere number."""
    sheets: dict[str, Table] = {}
    for (year, month), group in groupby(weighings, key=lambda one: month_of(one.picked_on)):
        days, rows = spread(list(group), lambda one: one[1:3], lambda one: one.picked_on.day)
        sheets[f"{month:02}-{year}"] = habits.table(["Talhão", "Categoria", *days], rows, 2)
    return as_xlsx(sheets)


def month_of(day: date) -> tuple[int, int]:
    return day.year, day.month


weights = st.integers(1, 900_000).flatmap(
    lambda grams: st.sampled_from([0, 1, 2, 3]).map(
        lambda places: Decimal(grams).scaleb(-3).quantize(Decimal(1).scaleb(-places))
    )
)
picked = st.dictionaries(
    st.tuples(
        st.dates(date(2026, 3, 25), date(2026, 4, 9)),
        st.sampled_from(BLOCKS),
        st.sampled_from(GRADES),
    ),
    weights.filter(lambda weight: weight >= Decimal("0.01")),
    min_size=1,
    max_size=14,
).map(lambda cells: sorted(Weighing(*key, weight) for key, weight in cells.items()))
all_habits = st.builds(
    Habits,
    decimal_mark=st.sampled_from([",", "."]),
    unit=st.sampled_from(["kg", "lb"]),
    gap=st.sampled_from(["", "-", "0", "\N{EN DASH}"]),
    total=st.sampled_from([None, "Subtotal", "Total", "Suma", "Total do dia", ""]),
    has_grand_total=st.booleans(),
    leaves_blank=st.booleans(),
    title=st.sampled_from([[], ["Quinta de Cima"], ["Colheita 2026", "", "Balança nova"]]),
    footer=st.sampled_from([[], [""], ["", "Pesado por Eva", "Nota: balança nova"]]),
)
layouts = st.sampled_from([long, by_grade, by_block, by_day, a_sheet_a_block, a_sheet_a_month])


@given(picked, all_habits, layouts)
def test_every_layout_reads_back_to_the_same_weighings(
    weighings: list[Weighing], habits: Habits, layout: Callable[[list[Weighing], Habits], bytes]
) -> None:
    name = "h.xlsx" if layout in (a_sheet_a_block, a_sheet_a_month) else "h.csv"
    reading = read(layout(weighings, habits), name, habits.settings(), TODAY)
    assert (reading.questions, reading.columns.problems, reading.columns.missing) == ((), (), ())
    rows = list(reading.rows())
    assert [row for row in rows if isinstance(row, RowProblem)] == []
    assert sorted(map(as_weighing, rows)) == weighings
    assert {row.unit for row in rows} == {habits.unit}


def as_weighing(row: WeighingRow) -> Weighing:
    assert row.weight is not None
    return Weighing(row.picked_on, row.block, row.grade, row.weight)
