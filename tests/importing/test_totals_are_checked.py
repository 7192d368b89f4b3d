from typing import Any

import pytest

from records.importing.reading import Reading
from records.importing.rows import RowProblem
from records.importing.totalwords import says_total
from tests.importing.making import as_xlsx, problems, read_rows, weighings
from tests.importing.test_workbooks_are_read import read_xlsx

HEADINGS = ["Date", "Block", "Grade", "Net kg", "Note"]


def read_list(*rows: list[str]) -> Reading:
    return read_rows([HEADINGS, *(row + [""] * (5 - len(row)) for row in rows)])


ROWS = (["2026-04-13", "Hill", "A", "10.5"], ["2026-04-13", "Hill", "B", "4.25"])


@pytest.mark.parametrize(
    "label",
    [
        *("Total", "TOTAL:", "Subtotal", "Sub-total", "Totals", "Grand total", "Sum"),
        *("Suma", "Suma total", "Total general", "Totales", "Gran total"),
        *("Soma", "Totais", "Total geral", "Subtotal Talhão 3", "Total do dia", "P1 Total"),
    ],
)
def test_a_total_is_known_in_three_languages(label: str) -> None:
    assert says_total(label)
    assert len(weighings(read_list(*ROWS, [label, "", "", "14.75"]))) == 2
    assert len(weighings(read_list(*ROWS, ["", label, "", "14.75"]))) == 2


@pytest.mark.parametrize(
    "name", ["Totality", "Sumarento", "Tomas", "Subtotals1", "3", "", "Somador"]
)
def test_a_name_is_no_total(name: str) -> None:
    assert not says_total(name)


@pytest.mark.parametrize(
    "row",
    [
        ["2026-04-13", "Hill", "Total", "14.75"],  # in a text cell beside date and block
        ["2026-04-13", "Total", "", "14.75"],
        ["2026-04-13", "", "", "14.75", "total of the day"],  # in a note, without a block
        ["", "", "", "14.75"],  # numbers, and nothing that says whose
        ["", "", "", "14.75", "checked"],
    ],
)
def test_a_total_is_not_loaded(row: list[str]) -> None:
    reading = read_list(*ROWS, row)
    assert [str(one.weight) for one in weighings(reading)] == ["10.5", "4.25"]
    (remark,) = reading.remarks
    assert (remark.code, remark.count, remark.rows) == ("totals", 1, (4,))


def test_a_note_that_speaks_of_a_total_does_not_make_a_row_one() -> None:
    reading = read_list(*ROWS, ["2026-04-13", "Hill", "A", "1", "total loss"])
    assert len(weighings(reading)) == 3


@pytest.mark.parametrize(
    ("total", "is_wrong"),
    [
        ("14.75", False),
        ("14.750", False),
        ("14.8", False),  # rounded
        ("15", False),
        ("14.7", False),  # half of its last place away, as some programs round
        ("14.6", True),
        ("14.76", True),
        ("14", True),
        ("147.5", True),
        ("0", True),
        ("", False),  # a row that says "Total" and no number
    ],
)
def test_a_total_must_be_the_sum_of_its_rows_up_to_rounding(total: str, is_wrong: bool) -> None:
    found = problems(read_list(*ROWS, ["Total", "", "", total]))
    assert [problem.code for problem in found] == ["total-differs"] * is_wrong


def test_rows_rounded_below_an_exact_total_may_each_be_off_by_half() -> None:
    rows = [["2026-04-13", "Hill", "A", "1.5"]] * 4
    assert problems(read_list(*rows, ["Total", "", "", "6.18"])) == []
    assert len(problems(read_list(*rows, ["Total", "", "", "6.21"]))) == 1


def test_a_difference_names_the_cell_with_both_numbers() -> None:
    (problem,) = problems(read_list(*ROWS, ["Total", "", "", "15.75"]))
    assert (problem.row, problem.column, problem.value) == (4, "Net kg", "15.75")
    assert problem.detail == (
        "Cell D4 says 15.75, but rows 2 to 3 add up to 14.75. "
        "Correct the total, or the row that is wrong."
    )


def test_each_column_of_a_wide_sheet_has_its_total() -> None:
    rows = [
        ["Date", "Block", "A", "B"],
        ["2026-04-13", "Hill", "1", "2"],
        ["2026-04-14", "Hill", "3", "-"],
        ["Total", "", "4", "3"],
    ]
    (problem,) = problems(read_rows(rows, unit="kg", known={"grade": ["A", "B"]}))
    assert (problem.column, problem.detail[:15]) == ("B", "Cell D4 says 3,")


@pytest.mark.parametrize(
    ("totals", "wrong_rows"),
    [
        (("14.75", "2", "16.75"), []),  # a subtotal for each day, and all of them
        (("14.75", "16.75", "16.75"), []),  # running totals
        (("14.75", "3", "16.75"), [6]),
        (("14.74", "2", "16.75"), [4]),
        (("14.75", "2", "16"), [7]),
    ],
)
def test_totals_add_up_since_the_last_or_an_earlier_one(
    totals: tuple[str, str, str], wrong_rows: list[int]
) -> None:
    first, second, grand = totals
    reading = read_list(
        *ROWS,
        ["Subtotal", "", "", first],
        ["2026-04-14", "Hill", "A", "2"],
        ["Subtotal", "", "", second],
        ["Total", "", "", grand],
    )
    assert [problem.row for problem in problems(reading)] == wrong_rows


def test_a_total_of_rows_that_cannot_be_read_is_not_judged() -> None:
    reading = read_list(*ROWS, ["2026-04-13", "Hill", "A", "many"], ["Total", "", "", "20"])
    assert [problem.code for problem in problems(reading)] == ["not-a-number"]


def test_a_total_above_all_rows_has_nothing_to_add_up() -> None:
    (problem,) = problems(read_list(["Total", "", "", "9"], *ROWS))
    assert problem.detail == "Cell D2 says 9, but there are no rows above it to add up."


def test_a_total_may_be_larger_than_any_single_row() -> None:
    rows = [["2026-04-13", "Hill", "A", "4000"]] * 3
    assert problems(read_list(*rows, ["Total", "", "", "12,000.0"])) == []


def test_a_workbooks_sums_are_as_exact_as_its_numbers() -> None:
    rows: list[list[Any]] = [["2026-04-13", "Hill", "A", 0.1], ["2026-04-13", "Hill", "B", 0.2]]
    right = read_xlsx(as_xlsx({"P": [HEADINGS, *rows, ["Total", None, None, 0.1 + 0.2]]}))
    wrong = read_xlsx(as_xlsx({"P": [HEADINGS, *rows, ["Total", None, None, 1]]}))
    assert [problems(right), len(problems(wrong))] == [[], 1]


def test_a_row_that_could_be_a_weighing_or_a_sum_is_asked_about() -> None:
    """A date, no block, nothing but the sum of what stands above it."""
    rows = [["Date", "Block", "Kilos"], ["2026-04-13", "A", "4"], ["2026-04-13", "B", "3"]]
    (problem,) = problems(read_rows([*rows, ["2026-04-13", "", "7"]]))
    assert (problem.row, problem.column, problem.code) == (4, "Block", "row-or-total")
    assert len(weighings(read_rows([*rows, ["2026-04-13", "", "6"]]))) == 3
    assert len(weighings(read_rows([*rows, ["", "C", "7"]]))) == 3


def test_a_first_row_without_date_and_block_is_no_total() -> None:
    found = problems(read_list(["", "", "", "9"]))
    assert [(one.column, one.code) for one in found] == [("Date", "missing"), ("Block", "missing")]
    assert all(isinstance(one, RowProblem) for one in found)
