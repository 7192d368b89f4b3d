"""What is wrong with a row is told by row, column and value, and nothing of it is written."""

import datetime as dt
from typing import Any

import pytest

from records.choices import ImportState
from records.models import Block, Container, Cultivar, Grade, Tree
from records.services.callers import caller_for_person
from tests.cast import Cast, Place, make_cast, make_species
from tests.records.sending import counts, details, problems, send, weights

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast() -> Cast:
    """Our farm with a few things that are easy to take for each other."""
    cast = make_cast()
    ours = cast.ours
    south = Block.objects.create(farm=ours.farm, code="S1", name="South slope")
    Block.objects.create(farm=ours.farm, code="S2", name="South slope")
    common: dict[str, Any] = {"farm": ours.farm, "planted_on": dt.date(2018, 3, 1)}
    Tree.objects.create(**common, block=south, row=1, position=1, number="S-07")
    Tree.objects.create(**common, block=ours.block, row=1, position=2, number="N-01")
    for position in (3, 4):
        Tree.objects.create(**common, block=ours.block, row=1, position=position, number="twin")
    Container.objects.create(farm=ours.farm, code="bin", tare_g=60_000, usual_net_g=400_000)
    Grade.objects.create(farm=ours.farm, code="A+", is_marketable=True)
    Cultivar.objects.create(farm=cast.neighbour.farm, species=make_species(), name="Theirs")
    Block.objects.create(farm=cast.neighbour.farm, code="W1")
    return cast


GOOD = {"Date": "2026-09-10", "Block": "N1", "Kilos": "20"}


def send_one(place: Place, **cells: Any) -> Any:
    row = {**GOOD, **{name.replace("_", " "): value for name, value in cells.items()}}
    row = {name: value for name, value in row.items() if value is not None}
    return send(place.farm, [list(row), list(row.values())])


@pytest.mark.parametrize(
    ("cells", "problem", "sentence"),
    [
        # Codes that the farm does not have.
        ({"Block": "N9"}, ("Block", "unknown-block", "N9"), "Is it N1"),
        ({"Block": "Upper"}, ("Block", "unknown-block", "Upper"), "Known are N1, S1, S2."),
        ({"Block": "south slope"}, ("Block", "ambiguous-block", "south slope"), "More than one"),
        ({"Grade": "B"}, ("Grade", "unknown-grade", "B"), "Known are A, A+, C."),
        ({"Crate_type": "crates"}, ("Crate type", "unknown-container", "crates"), "Is it crate?"),
        ({"Cultivar": "Ondrella"}, ("Cultivar", "unknown-cultivar", "Ondrella"), "Is it Ondrela?"),
        ({"Crop": "mane"}, ("Crop", "unknown-crop", "mane"), "Is it main?"),
        # What belongs to the neighbour is as good as unknown.
        ({"Block": "W1"}, ("Block", "unknown-block", "W1"), "no block of this code"),
        ({"Cultivar": "Theirs"}, ("Cultivar", "unknown-cultivar", "Theirs"), "no cultivar"),
        ({"Farm": "NEXT"}, ("Farm", "other-farm", "NEXT"), "for farm OURS"),
        # A crop that was opened after the picking.
        (
            {"Date": "2026-01-10", "Crop": "main"},
            ("Crop", "unknown-crop", "main"),
            "by 2026-01-10",
        ),
        # Trees.
        ({"Tree": "N-02"}, ("Tree", "unknown-tree", "N-02"), "Is it N-01"),
        ({"Tree": "S-07"}, ("Tree", "tree-in-another-block", "S-07"), "stands in block S1"),
        ({"Tree": "twin"}, ("Tree", "ambiguous-tree", "twin"), "More than one tree"),
        (
            {"Tree": "N-01", "Row": "1", "Position": "1"},
            ("Tree", "tree-at-another-place", "N-01"),
            "another row or position",
        ),
        ({"Row": "9", "Position": "9"}, ("Position", "unknown-tree", "9/9"), "no such tree"),
        # Weights that cannot be.
        ({"Kilos": "-3"}, ("Kilos", "negative", "-3"), "cannot be negative"),
        ({"Kilos": "90000"}, ("Kilos", "too-heavy", "90000"), "above 5,000 kg"),
        ({"Kilos": "0"}, ("Kilos", "zero-weight", "0"), "no weighing"),
        ({"Kilos": "heavy"}, ("Kilos", "not-a-number", "heavy"), "A number is needed"),
        (
            {"Kilos": None, "Gross kg": "20", "Tare kg": "21"},
            ("Tare kg", "tare-above-gross", "21"),
            "leaves no fruit",
        ),
        (
            {"Kilos": None, "Gross kg": "20", "Bins": "1", "Bin_type": "bin"},
            ("Gross kg", "tare-above-gross", "20 kg"),
            "weigh more than the scale",
        ),
        ({"Kilos": None, "Weight": "20", "Unit": "stone"}, ("Unit", "unknown-unit", "stone"), "kg"),
        # Dates that cannot be.
        ({"Date": "2999-01-01"}, ("Date", "date-in-future", "2999-01-01"), "after today"),
        ({"Date": "2026-02-30"}, ("Date", "not-a-date", "2026-02-30"), "calendar"),
        ({"Date": ""}, ("Date", "missing", ""), "needs its picking date"),
        # Nothing weighed or counted at all.
        ({"Kilos": ""}, ("Kilos", "nothing-weighed", ""), "Give a weight"),
    ],
)
def test_a_row_is_refused_with_the_cell_and_the_reason(
    cast: Cast, cells: dict[str, Any], problem: tuple[str, str, str], sentence: str
) -> None:
    sent = send_one(cast.ours, **cells)
    assert problems(sent) == [(2, *problem)]
    assert sentence in details(sent)[0]
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    assert weights(cast.ours.farm) == []


def test_a_grade_is_not_taken_for_one_that_only_looks_alike(cast: Cast) -> None:
    Grade.objects.filter(code="A+").delete()
    assert problems(send_one(cast.ours, Grade="A+")) == [(2, "Grade", "unknown-grade", "A+")]


def test_so_many_containers_that_the_estimate_is_absurd(cast: Cast) -> None:
    Container.objects.filter(code="bin").update(usual_net_g=5_000_000)
    sent = send_one(cast.ours, Kilos=None, Bins="9999", Bin_type="bin")
    assert problems(sent) == [(2, "Bins", "too-many-containers", "9999")]


def test_every_fault_of_every_row_is_told_at_once(cast: Cast) -> None:
    rows = [
        ["Date", "Block", "Grade", "Kilos"],
        ["2026-09-10", "N9", "Z", "20"],
        ["10 Brumaire", "N1", "A", "-1"],
        ["2026-09-10", "N1", "A", "20"],
        ["2026-09-11", "N1", "Q", "20"],
    ]
    sent = send(cast.ours.farm, rows)
    assert problems(sent) == [
        (2, "Block", "unknown-block", "N9"),
        (2, "Grade", "unknown-grade", "Z"),
        (3, "Date", "not-a-date", "10 Brumaire"),
        (3, "Kilos", "negative", "-1"),
        (5, "Grade", "unknown-grade", "Q"),
    ]
    assert (sent.rows_read, sent.rows_refused) == (4, 3)


def test_row_numbers_are_the_senders_own(cast: Cast) -> None:
    rows = [["Picking list"], [], ["Date", "Block", "Kilos"], [], ["2026-09-10", "N9", "20"]]
    assert problems(send(cast.ours.farm, rows))[0][0] == 5


@pytest.mark.parametrize(
    ("lines", "problem"),
    [
        # The same number twice on a docket; a row that has none.
        ([["D1", 1], ["D1", 2], ["D1", 1]], (4, "Line", "line-repeated", "1")),
        ([["D1", 1], ["D1", ""]], (3, "Line", "line-missing", "")),
    ],
)
def test_line_numbers_must_tell_rows_apart(
    cast: Cast, lines: list[Any], problem: tuple[int, str, str, str]
) -> None:
    rows = [[*line, "2026-09-10", "N1", 20] for line in lines]
    sent = send(cast.ours.farm, [["Docket", "Line", "Date", "Block", "Kilos"], *rows])
    assert problems(sent) == [problem]


def test_a_column_of_lines_left_blank_is_none(cast: Cast) -> None:
    assert counts(send_one(cast.ours, Line="")) == (1, 0, 0, 0)


# Odd but possible --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "warning"),
    [
        ({"Tree": "N-01"}, ("Tree", "tree-was-removed", "N-01")),
        ({"Row": "1", "Position": "2"}, ("Position", "tree-was-removed", "1/2")),
        ({"Tree": "N-01", "Date": "2015-09-10"}, ("Tree", "tree-not-yet-planted", "N-01")),
        ({"Row": "1"}, ("Row", "half-a-place", "1")),
        ({"Position": "7"}, ("Position", "half-a-place", "7")),
    ],
)
def test_what_is_odd_lands_with_a_warning(
    cast: Cast, cells: dict[str, Any], warning: tuple[str, str, str]
) -> None:
    Tree.objects.filter(number="N-01").update(removed_on=dt.date(2026, 5, 1))
    sent = send_one(cast.ours, **cells)
    assert problems(sent, warnings=True) == [(2, *warning)]
    assert (problems(sent), counts(sent)) == ([], (1, 0, 0, 0))
    assert (sent.rows_warned, sent.warnings[0]["code"]) == (1, "rows-warned")


def test_a_tree_that_was_removed_keeps_its_late_weighing(cast: Cast) -> None:
    tree = Tree.objects.get(number="N-01")
    Tree.objects.filter(pk=tree.pk).update(removed_on=dt.date(2026, 5, 1))
    send_one(cast.ours, Tree="N-01")
    assert list(weights(cast.ours.farm)[0].trees.all()) == [tree]


# Rows outside a membership -----------------------------------------------------------------------


def test_a_co_op_writes_only_what_is_dated_within_the_membership(cast: Cast) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.starts_on, cast.membership.ends_on = dt.date(2026, 9, 1), dt.date(2026, 9, 30)
    cast.membership.save()
    days = ["2026-08-31", "2026-09-01", "2026-09-30", "2026-10-01"]
    rows = [["Date", "Block", "Kilos"], *([day, "N1", 20] for day in days)]
    sent = send(cast.ours.farm, rows, on_problem="skip")
    assert counts(sent) == (4, 0, 0, 0)  # the farm's own people are not bound
    staff = caller_for_person(cast.staff, dt.date(2026, 9, 15))
    ours = send(cast.ours.farm, rows, on_problem="skip", series="by staff", caller=staff)
    assert counts(ours) == (2, 0, 0, 2)
    assert problems(ours) == [
        (2, "Date", "outside-membership", "2026-08-31"),
        (5, "Date", "outside-membership", "2026-10-01"),
    ]
    assert ours.co_op == cast.co_op
    assert "2026-08-31" in details(ours)[0]


def test_a_co_op_does_not_move_a_weighing_into_its_time(cast: Cast) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.starts_on = dt.date(2026, 9, 1)
    cast.membership.save()
    headings = ["Line", "Date", "Block", "Kilos"]
    send(cast.ours.farm, [headings, [1, "2026-08-31", "N1", 20]])
    staff = caller_for_person(cast.staff, dt.date(2026, 9, 15))
    moved = send(cast.ours.farm, [headings, [1, "2026-09-01", "N1", 20]], caller=staff)
    assert problems(moved) == [(2, "Date", "outside-membership", "2026-09-01")]
    assert "2026-08-31" in details(moved)[0]
