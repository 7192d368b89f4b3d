from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from records.importing.marks import Example, Question
from records.importing.reading import Reading
from records.importing.written import parse_date, parse_number
from tests.importing.making import as_xlsx, problems, read_rows, weighings
from tests.importing.test_workbooks_are_read import read_xlsx


def read_weights(*weights: str, **settings: Any) -> Reading:
    rows = [["2026-04-13", "A", weight] for weight in weights]
    return read_rows([["Date", "Block", "Peso (kg)"], *rows], **settings)


def read_dates(*dates: str, **settings: Any) -> Reading:
    rows = [[day, "A", "12"] for day in dates]
    return read_rows([["Date", "Block", "Kilos"], *rows], **settings)


@pytest.mark.parametrize(
    ("weights", "mark", "grams"),
    [
        (["12,5"], ",", [12_500]),
        (["12.5"], ".", [12_500]),
        (["1.234,56"], ",", [1_234_560]),  # both marks: the last one is the decimal mark
        (["1,234.56"], ".", [1_234_560]),
        (["1.234", "12,5"], ",", [1_234_000, 12_500]),  # one clear cell decides for all
        (["1.234", "12.5"], ".", [1_234, 12_500]),
        (["0.500"], ".", [500]),  # no one writes a thousand as 0.500
        (["1234.567"], ".", [1_234_567]),  # nor groups a part of the thousands
        (["1.000.000", "2"], ",", None),  # a mark that comes twice groups
        (["1 234,5"], ",", [1_234_500]),
        (["1\u00a0234,5"], ",", [1_234_500]),  # with a no-break space
        (["1 234.567"], ".", [1_234_567]),  # the space groups, so that the point does not
        ([".5"], ".", [500]),
        (["12", "7", "1 234"], None, [12_000, 7_000, 1_234_000]),  # nothing to decide
    ],
)
def test_a_clear_cell_decides_the_decimal_mark(
    weights: list[str], mark: str | None, grams: list[int] | None
) -> None:
    reading = read_weights(*weights)
    assert reading.questions == ()
    assert reading.detected.decimal_mark == mark
    if grams:
        assert [row.weight_g for row in weighings(reading)] == grams


@pytest.mark.parametrize(
    ("weights", "examples"),
    [
        (["1.234", "12"], [(2, "1.234")]),  # thousands or decimals?
        (["7", "1,234", "2,500"], [(3, "1,234"), (4, "2,500")]),
        (["12,5", "12.5"], [(2, "12,5"), (3, "12.5")]),  # the file contradicts itself
    ],
)
def test_the_decimal_mark_is_asked_for_not_guessed(
    weights: list[str], examples: list[tuple[int, str]]
) -> None:
    reading = read_weights(*weights)
    (question,) = reading.questions
    assert question.setting == "decimal_mark"
    assert question.examples == tuple(Example(row, "Peso (kg)", text) for row, text in examples)
    assert not reading.is_ready
    with pytest.raises(ValueError, match="open questions"):
        reading.rows()


def test_the_saved_mark_decides_only_where_the_file_does_not() -> None:
    assert weighings(read_weights("1.234", saved_decimal_mark=","))[0].weight_g == 1_234_000
    assert weighings(read_weights("1.234", saved_decimal_mark="."))[0].weight_g == 1_234
    clear = read_weights("12.5", saved_decimal_mark=",")
    assert clear.detected.decimal_mark == "."
    assert weighings(clear)[0].weight_g == 12_500


@pytest.mark.parametrize("setting", ["decimal_mark", "saved_decimal_mark"])
def test_cells_that_contradict_the_mark_are_problems(setting: str) -> None:
    reading = read_weights("12,5", "12.5", "1.234", **{setting: ","})
    (problem,) = problems(reading)
    assert (problem.row, problem.code, problem.value) == (3, "decimal-mark-conflict", "12.5")


def test_an_override_holds_against_all_evidence_cell_by_cell() -> None:
    reading = read_weights("12.5", "7", decimal_mark=",")
    assert reading.detected.decimal_mark == ","
    assert [problem.code for problem in problems(reading)] == ["decimal-mark-conflict"]


def test_counts_are_evidence_too() -> None:
    rows = [["Date", "Block", "Kilos", "Fruit"], ["2026-04-13", "A", "1.234", "1.234,0"]]
    assert read_rows(rows).detected.decimal_mark == ","


def test_numbers_of_other_columns_are_no_evidence() -> None:
    rows = [["Date", "Block", "Kilos", "Note"], ["2026-04-13", "4.5", "1.234", "2,5 hours"]]
    assert [question.setting for question in read_rows(rows).questions] == ["decimal_mark"]


@pytest.mark.parametrize(
    ("dates", "order", "read"),
    [
        (["13/04/2026"], "day-month-year", [date(2026, 4, 13)]),
        (["04/13/2026"], "month-day-year", [date(2026, 4, 13)]),
        (["03/04/2026", "13/04/2026"], "day-month-year", [date(2026, 4, 3), date(2026, 4, 13)]),
        (["3-4-2026", "4-13-2026"], "month-day-year", [date(2026, 3, 4), date(2026, 4, 13)]),
        (["03.04.26", "13.04.26"], "day-month-year", [date(2026, 4, 3), date(2026, 4, 13)]),
        (["2026-04-03"], None, [date(2026, 4, 3)]),  # ISO needs no order
        (["2026/4/3", "20260403"], None, [date(2026, 4, 3)] * 2),
        (["2026-04-03T16:20:00", "2026-04-03 16:20"], None, [date(2026, 4, 3)] * 2),
        (["3 abr 2026", "3 de abril de 2026"], None, [date(2026, 4, 3)] * 2),  # nor do names
        (["3-Apr-26", "April 3, 2026", "3rd April 2026"], None, [date(2026, 4, 3)] * 3),
        (["1 dez 2025", "1-dic-25", "Dec 1 2025"], None, [date(2025, 12, 1)] * 3),
        (["05/05/2026"], None, [date(2026, 5, 5)]),  # the same either way
        (["13/04/2026 4:20 p.m."], "day-month-year", [date(2026, 4, 13)]),
    ],
)
def test_a_clear_cell_decides_the_date_order(
    dates: list[str], order: str | None, read: list[date]
) -> None:
    reading = read_dates(*dates)
    assert reading.questions == ()
    assert reading.detected.date_order == order
    assert [row.picked_on for row in weighings(reading)] == read


@pytest.mark.parametrize(
    ("dates", "examples"),
    [
        (["03/04/2026", "05/05/2026"], [(2, "03/04/2026")]),
        (["2026-04-13", "3.4.26"], [(3, "3.4.26")]),  # the clear one is of another kind
        (["13/04/2026", "04/13/2026"], [(2, "13/04/2026"), (3, "04/13/2026")]),
        (["31/02/2026", "01/02/2026"], [(3, "01/02/2026")]),  # no date at all is no evidence
    ],
)
def test_the_date_order_is_asked_for_not_guessed(
    dates: list[str], examples: list[tuple[int, str]]
) -> None:
    (question,) = read_dates(*dates).questions
    assert question.setting == "date_order"
    assert question.examples == tuple(Example(row, "Date", text) for row, text in examples)


def test_the_saved_order_decides_only_where_the_file_does_not() -> None:
    saved = "month-day-year"
    assert weighings(read_dates("03/04/2026", saved_date_order=saved))[0].picked_on == date(
        2026, 3, 4
    )
    clear = read_dates("03/04/2026", "13/04/2026", saved_date_order=saved)
    assert weighings(clear)[0].picked_on == date(2026, 4, 3)


def test_a_saved_order_that_does_not_tell_days_from_months_leaves_the_question() -> None:
    reading = read_dates("03/04/2026", saved_date_order="year-month-day")
    assert [question.setting for question in reading.questions] == ["date_order"]


def test_cells_that_contradict_the_order_are_problems() -> None:
    reading = read_dates("13/04/2026", "04/13/2026", date_order="month-day-year")
    (problem,) = problems(reading)
    assert (problem.row, problem.code) == (2, "date-order-conflict")
    reading = read_dates("13/04/2026", "2026-04-13", date_order="year-month-day")
    assert [problem.row for problem in problems(reading)] == [2]


def test_a_year_of_two_digits_needs_a_decided_order() -> None:
    (problem,) = problems(read_dates("05/05/26"))
    assert problem.code == "short-year"
    (row,) = weighings(read_dates("05/05/26", date_order="day-month-year"))
    assert row.picked_on == date(2026, 5, 5)
    (row,) = weighings(read_dates("26-04-03", date_order="year-month-day"))
    assert row.picked_on == date(2026, 4, 3)


def test_typed_cells_are_no_evidence_and_texts_beside_them_are() -> None:
    head = ["Date", "Block", "Kilos"]
    rows = [head, [date(2026, 4, 13), "A", 12.5], ["03/04/2026", "A", "1.234"]]
    questions = read_xlsx(as_xlsx({"P": rows})).questions
    assert {question.setting for question in questions} == {"decimal_mark", "date_order"}
    assert all(len(question.examples) == 1 for question in questions)


@pytest.mark.parametrize(
    ("rows", "settings", "units"),
    [
        # the row's own unit beats the heading's, and that the member's saved one
        ([["Peso (kg)", "Unit"], ["12", "lb"]], {"saved_unit": "oz"}, ["lb"]),
        ([["Peso (kg)", "Unit"], ["12", ""]], {"saved_unit": "oz"}, ["kg"]),
        ([["Peso", "Unit"], ["12", "lb"], ["12", ""]], {"saved_unit": "oz"}, ["lb", "oz"]),
        ([["Peso"], ["12"]], {"saved_unit": "lb"}, ["lb"]),
        ([["Peso"], ["12"]], {"unit": "lb", "saved_unit": "kg"}, ["lb"]),
        # the only unit that headings name holds for weights beside it
        ([["Peso bruto", "Tara (kg)"], ["12", "1"]], {"saved_unit": "lb"}, ["kg"]),
    ],
)
def test_the_nearest_unit_counts(
    rows: list[list[str]], settings: dict[str, str], units: list[str]
) -> None:
    head, *cells = rows
    dated = [["Date", "Block", *head], *(["2026-04-13", "A", *row] for row in cells)]
    assert [row.unit for row in weighings(read_rows(dated, **settings))] == units


def asked_for_unit(rows: list[list[str]]) -> tuple[Question, ...]:
    head, *cells = rows
    dated = [["Date", "Block", *head], *(["2026-04-13", "A", *row] for row in cells)]
    return read_rows(dated).questions


@pytest.mark.parametrize(
    ("rows", "examples"),
    [
        ([["Peso"], ["12"]], [(2, "Peso", "12")]),
        ([["Peso", "Unit"], ["12", ""], ["13", " "]], [(2, "Peso", "12"), (3, "Peso", "13")]),
        # two headings name two units: no one knows the third's
        ([["Gross (kg)", "Net (lb)", "Tare"], ["12", "", "1"]], [(2, "Tare", "1")]),
    ],
)
def test_the_unit_is_asked_for_not_guessed(
    rows: list[list[str]], examples: list[tuple[int, str, str]]
) -> None:
    (question,) = asked_for_unit(rows)
    assert question.setting == "unit"
    assert question.examples == tuple(Example(*example) for example in examples)


def test_no_unit_is_asked_for_where_nothing_was_weighed() -> None:
    assert asked_for_unit([["Peso", "Crates"], ["", "3"]]) == ()


def test_a_row_that_forgot_its_unit_is_that_rows_problem() -> None:
    rows = [["Date", "Block", "Peso", "Unit"], *(["2026-04-13", "A", "12", u] for u in ("kg", ""))]
    (problem,) = problems(read_rows(rows))
    assert (problem.row, problem.column, problem.code) == (3, "Peso", "unit-missing")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "-",
        ".",
        ",",
        "12,",
        "1,23,456.7",
        "1.23.4",
        "1,2.3,4",
        "1e3",
        "nan",
        "٣",
        "1 23",
        "12 kg",
    ],
)
def test_what_is_no_number_is_none_under_either_mark(text: str) -> None:
    assert parse_number(text, ".") is None
    assert parse_number(text, ",") is None


def test_a_minus_of_any_kind_is_a_minus() -> None:
    assert parse_number("\u22121,5", ",") == parse_number("-1.5", ".") == Decimal("-1.5")


@pytest.mark.parametrize(
    "text",
    [
        *("", "46115", "2026-13-01", "2026-02-30", "13/13/2026", "1/2/3", "03-04/2026", "4 2026"),
        *("2026-04-13T10:00Z", "abril 2026", "32 abr 2026", "20261340", "0000-01-01", "1 abr mai"),
    ],
)
def test_what_is_no_date_is_none_under_any_order(text: str) -> None:
    assert parse_date(text, "day-month-year") is None
    assert parse_date(text, "month-day-year") is None
    assert parse_date(text, None) is None
