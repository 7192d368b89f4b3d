"""Weighings written in any layout come back the same, or the sender is asked: never otherwise."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from time import process_time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.importing.reading import Reading, Settings, read
from tests.importing.making import TODAY, as_csv, as_ods, as_xlsx, read_text, weighings

POUND_G = Fraction("453.59237")  # NIST Handbook 44, Appendix C (value from memory)

ENGLISH = ["Date", "Block", "Cultivar", "Grade", "Weight", "Fruit count", "Pickers", "Note"]
SPANISH = [
    "Fecha",
    "Parcela",
    "Variedad",
    "Calidad",
    "Peso",
    "N.º de frutos",
    "Recolectores",
    "Notas",
]
PORTUGUESE = [
    "Data",
    "Talhão",
    "Cultivar",
    "Categoria",
    "Peso",
    "Frutos",
    "Apanhadores",
    "Observações",
]


@dataclass(frozen=True, kw_only=True)
class Weighing:
    picked_on: date
    block: str
    cultivar: str
    grade: str
    weight: Decimal
    fruit_count: int | None
    pickers: tuple[str, ...]
    note: str


@dataclass(frozen=True, kw_only=True)
class Layout:
    headings: list[str]
    delimiter: str
    line_end: str
    encoding: str
    decimal_mark: str
    date_format: str
    unit: str

    def row(self, weighing: Weighing) -> list[Any]:
        return [
            weighing.picked_on.strftime(self.date_format),
            weighing.block,
            weighing.cultivar,
            weighing.grade,
            self.number(weighing.weight),
            "" if weighing.fruit_count is None else weighing.fruit_count,
            named(weighing.pickers),
            weighing.note,
        ]

    def number(self, weight: Decimal) -> str:
        return str(weight).replace(".", self.decimal_mark)

    def head(self) -> list[str]:
        return [
            f"{one} ({self.unit})" if one in ("Weight", "Peso") else one for one in self.headings
        ]

    def file(self, all_of_them: list[Weighing]) -> bytes:
        rows = [self.head(), *map(self.row, all_of_them)]
        text = as_csv(rows, delimiter=self.delimiter, line_end=self.line_end)
        return text.encode(self.encoding)

    @property
    def date_order(self) -> str | None:
        return {"%d": "day-month-year", "%m": "month-day-year"}.get(self.date_format[:2])


def named(people: tuple[str, ...]) -> str:
    """Each name with its semicolon, so that a comma within one stays there."""
    return "".join(f"{person}; " for person in people)


words = st.sampled_from(
    ["Encosta", "São Roque", "Peña, alta", "Vale; baixo", "A|1", 'the "old" one', "Nº 7", "x" * 20]
)
people = st.lists(st.sampled_from(["Ana", "Rui Sá", "Íris", "Costa, Eva"]), max_size=3, unique=True)
weights = st.integers(1, 4_000_000).flatmap(
    lambda grams: st.sampled_from([0, 1, 2, 3]).map(
        lambda places: Decimal(grams).scaleb(-3).quantize(Decimal(1).scaleb(-places))
    )
)
all_weighings = st.lists(
    st.builds(
        Weighing,
        picked_on=st.dates(date(2001, 1, 1), TODAY),
        block=words,
        cultivar=words,
        grade=st.sampled_from(["", "1.ª", "Extra"]),
        weight=weights.filter(lambda weight: weight >= Decimal("0.01")),
        fruit_count=st.none() | st.integers(1, 900),
        pickers=people.map(tuple),
        note=words | st.just(""),
    ),
    min_size=1,
    max_size=8,
)
layouts = st.builds(
    Layout,
    headings=st.sampled_from([ENGLISH, SPANISH, PORTUGUESE]),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    line_end=st.sampled_from(["\r\n", "\n", "\r"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]),
    decimal_mark=st.sampled_from([".", ","]),
    date_format=st.sampled_from(
        [
            "%d/%m/%Y",
            "%m/%d/%Y",
            "%Y-%m-%d",
            "%d.%m.%Y",
            "%d-%m-%y",
            "%m/%d/%y",
            "%Y%m%d",
            "%d %b %Y",
        ]
    ),
    unit=st.sampled_from(["kg", "lb"]),
)


def is_open_number(weight: Decimal) -> bool:
    """Three decimals after one to three figures, of which the first is no zero."""
    return weight.as_tuple().exponent == -3 and 1 <= weight < 1000


def is_open_date(day: date, date_format: str) -> bool:
    order_matters = date_format[-2:].lower() == "%y" and "b" not in date_format
    return order_matters and day.day <= 12 and day.day != day.month


def expected_questions(all_of_them: list[Weighing], layout: Layout) -> set[str]:
    asked = set()
    marked = [one.weight for one in all_of_them if one.weight.as_tuple().exponent]
    if any(map(is_open_number, marked)) and all(map(is_open_number, marked)):
        asked.add("decimal_mark")
    days = [one.picked_on for one in all_of_them]
    open_days = [is_open_date(day, layout.date_format) for day in days]
    if any(open_days) and not any(day.day > 12 for day in days):
        asked.add("date_order")
    return asked


def as_weighings(reading: Reading) -> list[Weighing]:
    return [
        Weighing(
            picked_on=row.picked_on,
            block=row.block,
            cultivar=row.cultivar,
            grade=row.grade,
            weight=row.weight or Decimal(0),
            fruit_count=row.fruit_count,
            pickers=row.pickers,
            note=row.note,
        )
        for row in weighings(reading)
    ]


def short_year_of_one_number(all_of_them: list[Weighing], layout: Layout) -> bool:
    """05/05/26 reads the same either way, but its short year is only taken in a decided order."""
    return layout.date_format.endswith("%y") and all(
        one.picked_on.day == one.picked_on.month for one in all_of_them
    )


@given(all_weighings, layouts)
def test_what_is_written_is_read_back_or_asked_about(
    all_of_them: list[Weighing], layout: Layout
) -> None:
    content = layout.file(all_of_them)
    reading = read(content, "harvest.csv", Settings(), TODAY)
    assert {one.setting for one in reading.questions} == expected_questions(all_of_them, layout)
    if reading.questions or short_year_of_one_number(all_of_them, layout):
        answered = Settings(decimal_mark=layout.decimal_mark, date_order=layout.date_order)
        reading = read(content, "harvest.csv", answered, TODAY)
    assert as_weighings(reading) == all_of_them
    assert {row.unit for row in weighings(reading)} == {layout.unit}
    unit_g = 1000 if layout.unit == "kg" else POUND_G
    assert [row.weight_g for row in weighings(reading)] == [
        round(Fraction(one.weight) * unit_g) for one in all_of_them
    ]


@given(all_weighings, layouts)
def test_the_members_saved_settings_answer_as_well(
    all_of_them: list[Weighing], layout: Layout
) -> None:
    saved = Settings(saved_decimal_mark=layout.decimal_mark, saved_date_order=layout.date_order)
    reading = read(layout.file(all_of_them), "harvest.csv", saved, TODAY)
    assert reading.questions == ()
    assert as_weighings(reading) == all_of_them


@given(all_weighings, st.sampled_from([(as_xlsx, "h.xlsx"), (as_ods, "h.ods")]))
def test_workbooks_come_back_without_a_question(
    all_of_them: list[Weighing], kind: tuple[Any, str]
) -> None:
    make, name = kind
    rows = [
        [
            *(one.picked_on, one.block, one.cultivar, one.grade or None, float(one.weight)),
            *(one.fruit_count, named(one.pickers) or None, one.note or None),
        ]
        for one in all_of_them
    ]
    reading = read(make({"Picking": [ENGLISH, *rows]}), name, Settings(unit="kg"), TODAY)
    assert as_weighings(reading) == all_of_them


@pytest.mark.parametrize("rows", [2_000])
def test_time_grows_with_the_rows_and_not_faster(rows: int) -> None:
    """Eight times the rows take about eight times as long; a square would take sixty-four."""

    def seconds(count: int) -> float:
        lines = (f"{n};13/04/2026;B{n % 9};{n % 90 + 1},5;note {n}\r\n" for n in range(count))
        text = "Line;Date;Block;Net kg;Note\r\n" + "".join(lines)
        start = process_time()
        assert len(weighings(read_text(text))) == count
        return process_time() - start

    seconds(rows)  # warms caches
    assert seconds(8 * rows) < 24 * seconds(rows)
