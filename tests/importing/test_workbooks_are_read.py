from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from records.importing.reading import Reading, Settings, read
from records.importing.sheets import FileRefused
from tests.importing.making import (
    TODAY,
    as_ods,
    as_xlsx,
    ods_cell,
    ods_of,
    ods_row,
    ods_table,
    part_of,
    problems,
    saved,
    weighings,
    with_parts,
)

HEADINGS = ["Date", "Block", "Net kg", "Docket"]
ROW = [date(2026, 4, 3), "Hill", 1.234, 71]


def read_xlsx(content: bytes, **settings: Any) -> Reading:
    return read(content, "harvest.xlsx", Settings(**settings), TODAY)


def read_ods(content: bytes, **settings: Any) -> Reading:
    return read(content, "harvest.ods", Settings(**settings), TODAY)


@pytest.mark.parametrize(("make", "open_it"), [(as_xlsx, read_xlsx), (as_ods, read_ods)])
def test_typed_cells_need_no_decision(make: Any, open_it: Any) -> None:
    """3 April and 1.234 are what they are; a whole number in a column of text has no ".0"."""
    reading = open_it(make({"Picking": [HEADINGS, ROW]}))
    (row,) = weighings(reading)
    assert reading.questions == ()
    assert reading.detected.sheet == "Picking"
    assert (row.picked_on, row.weight, row.docket) == (date(2026, 4, 3), Decimal("1.234"), "71")


@pytest.mark.parametrize(("make", "open_it"), [(as_xlsx, read_xlsx), (as_ods, read_ods)])
def test_titles_and_blank_rows_keep_the_row_numbers(make: Any, open_it: Any) -> None:
    rows = [["Upper orchard"], [None], [None], HEADINGS, [None] * 4, ROW]
    reading = open_it(make({"Picking": rows}))
    assert reading.detected.heading_row == 4
    assert [row.row_number for row in weighings(reading)] == [6]


def test_a_table_may_start_in_any_column() -> None:
    rows = [[None, None, *HEADINGS], [None, None, *ROW]]
    reading = read_xlsx(as_xlsx({"Picking": rows}))
    assert [one.index for one in reading.columns.used] == [2, 3, 4, 5]
    assert weighings(reading)[0].block == "Hill"


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_the_first_sheet_with_anything_in_it_is_read(kind: str) -> None:
    sheets = {"Empty": [], "Picking": [HEADINGS, ROW], "Notes": [["hello"]]}
    content = as_xlsx(sheets) if kind == "xlsx" else as_ods(sheets)
    assert read(content, f"h.{kind}", Settings(), TODAY).detected.sheet == "Picking"


def test_a_hidden_sheet_is_read_only_by_name() -> None:
    sheets = {"Lists": [HEADINGS, ROW], "Picking": [HEADINGS, ROW, ROW]}
    content = as_xlsx(sheets, hidden=["Lists"])
    assert read_xlsx(content).detected.sheet == "Picking"
    assert read_xlsx(content, sheet="lists ").row_count == 1


def test_a_sheet_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(FileRefused, match='"Picking", "Notes"') as refused:
        read_xlsx(as_xlsx({"Picking": [HEADINGS], "Notes": []}), sheet="Harvest")
    assert refused.value.code == "no-such-sheet"


def test_dates_counted_from_1904_are_right() -> None:
    workbook = Workbook()
    workbook.epoch = CALENDAR_MAC_1904
    workbook.worksheets[0].append(HEADINGS)
    workbook.worksheets[0].append(ROW)
    assert weighings(read_xlsx(saved(workbook)))[0].picked_on == date(2026, 4, 3)


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        (["#N/A", "Hill", 12, None], "spreadsheet-error"),  # in the date
        ([ROW[0], "#REF!", 12, None], "spreadsheet-error"),  # in a text
        ([ROW[0], "Hill", "#DIV/0!", None], "spreadsheet-error"),  # in a weight
        ([46115, "Hill", 12, None], "date-serial"),  # a date that lost its format
        ([ROW[0], "Hill", True, None], "not-a-number"),
        ([ROW[0], "Hill", date(2026, 5, 12), None], "not-a-number"),  # 12.5 turned into a date
        ([ROW[0], "Hill", 12, date(2026, 4, 3)], "date-for-text"),  # docket 3-4 likewise
        ([time(7, 30), "Hill", 12, None], "not-a-date"),
        ([True, "Hill", 12, None], "not-a-date"),
    ],
)
def test_a_cell_of_the_wrong_type_is_a_problem(cells: list[Any], code: str) -> None:
    (problem,) = problems(read_xlsx(as_xlsx({"Picking": [HEADINGS, cells]})))
    assert (problem.row, problem.code) == (2, code)


def test_error_cells_are_found_in_ods_too() -> None:
    rows = [HEADINGS, ROW, [ROW[0], "Hill", "#DIV/0!", None]]
    (problem,) = problems(read_ods(as_ods({"Picking": rows})))
    assert (problem.row, problem.column, problem.value) == (3, "Net kg", "#DIV/0!")


def test_the_time_of_day_is_dropped() -> None:
    rows = [HEADINGS, [datetime(2026, 4, 3, 16, 20), *ROW[1:]]]
    assert weighings(read_xlsx(as_xlsx({"P": rows})))[0].picked_on == date(2026, 4, 3)


def test_what_a_spreadsheet_shows_of_a_fraction_is_what_is_read() -> None:
    rows = [HEADINGS, [ROW[0], "Hill", 0.1 + 0.2, None]]
    assert weighings(read_xlsx(as_xlsx({"P": rows})))[0].weight == Decimal("0.3")


def test_repeated_rows_and_cells_of_ods_are_counted() -> None:
    """Writers of ODS give equal neighbours once, with a number of repeats."""
    blank = ods_row([None], 'table:number-rows-repeated="3"')
    twice = ods_row(ROW, 'table:number-rows-repeated="2"')
    gap = ods_cell(None, 'table:number-columns-repeated="2"')
    headings = f"<table:table-row>{gap}{''.join(map(ods_cell, HEADINGS))}</table:table-row>"
    shifted = twice.replace(">", f">{gap}", 1)
    tail = ods_row([None], 'table:number-rows-repeated="1048000"')
    reading = read_ods(ods_of(ods_table("Picking", [blank, headings, shifted, tail])))
    assert [(row.row_number, row.block) for row in weighings(reading)] == [(5, "Hill"), (6, "Hill")]


def test_cells_without_references_and_with_prefixes_are_read() -> None:
    """Some programs leave references out, some write every element with a prefix."""
    plain = as_xlsx({"P": [HEADINGS, ROW]})
    part = "xl/worksheets/sheet1.xml"
    xml = part_of(plain, part)
    for row in (b"1", b"2"):
        for column in b"ABCD":
            xml = xml.replace(b' r="' + bytes([column]) + row + b'"', b"")
    assert b' r="A1"' not in xml
    prefixed = xml.replace(b"</", b"</x:").replace(b"<", b"<x:").replace(b"<x:/x:", b"</x:")
    prefixed = prefixed.replace(b"xmlns=", b"xmlns:x=")
    for content in (xml, prefixed):
        assert weighings(read_xlsx(with_parts(plain, {part: content})))[0].block == "Hill"
