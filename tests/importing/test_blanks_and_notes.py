"""Cells carried down, and rows above, below and between that are no entries."""

from typing import Any

import pytest

from records.importing.reading import Reading
from tests.importing.making import problems, read_rows, weighings

HEADINGS = ["Date", "Block", "Grade", "Kilos"]


def read_list(*rows: list[str]) -> Reading:
    return read_rows([HEADINGS, *rows])


def test_a_date_and_a_block_are_carried_down_from_the_row_above() -> None:
    reading = read_list(
        ["2026-04-13", "Hill", "A", "1"],
        ["", "", "B", "2"],
        ["", "Dell", "A", "3"],
        ["2026-04-14", "", "A", "4"],
    )
    assert [(row.picked_on.day, row.block) for row in weighings(reading)] == [
        (13, "Hill"),
        (13, "Hill"),
        (13, "Dell"),
        (14, "Dell"),
    ]


def test_the_sender_is_told_which_columns_were_carried_on_how_many_rows() -> None:
    reading = read_list(
        ["2026-04-13", "Hill", "A", "1"], ["", "", "B", "2"], ["", "Dell", "A", "3"]
    )
    told = [(remark.code, remark.detail[:7], remark.count) for remark in reading.remarks]
    assert told == [("carried-down", '"Date" ', 2), ("carried-down", '"Block"', 1)]


@pytest.mark.parametrize(
    "between",
    [
        ["", "", "", ""],  # a blank row
        ["Total", "", "", "1"],
        HEADINGS,  # the next page of a printed list
    ],
)
def test_nothing_is_carried_across_what_parts_a_list(between: list[str]) -> None:
    found = problems(read_list(["2026-04-13", "Hill", "A", "1"], between, ["", "", "B", "2"]))
    assert [(one.row, one.column, one.code) for one in found] == [
        (4, "Date", "missing"),
        (4, "Block", "missing"),
    ]


def test_only_date_and_block_are_carried() -> None:
    reading = read_list(["2026-04-13", "Hill", "A", "1"], ["2026-04-13", "Hill", "", "2"])
    assert weighings(reading)[1].grade == ""


def test_what_was_wrong_above_is_wrong_below_as_well() -> None:
    found = problems(read_list(["31/02/2026", "Hill", "A", "1"], ["", "", "B", "2"]))
    assert [(one.row, one.code) for one in found] == [(2, "not-a-date"), (3, "not-a-date")]


@pytest.mark.parametrize(
    "notes",
    [
        [["Weighed by Eva", "", "", ""]],
        [["", "", "", ""], ["Notes:", "", "", ""], ["new scale", "", "", ""]],
        [["Signed", "30/06/2026", "", ""]],
    ],
)
def test_notes_below_the_table_are_left_out_and_told(notes: list[list[str]]) -> None:
    reading = read_list(["2026-04-13", "Hill", "A", "1"], *notes)
    assert len(weighings(reading)) == 1
    (remark,) = reading.remarks
    assert remark.code == "footer-rows"
    assert remark.count == sum(any(row) for row in notes)


def test_a_dated_row_without_an_amount_is_no_note() -> None:
    (problem,) = problems(
        read_list(["2026-04-13", "Hill", "A", "1"], ["2026-04-14", "Hill", "", ""])
    )
    assert (problem.row, problem.code) == (3, "nothing-weighed")


def test_a_text_in_the_middle_of_the_table_is_no_note() -> None:
    rows: list[list[Any]] = [["2026-04-13", "Hill", "A", "1"]]
    found = problems(read_list(*rows, ["second week", "", "", ""], *rows))
    assert {one.row for one in found} == {3}


def test_titles_above_the_headings_are_left_out_and_told() -> None:
    reading = read_rows(
        [["Upper orchard"], [], ["2026"], HEADINGS, ["2026-04-13", "Hill", "", "1"]]
    )
    (remark,) = reading.remarks
    assert (remark.code, remark.count, remark.rows) == ("title-rows", 2, (1, 3))
    assert weighings(reading)[0].row_number == 5


def test_headings_repeated_on_every_page_are_left_out_and_told() -> None:
    row = ["2026-04-13", "Hill", "A", "1"]
    reading = read_list(row, HEADINGS, row)
    assert len(weighings(reading)) == 2
    assert [(one.code, one.rows) for one in reading.remarks] == [("headings-repeated", (3,))]
