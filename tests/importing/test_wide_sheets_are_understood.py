from datetime import date
from typing import Any

import pytest

from records.importing.reading import Reading
from tests.importing.making import problems, read_rows, weighings

KNOWN = {"grade": ["Extra", "Segunda", "G", "12"], "block": ["P1", "P2", "Encosta", "12"]}


def read_wide(*rows: list[Any], **settings: Any) -> Reading:
    return read_rows(rows, known=KNOWN, **{"unit": "kg", **settings})


def told(reading: Reading) -> list[tuple[Any, ...]]:
    return [
        (row.row_number, row.column, row.picked_on.day, row.block, row.grade, str(row.weight))
        for row in weighings(reading)
    ]


@pytest.mark.parametrize(
    ("heading", "grade", "unit"),
    [
        ("Extra", "Extra", "kg"),
        ("EXTRA", "Extra", "kg"),
        ("Extra (lb)", "Extra", "lb"),
        ("Extra lb", "Extra", "lb"),
        ("kg Extra", "Extra", "kg"),
        ("Peso Extra (lb)", "Extra", "lb"),
        ("Categoria Extra", "Extra", "kg"),
        ("Extra, peso líquido em libras", "Extra", "lb"),
        ("G", "G", "kg"),  # a grade, though also how grams are written
        ("G (lb)", "G", "lb"),
        ("12", "12", "kg"),  # also a block, but blocks have a column here
    ],
)
def test_a_heading_names_a_grade_and_may_name_a_unit(heading: str, grade: str, unit: str) -> None:
    reading = read_wide(["Data", "Talhão", heading], ["13/04/2026", "P1", "7"])
    (row,) = weighings(reading)
    assert (row.block, row.grade, str(row.weight), row.unit) == ("P1", grade, "7", unit)
    assert row.column == heading


def test_each_row_keeps_its_number_and_each_cell_its_heading() -> None:
    reading = read_wide(
        ["Data", "Talhão", "Extra", "Segunda"],
        ["13/04/2026", "P1", "7", "3,5"],
        ["14/04/2026", "P2", "", "2"],
    )
    assert told(reading) == [
        (2, "Extra", 13, "P1", "Extra", "7"),
        (2, "Segunda", 13, "P1", "Segunda", "3.5"),
        (3, "Segunda", 14, "P2", "Segunda", "2"),
    ]
    assert reading.row_count == 2


@pytest.mark.parametrize("gap", ["", " ", "-", "\N{EN DASH}", "0", "0,0"])
def test_a_cell_with_nothing_in_it_is_no_weighing(gap: str) -> None:
    rows = (["Data", "Talhão", "Extra", "Segunda"], ["13/04/2026", "P1", gap, "2,5"])
    assert [row.grade for row in weighings(read_wide(*rows))] == ["Segunda"]


def test_weight_and_fruit_of_one_grade_are_one_weighing() -> None:
    reading = read_wide(
        ["Data", "Talhão", "Extra (kg)", "Frutos Extra", "Segunda (kg)"],
        ["13/04/2026", "P1", "7", "21", "2"],
    )
    found = [(row.grade, str(row.weight), row.fruit_count) for row in weighings(reading)]
    assert found == [("Extra", "7", 21), ("Segunda", "2", None)]


def test_blocks_as_headings_may_bear_their_title() -> None:
    reading = read_wide(["Data", "Talhão P1", "Talhão Encosta"], ["13/04/2026", "7", "2"])
    assert [(row.block, str(row.weight)) for row in weighings(reading)] == [
        ("P1", "7"),
        ("Encosta", "2"),
    ]


@pytest.mark.parametrize(
    ("headings", "settings", "days"),
    [
        (["13/04/2026", "14/04/2026"], {}, [13, 14]),
        (["2026-04-03", "2026-04-04"], {}, [3, 4]),
        (["13 abr 2026", "14 abr 2026"], {}, [13, 14]),
        (["13/04/2026 (kg)", "14/04/2026 (kg)"], {}, [13, 14]),
        # the order of the headings' days counts as that of any other date
        (["03/04/2026", "13/04/2026"], {}, [3, 13]),
        (["03/04/2026", "04/04/2026"], {"saved_date_order": "month-day-year"}, [4, 4]),
    ],
)
def test_days_as_headings(headings: list[str], settings: dict[str, Any], days: list[int]) -> None:
    reading = read_wide(["Talhão", *headings], ["P1", "7", "2"], **settings)
    assert [row.picked_on.day for row in weighings(reading)] == days


def test_days_without_a_year_are_of_the_one_the_title_names() -> None:
    reading = read_wide(["Colheita 2025"], ["Talhão", "13/04", "14/04"], ["P1", "7", "2"])
    assert [row.picked_on for row in weighings(reading)] == [date(2025, 4, 13), date(2025, 4, 14)]


def test_the_order_of_days_in_headings_is_asked_for_not_guessed() -> None:
    (question,) = read_wide(["Talhão", "03/04/2026", "04/04/2026"], ["P1", "7", "2"]).questions
    assert (question.setting, question.examples[0].row) == ("date_order", 1)


def test_a_day_to_come_is_a_problem_only_where_something_was_picked() -> None:
    reading = read_wide(
        ["Talhão", "30/06/2026", "01/07/2026"], ["P1", "7", ""], ["P2", "", "3"]
    )  # today is 30 June
    (problem,) = problems(reading)
    assert (problem.row, problem.column, problem.code) == (3, "01/07/2026", "date-in-future")


def test_a_bad_cell_is_a_problem_that_names_its_heading() -> None:
    reading = read_wide(["Data", "Talhão", "Extra", "Segunda"], ["13/04/2026", "P1", "x", "2"])
    (problem,) = problems(reading)
    assert (problem.row, problem.column, problem.value) == (2, "Extra", "x")


def test_what_is_wrong_with_the_whole_row_is_told_once() -> None:
    reading = read_wide(["Data", "Talhão", "Extra", "Segunda"], ["31/02/2026", "P1", "1", "2"])
    found = list(reading.rows())
    assert [(one.column, one.code) for one in found] == [("Data", "not-a-date")]


def test_the_minutes_of_a_row_are_not_counted_for_each_grade() -> None:
    reading = read_wide(
        ["Data", "Talhão", "Minutos", "Extra", "Segunda"], ["13/04/2026", "P1", "45", "1", "2"]
    )
    assert [row.minutes for row in weighings(reading)] == [45, None]


@pytest.mark.parametrize(
    ("headings", "named"),
    [
        (["Data", "P1", "P2", "Extra"], ["Extra"]),  # blocks, and a grade among them
        (["Data", "Talhão", "Extra", "Outra", "Segunda"], ["Outra"]),
        (["Data", "Talhão", "Extra", "Segunda", "Outra (kg)"], ["Outra (kg)"]),
        (["Data", "Talhão", "Extra", "Segunda", "Outra"], ["Outra"]),  # with numbers below it
        (["Data", "Talhão", "Extra", "Segunda", "Extra"], ["Extra", "Extra"]),
        (["Data", "Talhão", "Extra", "Segunda", "Peso (kg)"], ["Peso (kg)"]),  # their total?
        (["Data", "Talhão", "Extra", "Segunda", "Caixas"], ["Caixas"]),  # of which grade?
    ],
)
def test_columns_that_cannot_be_told_apart_are_a_problem(
    headings: list[str], named: list[str]
) -> None:
    reading = read_wide(headings, ["13/04/2026", "P1", "1", "2", "3"][: len(headings)])
    (problem,) = reading.columns.problems
    assert problem.code == "ambiguous-headings"
    assert list(problem.headings) == named
    assert all(f'"{heading}" (' in problem.detail for heading in named)
    assert not reading.is_ready


def test_a_heading_that_could_be_two_things_is_settled_by_what_is_missing() -> None:
    """12 is a block and a grade of the farm."""
    (row,) = weighings(read_wide(["Data", "Categoria", "12"], ["13/04/2026", "Extra", "7"]))
    assert (row.block, row.grade) == ("12", "Extra")


def test_a_mapping_settles_what_headings_are() -> None:
    reading = read_wide(
        ["Data", "Talhão", "Boa", "Refugo", "Extra", "Peso (kg)"],
        ["13/04/2026", "P1", "1", "2", "4", "9"],
        mapping={"Boa": "net by grade: Extra B", "Refugo": "net by grade", "Peso (kg)": ""},
    )
    assert [(row.grade, row.weight_is) for row in weighings(reading)] == [
        ("Extra B", "net"),
        ("Refugo", "net"),
        ("Extra", "gross"),
    ]


def test_a_mapping_to_what_is_no_spread_is_a_problem() -> None:
    reading = read_wide(["Data", "Talhão", "Boa"], mapping={"Boa": "net by pickers"})
    assert [problem.code for problem in reading.columns.problems] == ["unknown-column"]


def test_without_the_farms_codes_the_sender_is_asked() -> None:
    reading = read_rows([["Data", "Talhão", "Extra"], ["13/04/2026", "P1", "7"]])
    assert reading.columns.unused == ("Extra",)
    assert not reading.is_ready


@pytest.mark.parametrize(
    ("total", "found"),
    [
        ("3,5", []),
        ("4", []),  # rounded
        ("", []),
        ("3,4", ["Cell E2 says 3.4, but the weights of its row add up to 3.5."]),
    ],
)
def test_the_total_of_a_wide_row_is_held_against_it(total: str, found: list[str]) -> None:
    reading = read_wide(
        ["Data", "Talhão", "Extra", "Segunda", "Total"], ["13/04/2026", "P1", "1,5", "2", total]
    )
    told = [one.detail.partition(" Correct")[0] for one in problems(reading)]
    assert told == found


def test_a_total_in_a_sheet_that_is_not_wide_is_left_out() -> None:
    reading = read_rows([["Date", "Block", "Net kg", "Total"], ["2026-04-13", "A", "1", "9"]])
    assert reading.columns.unused == ("Total",)
    assert str(weighings(reading)[0].weight) == "1"


def test_the_sender_is_told_what_wide_headings_were_taken_for() -> None:
    (remark,) = read_wide(["Data", "Talhão", "Extra (kg)"], ["13/04/2026", "P1", "7"]).remarks
    assert remark.code == "wide-sheet"
    assert '"Extra (kg)" (Extra)' in remark.detail
