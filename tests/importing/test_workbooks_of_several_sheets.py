from datetime import date
from typing import Any

import pytest

from records.importing.reading import Reading, Settings, read
from records.importing.sheets import FileRefused
from tests.importing.making import TODAY, as_ods, as_xlsx, problems, weighings

HEADINGS = ["Data", "Talhão", "Peso (kg)"]
ROW = [date(2026, 4, 3), "P1", 12]
KNOWN = {"block": ["P1", "P2"], "grade": ["Extra", "Segunda"]}


def read_sheets(
    sheets: dict[str, Any], *, hidden: tuple[str, ...] = (), **settings: Any
) -> Reading:
    content = as_xlsx(sheets, hidden=hidden)
    return read(content, "colheita.xlsx", Settings(known=KNOWN, **settings), TODAY)


@pytest.mark.parametrize(("make", "name"), [(as_xlsx, "h.xlsx"), (as_ods, "h.ods")])
def test_all_sheets_with_the_headings_are_read(make: Any, name: str) -> None:
    content = make({"Abril": [HEADINGS, ROW], "Maio": [HEADINGS, ROW, ROW]})
    reading = read(content, name, Settings(), TODAY)
    assert reading.detected.sheets == ("Abril", "Maio")
    assert [(row.sheet, row.row_number) for row in weighings(reading)] == [
        ("Abril", 2),
        ("Maio", 2),
        ("Maio", 3),
    ]
    assert reading.row_count == 3


def test_the_sender_is_told_which_sheets_are_not_read_and_why() -> None:
    reading = read_sheets(
        {
            "Notas": [["olá"]],
            "Colheita": [HEADINGS, ROW],
            "Resumo": [["Talhão", "kg"], ["P1", 12]],
            "Velho": [HEADINGS, ROW],
        },
        hidden=("Velho",),
    )
    assert len(weighings(reading)) == 1
    assert [(one.code, one.sheet, one.detail) for one in reading.remarks] == [
        (
            "sheet-left-out",
            "Notas",
            "The sheet is not read. It has no headings that are known here.",
        ),
        ("sheet-left-out", "Resumo", "The sheet is not read. It has no column for: picked_on."),
        (
            "sheet-left-out",
            "Velho",
            "The sheet is hidden and not read. Ask for it by name, or show it.",
        ),
    ]


def test_sheets_may_each_have_a_layout_of_their_own() -> None:
    reading = read_sheets(
        {
            "lista": [["Colheita"], HEADINGS, ROW],
            "larga": [["Data", "Talhão", "Extra (lb)"], [date(2026, 4, 4), "P2", 5]],
        }
    )
    assert [(row.block, row.grade, row.unit) for row in weighings(reading)] == [
        ("P1", "", "kg"),
        ("P2", "Extra", "lb"),
    ]


def test_a_sheet_that_is_not_understood_stops_the_whole_file() -> None:
    twice = ["Data", "Dia", "Talhão", "Peso (kg)"]
    reading = read_sheets({"Abril": [HEADINGS, ROW], "Maio": [twice, [ROW[0], *ROW]]})
    assert not reading.is_ready
    assert [problem.code for problem in reading.columns.problems] == ["ambiguous-headings"]


def test_if_no_sheet_fits_the_closest_says_what_is_missing() -> None:
    reading = read_sheets({"a": [["Data", "kg"], [ROW[0], 1]], "b": [["Peso", "Nota"], [1, "x"]]})
    assert (reading.detected.sheet, reading.columns.missing) == ("a", (("block",),))


def test_if_no_sheet_has_headings_the_file_is_refused() -> None:
    with pytest.raises(FileRefused, match='sheet "a"') as refused:
        read_sheets({"a": [["olá"]], "b": [["olá"]]})
    assert refused.value.code == "no-heading-row"


def test_a_sheet_asked_for_by_name_is_read_alone() -> None:
    sheets = {"Abril": [HEADINGS, ROW], "Maio": [HEADINGS, ROW]}
    assert [row.sheet for row in weighings(read_sheets(sheets, sheet="maio"))] == ["Maio"]


def test_a_problem_says_on_which_sheet_it_is() -> None:
    (problem,) = problems(read_sheets({"A": [HEADINGS, ROW], "B": [HEADINGS, [ROW[0], "P1", "x"]]}))
    assert (problem.sheet, problem.row) == ("B", 2)


@pytest.mark.parametrize("name", ["P2", "p2", "Talhão P2", "Parcela P2"])
def test_a_sheets_name_may_be_the_block(name: str) -> None:
    reading = read_sheets({name: [["Data", "Peso (kg)"], [ROW[0], 12]]})
    assert weighings(reading)[0].block == "P2"
    (remark,) = reading.remarks
    assert (remark.code, remark.sheet) == ("sheet-name", name)
    assert f'"{name}" is the block' in remark.detail


def test_a_column_of_blocks_speaks_before_the_sheets_name() -> None:
    reading = read_sheets({"P2": [HEADINGS, ROW]})
    assert (weighings(reading)[0].block, reading.remarks) == ("P1", ())


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("2026-04-13", 13),
        ("13-04-2026", 13),
        ("13 abr 2026", 13),
        ("20260413", 13),
    ],
)
def test_a_sheets_name_may_be_the_day(name: str, day: int) -> None:
    reading = read_sheets({name: [["Talhão", "Peso (kg)"], ["P1", 12]]})
    assert weighings(reading)[0].picked_on == date(2026, 4, day)


def test_the_order_of_a_day_in_a_sheets_name_is_asked_for() -> None:
    (question,) = read_sheets({"03-04-2026": [["Talhão", "Peso (kg)"], ["P1", 12]]}).questions
    assert question.setting == "date_order"


@pytest.mark.parametrize("name", ["Abril 2026", "abr 2026", "2026-04", "04-2026", "Abril de 2026"])
def test_a_sheets_name_may_be_the_month_of_its_days(name: str) -> None:
    wide = read_sheets({name: [["Talhão", 3, 13], ["P1", 12, 7]]}, unit="kg")
    long = read_sheets({name: [HEADINGS, [3, "P1", 12], ["13", "P1", 7]]})
    for reading in (wide, long):
        days = [row.picked_on for row in weighings(reading)]
        assert days == [date(2026, 4, 3), date(2026, 4, 13)]
        assert "Days without a month are taken in 2026-04." in [r.detail for r in reading.remarks]


@pytest.mark.parametrize(
    ("title", "file_name", "year"),
    [
        ("Colheita 2025", "c.xlsx", 2025),
        ("Colheita", "colheita-2025.xlsx", 2025),
    ],
)
def test_the_year_of_a_month_may_stand_beside_it(title: str, file_name: str, year: int) -> None:
    content = as_xlsx({"Abril": [[title], ["Talhão", 3, 4], ["P1", 12, 7]]})
    reading = read(content, file_name, Settings(unit="kg"), TODAY)
    assert {row.picked_on.year for row in weighings(reading)} == {year}


@pytest.mark.parametrize(
    "title",
    [
        "Colheita",
        "Colheita 2024 e 2025",
        "Colheita 2025/26",  # a season across New Year: which of the two?
    ],
)
def test_a_month_without_a_year_is_a_problem_not_a_guess(title: str) -> None:
    for rows in ([["Talhão", 3, 4], ["P1", 12, 7]], [HEADINGS, [3, "P1", 12]]):
        reading = read_sheets({"Abril": [[title], *rows]}, unit="kg")
        assert [problem.code for problem in reading.columns.problems] == ["year-unknown"]


def test_whole_dates_need_no_year_from_a_sheet_named_after_a_month() -> None:
    assert weighings(read_sheets({"Abril": [HEADINGS, ROW]}))[0].picked_on == ROW[0]
