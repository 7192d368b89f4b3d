"""Sheets with a column for each grade, block or day land as lists do, and are known again."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from records.choices import ImportState
from records.models import Block, HarvestWeight, Tree
from records.services import saving
from tests.cast import Place, make_cast
from tests.importing.making import as_xlsx
from tests.records.sending import counts, details, problems, send, weights

pytestmark = pytest.mark.django_db

BY_GRADE = [
    ["Date", "Block", "A", "C"],
    ["2026-09-10", "N1", 12, 3],
    ["2026-09-11", "N1", 8, ""],
]


@pytest.fixture
def ours() -> Place:
    ours = make_cast().ours
    ours.farm.weight_unit = "kg"
    ours.farm.save()
    return ours


def landed(place: Place) -> list[tuple[Any, ...]]:
    rows = HarvestWeight.objects.filter(farm=place.farm, retired_on=None)
    named = rows.values_list("picked_on__day", "block__code", "grade__code", "net_g")
    return sorted(named, key=str)


def test_each_filled_cell_becomes_a_weighing(ours: Place) -> None:
    sent = send(ours.farm, BY_GRADE)
    assert (sent.state, details(sent)) == (ImportState.LANDED, [])
    assert (sent.rows_read, counts(sent)) == (2, (3, 0, 0, 0))
    assert sent.explanation == (
        "Of 2 rows, with a weighing for each filled cell: "
        "3 added, 0 changed, 0 unchanged, 0 rows refused."
    )
    assert landed(ours) == [
        (10, "N1", "A", 12_000),
        (10, "N1", "C", 3_000),
        (11, "N1", "A", 8_000),
    ]


def test_what_the_headings_mean_is_told_as_a_mapping_would_say_it(ours: Place) -> None:
    found = send(ours.farm, BY_GRADE).found
    assert found is not None
    assert [one["column"] for one in found["headings"]] == [
        "picked_on",
        "block",
        "weight by grade: A",
        "weight by grade: C",
    ]
    mapped = {"A": "weight by grade: A", "C": "weight by grade: C"}
    assert counts(send(ours.farm, BY_GRADE, mapping=mapped)) == (0, 0, 3, 0)


def test_what_was_done_by_a_rule_is_told(ours: Place) -> None:
    rows = [
        ["Harvest of the farm"],
        *BY_GRADE[:2],
        ["", "N1", 2, 1],
        ["Total", "", 14, 4],
        ["weighed by the gate"],
    ]
    sent = send(ours.farm, rows)
    assert counts(sent) == (4, 0, 0, 0)
    assert sent.found is not None
    told = {one["code"]: (one["rows"], one["detail"]) for one in sent.found["remarks"]}
    assert {code: rows for code, (rows, _) in told.items()} == {
        "title-rows": [1],
        "wide-sheet": [],
        "carried-down": [4],
        "totals": [5],
        "footer-rows": [6],
    }
    assert told["totals"][1].endswith("All of them agree.")


# Known again -------------------------------------------------------------------------------------

LONG = [
    ["Date", "Block", "Grade", "Kilos"],
    ["2026-09-10", "N1", "A", 12],
    ["2026-09-10", "N1", "C", 3],
    ["2026-09-11", "N1", "A", 8],
]
BY_DAY = [["Block", "Grade", "2026-09-10", "2026-09-11"], ["N1", "A", 12, 8], ["N1", "C", 3, ""]]
BY_BLOCK = [
    ["Date", "Grade", "Block N1"],
    ["2026-09-10", "C", 3],
    ["2026-09-10", "A", 12],
    ["2026-09-11", "A", 8],
]
NUMBERED = [["Line", *LONG[0]], *([line, *row] for line, row in enumerate(LONG[1:], start=1))]
WITH_DOCKETS = [["Docket", *LONG[0]], *([f"D{row[0][-2:]}", *row] for row in LONG[1:])]
LAYOUTS = {
    "long": LONG,
    "by grade": BY_GRADE,
    "by day": BY_DAY,
    "by block": BY_BLOCK,
    "with line numbers": NUMBERED,
    "with dockets": WITH_DOCKETS,
}


def corrected(rows: list[list[Any]]) -> list[list[Any]]:
    """The 3 kilos were 4."""
    return [[4 if cell == 3 and at else cell for at, cell in enumerate(row)] for row in rows]


@pytest.mark.parametrize("later", LAYOUTS)
@pytest.mark.parametrize("first", LAYOUTS)
def test_the_same_week_in_another_layout_changes_nothing(
    ours: Place, first: str, later: str
) -> None:
    send(ours.farm, LAYOUTS[first])
    before = landed(ours)
    again = send(ours.farm, LAYOUTS[later])
    changed = 3 if later == "with dockets" != first else 0  # which the weighings lacked
    assert (counts(again), details(again)) == ((0, changed, 3 - changed, 0), [])
    assert landed(ours) == before


@pytest.mark.parametrize("later", [name for name in LAYOUTS if name != "with dockets"])
@pytest.mark.parametrize("first", LAYOUTS)
def test_a_corrected_cell_in_another_layout_is_one_change(
    ours: Place, first: str, later: str
) -> None:
    send(ours.farm, LAYOUTS[first])
    again = send(ours.farm, corrected(LAYOUTS[later]))
    assert (counts(again), details(again)) == ((0, 1, 2, 0), [])
    assert (10, "N1", "C", 4_000) in landed(ours)
    assert len(landed(ours)) == 3


def test_rows_in_another_order_or_on_another_sheet_are_the_same(ours: Place) -> None:
    send(ours.farm, BY_GRADE)
    sheets = {"one": [BY_GRADE[0], BY_GRADE[2]], "two": [BY_GRADE[0], BY_GRADE[1]]}
    again = send(ours.farm, as_xlsx(sheets), file_name="h.xlsx")
    assert counts(again) == (0, 0, 3, 0)


def test_a_numbered_row_of_a_wide_sheet_is_known_by_its_heading(ours: Place) -> None:
    headings = ["Line", "Date", "Block", "A", "C"]
    send(ours.farm, [headings, [1, "2026-09-10", "N1", 12, 3], [2, "2026-09-11", "N1", 8, ""]])
    newer = [headings, [2, "2026-09-11", "N1", 8, ""], [1, "2026-09-09", "N1", 12, 3]]
    sent = send(ours.farm, newer)
    assert (counts(sent), details(sent)) == ((0, 2, 1, 0), [])
    assert landed(ours) == [(11, "N1", "A", 8_000), (9, "N1", "A", 12_000), (9, "N1", "C", 3_000)]


def test_a_line_number_that_another_row_has_is_refused_with_its_place(ours: Place) -> None:
    headings = ["Line", "Date", "Block", "A", "C"]
    sheets = {"one": [headings, [1, "2026-09-10", "N1", 12, 3]], "two": []}
    sheets["two"] = [headings, [1, "2026-09-11", "N1", 12, 3]]
    sent = send(ours.farm, as_xlsx(sheets), file_name="h.xlsx")
    assert (sent.state, problems(sent)) == (
        ImportState.REFUSED,
        [(2, "Line", "line-repeated", "1")],
    )
    assert details(sent) == ["Row 2 of sheet one of the same docket has this line number already."]


def test_kilos_of_single_trees_are_no_correction_of_the_blocks(ours: Place) -> None:
    """A tree's weighing is not taken for one of the whole block that the file speaks of."""
    send(ours.farm, [["Date", "Block", "Row", "Position", "Kilos"], ["2026-09-10", "N1", 1, 1, 20]])
    sent = send(ours.farm, [["Date", "Block", "Kilos"], ["2026-09-10", "N1", 15]])
    assert (counts(sent), problems(sent, warnings=True)) == (
        (1, 0, 0, 0),
        [(2, "Date", "maybe-sent-before", "2026-09-10")],
    )
    assert sorted(w.net_g or 0 for w in weights(ours.farm)) == [15_000, 20_000]


def test_a_correction_by_hand_stays_when_a_wide_sheet_is_sent_again(ours: Place) -> None:
    send(ours.farm, LONG)
    wrong = HarvestWeight.objects.get(net_g=3_000)
    wrong.weight = Decimal(5)
    saving.save(wrong)
    again = send(ours.farm, BY_GRADE)
    assert counts(again) == (0, 0, 3, 0)
    assert problems(again, warnings=True) == [(2, "C", "correction-kept", "")]
    assert (10, "N1", "C", 5_000) in landed(ours)


# Refused -----------------------------------------------------------------------------------------


def test_only_the_cell_that_is_wrong_is_left_out(ours: Place) -> None:
    rows = [BY_GRADE[0], ["2026-09-10", "N1", 12, "three"], BY_GRADE[2]]
    sent = send(ours.farm, rows, on_problem="skip")
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (2, 0, 0, 1))
    assert problems(sent) == [(2, "C", "not-a-number", "three")]


def test_what_is_wrong_with_a_whole_row_is_told_once(ours: Place) -> None:
    sent = send(ours.farm, [BY_GRADE[0], ["2026-09-10", "N9", 12, 3], BY_GRADE[2]])
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    assert problems(sent) == [(2, "Block", "unknown-block", "N9")]


def test_problems_name_their_sheet(ours: Place) -> None:
    Block.objects.create(farm=ours.farm, code="N2")
    headings = ["Date", "Tree", "Kilos"]
    Tree.objects.create(farm=ours.farm, block=ours.block, row=1, position=9, number="T1")
    rows = [headings, ["2026-09-10", "T1", 12]]
    sent = send(ours.farm, as_xlsx({"N1": rows, "N2": rows}), file_name="h.xlsx")
    assert problems(sent) == [(2, "Tree", "tree-in-another-block", "T1")]
    assert sent.problems.get().sheet == "N2"


@pytest.mark.parametrize("on_problem", ["reject", "skip"])
def test_a_total_that_does_not_match_is_refused_and_never_loaded(
    ours: Place, on_problem: str
) -> None:
    sent = send(ours.farm, [*BY_GRADE, ["Total", "", 20, 4]], on_problem=on_problem)
    assert problems(sent) == [(4, "C", "total-differs", "4")]
    assert details(sent)[0].startswith("Cell D4 says 4, but rows 2 to 3 add up to 3.")
    assert sent.found is not None
    [totals] = [one for one in sent.found["remarks"] if one["code"] == "totals"]
    assert totals["detail"].endswith("Not agreeing: 1, told among the problems.")
    assert len(landed(ours)) == (3 if on_problem == "skip" else 0)


def test_columns_that_cannot_be_told_apart_are_asked_about(ours: Place) -> None:
    Block.objects.create(farm=ours.farm, code="A")  # as a grade is called
    sent = send(ours.farm, [["Date", "A", "C"], ["2026-09-10", 12, 3]])
    assert sent.state == ImportState.QUESTION
    assert weights(ours.farm) == []
    [question] = sent.questions
    assert question["detail"].startswith('"C" (C) stands among columns for a block each, and is')


def test_two_columns_of_one_grade_are_asked_about(ours: Place) -> None:
    sent = send(ours.farm, [["Date", "Block", "A", "a"], ["2026-09-10", "N1", 12, 3]])
    assert sent.state == ImportState.QUESTION
    [question] = sent.questions
    assert '"A" (C) and "a" (D)' in question["detail"]
    assert weights(ours.farm) == []


def test_days_as_headings_become_picking_dates(ours: Place) -> None:
    send(ours.farm, BY_DAY)
    assert {w.picked_on for w in weights(ours.farm)} == {
        dt.date(2026, 9, 10),
        dt.date(2026, 9, 11),
    }
