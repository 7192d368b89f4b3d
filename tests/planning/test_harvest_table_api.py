"""`co-ops/{id}/harvest`: who reads it, how it is asked for, and how it is printed."""

import csv
import io
from typing import Any

import openpyxl
import pytest

from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import CoOpGrade, GradeMapping, Membership
from tests.cast import Cast, client_of, client_with, make_cast, make_cultivar
from tests.planning.ground import TODAY, make_block, make_farm, receive, weigh

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast() -> Cast:
    """Our farm weighs and delivers; another member only delivers."""
    cast = make_cast()
    ours, other = cast.ours, make_farm("=TWO")
    Membership.objects.create(co_op=cast.co_op, farm=other, starts_on="2026-01-01")
    first = CoOpGrade.objects.create(co_op=cast.co_op, code="First", is_marketable=True)
    GradeMapping.objects.create(
        farm=ours.farm, grade=ours.grade, co_op_grade=first, applies_from="2026-01-01"
    )
    ondrela = make_cultivar()
    weigh(ours.block, "2026-09-10", 30, cultivar=ondrela, grade=ours.grade, fruit_count=100)
    weigh(ours.block, "2026-09-16", 10, cultivar=ondrela, grade=ours.cull)
    weigh(ours.block, "2026-09-17", containers=1, estimated_from_containers_g=12_000)
    receive(ours.farm, "2026-09-11", 39.5, cultivar=ondrela)
    receive(other, "2026-09-11", 60, cultivar=make_cultivar("Tamisca"))
    for farm in (ours.farm, other):
        rebuild_farm(farm.pk, TODAY)
    rebuild_co_op(cast.co_op.pk, lambda _: TODAY)
    return cast


def path(cast: Cast) -> str:
    return f"/api/v1/co-ops/{cast.co_op.pk}/harvest"


def answer(cast: Cast, **query: Any) -> dict[str, Any]:
    found = client_of(cast.staff).get(path(cast), query)
    assert found.status_code == 200, found.content
    document: dict[str, Any] = found.json()
    return document


def shown(rows: list[dict[str, Any]], *names: str) -> list[tuple[Any, ...]]:
    return [tuple(row[name] for name in names) for row in rows]


def test_members_stand_in_rows_of_their_own_basis(cast: Cast) -> None:
    rows = answer(cast, season="2026")["results"]
    assert shown(rows, "member_code", "basis", "net_kg", "picked_kg", "received_kg") == [
        ("=TWO", "received", 60.0, 0.0, 60.0),
        ("OURS", "picked", 40.0, 40.0, 39.5),
    ]
    assert rows[0]["reasons"]["basis"] == (
        "basis: there are no farm weighings this season, so intakes are used instead"
    )
    assert "basis" not in rows[1]["reasons"]


def test_a_row_has_kilos_fruit_trees_and_hectares(cast: Cast) -> None:
    row = answer(cast, season="2026", member=str(cast.ours.farm.pk))["results"][0]
    wanted = {
        "net_kg": 40.0,
        "estimated_kg": 12.0,
        "marketable_kg": 30.0,
        "cull_kg": 10.0,
        "ungraded_kg": 0.0,
        "payable_kg": 30.0,
        "fruit_count": 100,
        "mean_fruit_g": 300.0,
        "bearing_trees": 1,
        "hectares": 0.5,
        "kg_per_tree": 40.0,
        "t_per_ha": 0.08,
        "share_of_co_op": 1.0,
        "records": 3,
    }
    assert {name: row[name] for name in wanted} == wanted


def test_totals_are_one_row_a_basis(cast: Cast) -> None:
    found = answer(cast, season="2026", group_by="cultivar,week")
    assert shown(found["totals"], "basis", "net_kg", "bearing_trees") == [
        ("picked", 40.0, 1),
        ("received", 60.0, None),
    ]
    assert found["inputs"]["records"] == {"farm weighings": 3, "intakes": 2}
    assert "week" in found["reasons"]["bearing_trees"]


def test_the_co_op_as_a_whole_is_grouped_by_nothing(cast: Cast) -> None:
    rows = answer(cast, season="2026", group_by="")["results"]
    assert shown(rows, "basis", "net_kg") == [("picked", 40.0), ("received", 60.0)]


@pytest.mark.parametrize(
    ("keys", "names", "expected"),
    [
        ("grade", ["grade"], [("First",), ("OURS C",), (None,), (None,)]),
        ("farm-grade", ["farm_grade"], [("OURS A",), ("OURS C",), (None,), (None,)]),
        (
            "week",
            ["week_starts_on"],
            [("2026-09-07",), ("2026-09-07",), ("2026-09-14",)],
        ),
        ("month", ["month"], [("2026-09",), ("2026-09",)]),
        ("season", ["season_year"], [(2026,), (2026,)]),
        ("species", ["species_name"], [("sugar apple",), ("sugar apple",), (None,)]),
        (
            "block,crop",
            ["block_farm_code", "block_code", "crop_name"],
            [("OURS", "N1", None), (None, None, None), (None, None, None)],
        ),
    ],
)
def test_groups_are_named(
    cast: Cast, keys: str, names: list[str], expected: list[tuple[Any, ...]]
) -> None:
    assert shown(answer(cast, group_by=keys)["results"], *names) == expected


def test_days_limit_the_kilos_and_not_the_basis(cast: Cast) -> None:
    """No weighing lies on the day, yet the season goes by weighings."""
    rows = answer(cast, **{"from": "2026-09-11", "to": "2026-09-11"})["results"]
    assert shown(rows, "member_code", "basis", "net_kg", "received_kg") == [
        ("=TWO", "received", 60.0, 60.0),
        ("OURS", "picked", 0.0, 39.5),
    ]


def test_one_basis_for_all_leaves_out_who_lacks_it(cast: Cast) -> None:
    rows = answer(cast, basis="picked")["results"]
    assert shown(rows, "member_code", "net_kg") == [("OURS", 40.0)]


def test_rows_are_ordered_by_a_figure(cast: Cast) -> None:
    for ordering, first in (("net_kg", "OURS"), ("-net_kg", "=TWO"), ("-kg_per_tree", "OURS")):
        rows = answer(cast, season="2026", ordering=ordering)["results"]
        assert rows[0]["member_code"] == first, ordering


def test_a_share_is_of_all_members_whatever_the_filter(cast: Cast) -> None:
    other = make_farm("SIX")
    Membership.objects.create(co_op=cast.co_op, farm=other, starts_on="2026-01-01")
    weigh(make_block(other), "2026-09-10", 120)
    (row,) = answer(cast, member=str(cast.ours.farm.pk))["results"]
    assert (row["net_kg"], row["share_of_co_op"]) == (40.0, 0.25)


@pytest.mark.parametrize(
    ("query", "status", "parameter"),
    [
        ({"group_by": "county"}, 400, "group_by"),  # no such key
        ({"group_by": "member,member"}, 400, "group_by"),  # twice
        ({"season": "next"}, 400, "season"),
        ({"basis": "guessed"}, 400, "basis"),
        ({"ordering": "member"}, 400, "ordering"),
        ({"from": "03/04/2026"}, 400, "from"),  # two days could be meant
        ({"from": "2026-09-02", "to": "2026-09-01"}, 422, "to"),
        ({"page": "2"}, 400, "page"),  # there are no pages
    ],
)
def test_a_question_that_makes_no_sense_is_refused(
    cast: Cast, query: dict[str, str], status: int, parameter: str
) -> None:
    refused = client_of(cast.staff).get(path(cast), query)
    assert refused.status_code == status
    assert refused.json()["errors"][0]["parameter"] == parameter


def test_too_many_rows_are_refused(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planning.queries.harvest_table.MAX_ROWS", 1)
    refused = client_of(cast.staff).get(path(cast), {"group_by": "cultivar,week"})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["detail"] == (
        "There are more than 1 rows: ask for fewer, or group by less."
    )


def test_only_the_co_ops_staff_and_apps_read_it(cast: Cast) -> None:
    statuses = {
        "staff": client_of(cast.staff),
        "admin": client_of(cast.admin),
        "app": client_with(cast.co_op, "harvest:read"),
        "schedules' app": client_with(cast.co_op, "schedule:read"),
        "member": client_of(cast.ours.owner),
        "neighbour": client_of(cast.neighbour.owner),
    }
    assert {name: each.get(path(cast)).status_code for name, each in statuses.items()} == {
        "staff": 200,
        "admin": 200,
        "app": 200,
        "schedules' app": 403,
        "member": 404,
        "neighbour": 404,
    }


def test_days_outside_the_membership_are_not_in_it(cast: Cast) -> None:
    cast.membership.ends_on = "2026-09-12"
    cast.membership.save()
    rows = answer(cast, season="2026")["results"]
    assert shown(rows, "member_code", "net_kg") == [("=TWO", 60.0), ("OURS", 30.0)]


def test_a_table_for_spreadsheets_has_no_ids_and_runs_no_formula(cast: Cast) -> None:
    found = client_of(cast.staff).get(path(cast), {"format": "csv", "season": "2026"})
    rows = list(csv.DictReader(io.StringIO(found.content.decode())))
    assert [row["member_code"] for row in rows] == ["'=TWO", "OURS"]
    assert (rows[1]["basis"], rows[1]["net_kg"]) == ("picked", "40.0")
    assert "member" not in rows[0]


def test_a_workbook_states_what_it_is_of(cast: Cast) -> None:
    query = {"format": "xlsx", "season": "2026", "group_by": "member,week"}
    found = client_of(cast.staff).get(path(cast), query)
    book = openpyxl.load_workbook(io.BytesIO(found.content))
    sheet, about = book["table"], book["about"]
    headings = [cell.value for cell in sheet[1]]
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref == f"A1:{sheet.cell(1, len(headings)).column_letter}4"
    week = sheet.cell(2, headings.index("week_starts_on") + 1)
    assert week.is_date
    assert sheet["A2"].value == "'=TWO"
    net = sheet.column_dimensions[sheet.cell(1, headings.index("net_kg") + 1).column_letter]
    assert net.width >= 8
    facts = {row[0].value: row[1].value for row in about.iter_rows()}
    assert facts["group by"] == "member, week"
    assert facts["basis"] == "picked"
    assert facts["source: farm weighings"] == "3 records"
    assert facts["total picked"] == "40.000 kg"
    assert facts["built at"].startswith("20")


def test_numbers_of_a_workbook_have_their_formats(cast: Cast) -> None:
    found = client_of(cast.staff).get(path(cast), {"format": "xlsx", "season": "2026"})
    sheet = openpyxl.load_workbook(io.BytesIO(found.content))["table"]
    formats = {cell.value: sheet.cell(2, cell.column).number_format for cell in sheet[1]}
    assert formats["net_kg"] == "#,##0.000"
    assert formats["share_of_co_op"] == "0.00%"
