"""Farms from one workbook: all or nothing, told by cell, and safe to send again."""

import datetime as dt
import io
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from records.importing.farm_workbooks import loading
from records.importing.farm_workbooks.declared import SHEETS
from records.models import (
    Block,
    CoOp,
    Cultivar,
    Farm,
    FarmRole,
    Invitation,
    Membership,
    Person,
    PlantingLine,
    Tree,
)
from tests.cast import Cast, client_of, client_with, make_cast, make_species
from tests.importing.making import as_ods
from tests.records.workbooks import FARM, PATH, counts, faults, send, send_file, with_sheets


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.fixture
def admin(cast: Cast) -> APIClient:
    return client_of(cast.admin)


def everything() -> tuple[int, ...]:
    models = (Farm, Membership, Block, Cultivar, PlantingLine, Tree, Invitation)
    return tuple(model.objects.count() for model in models)


# What is stored ----------------------------------------------------------------------------------


def test_a_farm_of_300_trees_is_set_up(admin: APIClient) -> None:
    answer = send(admin, FARM)
    assert answer.status_code == 200, answer.content
    assert answer.json()["state"] == "loaded"
    assert counts(answer) == {
        "farms": (1, 0, 0),
        "cultivars": (1, 0, 0),
        "blocks": (2, 0, 0),
        "trees": (300, 0, 0),
        "people": (1, 0, 0),
    }
    farm = Farm.objects.get(code="LANT")
    assert (farm.name, float(farm.latitude)) == ("Lantern slope", 32.7)
    assert farm.blocks.get(code="N1").area_m2 == 5_000
    tree = farm.trees.get(block__code="S1", row=6, position=25)
    assert (tree.cultivar.name, tree.planted_on) == ("Yard seedling", dt.date(2021, 2, 14))
    (invited,) = answer.json()["invitations"]
    assert (invited["email"], invited["farm"]) == ("ines@lantern.example", str(farm.pk))
    assert invited["link"].startswith("http://127.0.0.1:8000/join/")
    assert not Person.objects.filter(email="ines@lantern.example").exists()


def test_a_dry_run_says_the_same_and_stores_nothing(admin: APIClient) -> None:
    before = everything()
    dry = send(admin, FARM, dry_run=True)
    assert everything() == before
    assert (dry.status_code, dry.json()["state"], dry.json()["invitations"]) == (200, "checked", [])
    assert dry.json()["sheets"] == send(admin, FARM).json()["sheets"]


def test_the_same_workbook_again_changes_nothing(admin: APIClient) -> None:
    send(admin, FARM)
    before = everything(), set(Tree.objects.values_list("pk", "version"))
    again = send(admin, FARM)
    assert again.status_code == 200, again.content
    assert {each[:2] for each in counts(again).values()} == {(0, 0)}
    assert counts(again)["trees"] == (0, 0, 300)
    assert again.json()["invitations"] == []
    assert (everything(), set(Tree.objects.values_list("pk", "version"))) == before


def test_filled_cells_change_what_is_stored_and_blank_ones_do_not(admin: APIClient) -> None:
    send(admin, FARM)
    answer = send(
        admin,
        {
            "farms": [["code", "name"], ["LANT", "Lantern hill"]],
            "blocks": [["code", "name", "area m2"], ["N1", None, 5100]],
            "trees": [["block", "row", "position", "number"], ["N1", "2", "3", "2/3"]],
        },
    )
    assert counts(answer) == {"farms": (0, 1, 0), "blocks": (0, 1, 0), "trees": (0, 1, 0)}
    block = Block.objects.get(farm__code="LANT", code="N1")
    assert (block.name, block.area_m2) == ("North", 5100)
    tree = block.trees.get(row=2, position=3)
    assert (tree.number, tree.rootstock, tree.version) == ("2/3", "seedling", 2)
    assert Farm.objects.get(code="LANT").time_zone == "Atlantic/Madeira"


def test_planting_lines_and_memberships_are_stored(admin: APIClient, cast: Cast) -> None:
    sheets = with_sheets(
        memberships=[
            ["farm", "co-op", "starts on", "shares"],
            ["LANT", "COOP", "2026-01-01", "all"],
        ],
        **{
            "planting lines": [
                ["block", "cultivar", "trees", "planted year", "non-bearing"],
                ["S1", "Ondrela", 40, 2019, "no"],
            ]
        },
    )
    assert counts(send(admin, sheets))["planting lines"] == (1, 0, 0)
    membership = Membership.objects.get(farm__code="LANT")
    assert (membership.co_op, membership.shares) == (cast.co_op, "all")
    line = PlantingLine.objects.get(farm__code="LANT")
    assert (line.cultivar.name, line.tree_count, line.planted_year) == ("Ondrela", 40, 2019)
    sheets["planting lines"] = [["block", "cultivar", "trees", "year"], ["S1", "Ondrela", 41, 2019]]
    assert counts(send(admin, sheets))["planting lines"] == (0, 1, 0)


def test_headings_and_sheets_may_be_spanish_or_portuguese(admin: APIClient) -> None:
    make_species()
    sheets = {
        "Quintas": [
            ["Código", "Nome", "Fuso horário"],
            ["LANT", "Encosta", "Atlantic/Madeira"],
        ],
        "Talhões": [["Talhão", "Área (ha)"], ["N1", 0.5]],
        "Árvores": [["Talhão", "Fileira", "Posição"], ["N1", "1 a 2", "1-3"]],
        "Pessoas": [["Nome", "Correo", "Função"], ["Ines", "ines@lantern.example", "Proprietário"]],
    }
    answer = send(admin, sheets)
    assert faults(answer) == []
    assert counts(answer)["trees"] == (6, 0, 0)
    assert Invitation.objects.get().role == "owner"


def test_an_ods_workbook_is_read_alike(admin: APIClient) -> None:
    file = SimpleUploadedFile("farm.ods", as_ods(FARM))
    assert counts(send_file(admin, file))["trees"] == (300, 0, 0)


def test_the_blank_workbook_has_every_sheet_and_loads_once_filled(admin: APIClient) -> None:
    answer = admin.get(f"{PATH}/template")
    book = openpyxl.load_workbook(io.BytesIO(answer.content))
    assert book.sheetnames == ["instructions", *(kind.name for kind in SHEETS)]
    for kind in SHEETS:
        headings = [cell.value for cell in book[kind.name][1]]
        assert headings == [column.name for column in kind.columns.columns]
    for name, rows in FARM.items():
        columns = [cell.value for cell in book[name][1]]
        for number, row in enumerate(list(rows)[1:], start=2):
            for heading, value in zip(next(iter(rows)), row, strict=True):
                column = columns.index({"area (ha)": "area ha"}.get(heading, heading))
                book[name].cell(number, column + 1, value)
    filled = io.BytesIO()
    book.save(filled)
    loaded = send_file(admin, SimpleUploadedFile("filled.xlsx", filled.getvalue()))
    assert loaded.json()["problems"] == []
    assert counts(loaded)["trees"] == (300, 0, 0)


# What is refused ---------------------------------------------------------------------------------

TREES = ["block", "rows", "positions", "number", "cultivar", "planted on"]


def tree_rows(*rows: list[Any]) -> dict[str, Any]:
    return with_sheets(trees=[TREES, *rows])


@pytest.mark.parametrize(
    ("sheets", "found"),
    [
        # Two at one place: both rows are named.
        (
            tree_rows(["N1", "1-3", "1-5"], ["N1", "3-4", "5"]),
            ("trees", 3, "positions", "place-taken"),
        ),
        (tree_rows(["N9", "1", "1"]), ("trees", 2, "block", "unknown-block")),
        (
            tree_rows(["N1", "1", "1", None, "Yard sedling"]),
            ("trees", 2, "cultivar", "unknown-cultivar"),
        ),
        (tree_rows(["N1", "6-1", "1"]), ("trees", 2, "rows", "invalid")),
        (tree_rows(["N1", None, "1"]), ("trees", 2, "rows", "missing")),
        (tree_rows(["N1", "1-2", "1", "A7"]), ("trees", 2, "number", "number-of-many")),
        (
            tree_rows(["N1", "1", "1", None, None, "03/04/2020"]),
            ("trees", 2, "planted on", "not-a-date"),
        ),
        (tree_rows(["N1", dt.date(2026, 6, 1), "1"]), ("trees", 2, "rows", "date-for-text")),
        (tree_rows(["N1", "1-200", "1-200"]), ("trees", 2, "positions", "too-many-trees")),
        (with_sheets(trees=[["block", "rows"], ["N1", "1"]]), ("trees", 1, "", "missing-column")),
        (with_sheets(trees=[["nothing", "known"]]), ("trees", 0, "", "no-heading-row")),
        (
            with_sheets(
                cultivars=[["farm", "name", "species"], ["LANT", "Yard seedling", "suger apple"]]
            ),
            ("cultivars", 2, "species", "unknown-species"),
        ),
        (with_sheets(blocks=[["code"], ["N1"], ["S1"], ["N1"]]), ("blocks", 4, "code", "repeated")),
        (
            with_sheets(blocks=[["code", "area ha", "area m2"], ["N1", 1, 1]]),
            ("blocks", 2, "area ha", "two-areas"),
        ),
        (
            with_sheets(farms=[["code", "name", "time zone"], ["LANT", "L", "Madeira/Atlantic"]]),
            ("farms", 2, "time zone", "unknown-time-zone"),
        ),
        (with_sheets(farms=[["code", "name"], ["LANT", "L"]]), ("farms", 2, "", "missing")),
        (
            with_sheets(
                farms=[["code", "name", "time zone", "latitude"], ["LANT", "L", "UTC", 32.7]]
            ),
            ("farms", 2, "latitude", "rule-broken"),
        ),
        (
            with_sheets(
                farms=[["code", "name", "time zone", "latitude"], ["LANT", "L", "UTC", 132]]
            ),
            ("farms", 2, "latitude", "out-of-range"),
        ),
        (
            with_sheets(people=[["e-mail", "role"], ["ines", "owner"]]),
            ("people", 2, "e-mail", "invalid"),
        ),
        (
            with_sheets(people=[["e-mail", "role"], ["i@l.example", "king"]]),
            ("people", 2, "role", "unknown-choice"),
        ),
        (
            with_sheets(people=[["e-mail", "role"], ["i@l.example", "staff"]]),
            ("people", 2, "role", "not-on-a-farm"),
        ),
        (
            with_sheets(memberships=[["co-op", "starts on"], ["COOOP", "2026-01-01"]]),
            ("memberships", 2, "co-op", "unknown-co-op"),
        ),
    ],
)
def test_what_is_wrong_is_told_by_sheet_row_and_column(
    sheets: dict[str, Any], found: tuple[Any, ...], admin: APIClient
) -> None:
    make_species()
    before = everything()
    dry, real = send(admin, sheets, dry_run=True), send(admin, sheets)
    assert found in faults(real)
    assert faults(dry) == faults(real)
    assert (dry.status_code, real.status_code) == (200, 422)
    assert real["Content-Type"] == "application/problem+json"
    assert real.json()["errors"][0]["pointer"] == "/file"
    assert everything() == before


def test_two_at_one_place_are_told_once_with_both_rows(admin: APIClient) -> None:
    answer = send(admin, tree_rows(["N1", "1-3", "1-5"], ["N1", "2-3", "4-5"]))
    (problem,) = answer.json()["problems"]
    assert problem["detail"].startswith("Rows 2 and 3 both have a tree at row 2, position 4")


def test_near_matches_are_offered(admin: APIClient) -> None:
    answer = send(admin, tree_rows(["N1", "1", "1", None, "Ondrala"]))
    assert "Is it Ondrela?" in answer.json()["problems"][0]["detail"]
    answer = send(admin, tree_rows(["N1", "1", "1", None, "Yard sedling"]))
    assert "Is it Yard seedling?" in answer.json()["problems"][0]["detail"]


def test_a_removed_tree_is_replanted_from_its_removal_on(admin: APIClient, cast: Cast) -> None:
    Tree.objects.filter(pk=cast.ours.tree.pk).update(removed_on=dt.date(2024, 5, 1))
    base = [["farm", *TREES]]
    early = send(admin, {"trees": [*base, ["OURS", "N1", "1", "1", None, None, "2024-04-30"]]})
    undated = send(admin, {"trees": [*base, ["OURS", "N1", "1", "1"]]})
    assert faults(early) == faults(undated) == [("trees", 2, "planted on", "place-taken")]
    later = {"trees": [*base, ["OURS", "N1", "1", "1", None, None, "2024-05-01"]]}
    assert counts(send(admin, later)) == {"trees": (1, 0, 0)}
    assert counts(send(admin, later)) == {"trees": (0, 0, 1)}


def test_a_sheet_or_column_that_is_not_known_is_a_warning(admin: APIClient) -> None:
    sheets = with_sheets(
        notes=[["anything"]], blocks=[["code", "colour"], ["N1", "red"], ["S1", "blue"]]
    )
    answer = send(admin, sheets)
    assert answer.status_code == 200
    told = {(each["sheet"], each["code"]) for each in answer.json()["problems"]}
    assert told == {("notes", "unknown-sheet"), ("blocks", "unknown-column")}


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("farm.xlsx", b"not a workbook", "unknown-type"),
        ("farm.csv", b"block,rows\nN1,1\n", "unknown-type"),
        ("farm.xlsx", b"PK\x03\x04 torn", "damaged"),
    ],
)
def test_what_is_no_workbook_is_refused(
    name: str, content: bytes, code: str, admin: APIClient
) -> None:
    answer = send_file(admin, SimpleUploadedFile(name, content))
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["code"] == code


def test_a_workbook_without_a_known_sheet_is_refused(admin: APIClient) -> None:
    answer = send(admin, {"Sheet1": [["a", "b"]]})
    assert answer.json()["errors"][0]["code"] == "no-such-sheet"


def test_a_workbook_that_is_too_large_is_not_read(admin: APIClient, monkeypatch: Any) -> None:
    monkeypatch.setattr(loading, "MAX_BYTES", 1_000)
    answer = send(admin, FARM)
    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


def test_an_unknown_field_is_refused(admin: APIClient) -> None:
    assert send(admin, FARM, farm="LANT").status_code == 400


# Who may -----------------------------------------------------------------------------------------

OURS = {
    "blocks": [["farm", "code"], ["OURS", "S2"]],
    "trees": [["farm", "block", "rows", "positions"], ["OURS", "S2", "1", "1-3"]],
    "people": [["farm", "e-mail", "role"], ["OURS", "ines@ours.example", "worker"]],
}


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("owner", 200),
        ("manager", 200),
        ("admin", 200),
        ("worker", 403),
        ("adviser", 403),
        ("staff", 422),  # our farm has its people, who did not say that staff may edit
        ("stranger", 422),
        ("nobody", 401),
    ],
)
def test_who_may_load_our_farm(who: str, status: int, cast: Cast) -> None:
    people = {
        "owner": cast.ours.owner,
        "stranger": cast.neighbour.owner,
        **{
            name: getattr(cast, name) for name in ("manager", "admin", "worker", "adviser", "staff")
        },
    }
    client = client_of(people[who]) if who in people else APIClient()
    before = everything()
    assert send(client, OURS).status_code == status
    assert (everything() == before) is (status != 200)


@pytest.mark.parametrize("scope", ["records:write", "harvest:write"])
def test_no_app_loads_a_workbook(scope: str, cast: Cast) -> None:
    for place in (cast.ours.farm, cast.co_op):
        answer = send(client_with(place, scope), OURS)
        assert (answer.status_code, answer.json()["code"]) == (403, "insufficient-scope")
        assert client_with(place, scope).get(f"{PATH}/template").status_code == 403


def test_another_farm_is_told_like_one_that_does_not_exist(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    answers = [
        send(client, {"blocks": [["farm", "code"], [code, "S2"]]}) for code in ("NEXT", "NONE")
    ]
    details = [
        answer.json()["problems"][0]["detail"].replace(code, "X")
        for answer, code in zip(answers, ("NEXT", "NONE"), strict=True)
    ]
    assert details[0] == details[1]


def test_an_owner_adds_no_farm_and_shares_no_cultivar(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    assert ("farms", 2, "code", "unknown-farm") in faults(send(client, FARM))
    shared = {"cultivars": [["name", "species"], ["Ostrel", "sugar-apple"]]}
    assert faults(send(client, shared)) == [("cultivars", 2, "", "not-allowed")]
    known = {"cultivars": [["name", "species"], ["Ondrela", "sugar-apple"]]}
    assert counts(send(client, known)) == {"cultivars": (0, 0, 1)}


def test_an_owner_changes_no_terms_of_membership(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    heading = ["farm", "co-op", "starts on", "shares"]
    same = {"memberships": [heading, ["OURS", "COOP", "2020-01-01", "harvest"]]}
    other = {"memberships": [heading, ["OURS", "COOP", "2020-01-01", "all"]]}
    assert counts(send(client, same)) == {"memberships": (0, 0, 1)}
    assert faults(send(client, other)) == [("memberships", 2, "co-op", "not-allowed")]


JOINING = with_sheets(memberships=[["co-op", "starts on"], ["COOP", "2026-01-01"]])


def test_staff_add_a_farm_that_joins_their_co_op(cast: Cast) -> None:
    client = client_of(cast.staff)
    assert ("farms", 2, "code", "needs-membership") in faults(send(client, FARM))
    answer = send(client, JOINING)
    assert answer.status_code == 200, answer.content
    assert counts(answer)["trees"] == (300, 0, 0)
    assert len(answer.json()["invitations"]) == 1
    # While it has nobody, they may go on; then its own people do.
    assert send(client, JOINING).status_code == 200
    farm = Farm.objects.get(code="LANT")
    FarmRole.objects.create(farm=farm, person=cast.worker, role="owner")
    assert send(client, {"blocks": [["farm", "code"], ["LANT", "X1"]]}).status_code == 422
    Membership.objects.filter(farm=farm).update(staff_may_edit=True)
    assert send(client, {"blocks": [["farm", "code"], ["LANT", "X1"]]}).status_code == 200


def test_staff_join_a_farm_to_no_other_co_op(cast: Cast) -> None:
    CoOp.objects.create(code="THEIRS", name="The other co-op")
    sheets = with_sheets(memberships=[["co-op", "starts on"], ["THEIRS", "2026-01-01"]])
    answer = send(client_of(cast.staff), sheets)
    assert ("farms", 2, "code", "needs-membership") in faults(answer)
    assert not Membership.objects.filter(co_op__code="THEIRS").exists()


def test_staff_do_not_take_over_a_farm_by_its_code(cast: Cast) -> None:
    sheets = {
        "farms": [["code", "name", "time zone"], ["NEXT", "Mine now", "UTC"]],
        "memberships": [["farm", "co-op", "starts on"], ["NEXT", "COOP", "2026-01-01"]],
    }
    assert ("farms", 2, "code", "already-taken") in faults(send(client_of(cast.staff), sheets))
    assert Farm.objects.get(code="NEXT").name == "Farm NEXT"


def test_staff_invite_nobody_but_the_owner_of_a_new_farm(cast: Cast) -> None:
    sheets = {**JOINING, "people": [["e-mail", "role"], ["i@l.example", "worker"]]}
    answer = send(client_of(cast.staff), sheets)
    assert faults(answer) == [("people", 2, "role", "not-allowed")]


def test_who_has_a_role_there_is_not_invited_to_another(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    heading = ["farm", "e-mail", "role"]
    same = {"people": [heading, ["OURS", "WORKER@ours.example", "worker"]]}
    other = {"people": [heading, ["OURS", "worker@ours.example", "owner"]]}
    assert counts(send(client, same)) == {"people": (0, 0, 1)}
    assert faults(send(client, other)) == [("people", 2, "role", "other-role")]


# Size and history --------------------------------------------------------------------------------


def queries_for(admin: APIClient, block: str, trees: int) -> int:
    rows = [
        [block, str(n // 100 + 1), str(n % 100 + 1), f"{block}{n}", "Yard seedling"]
        for n in range(trees)
    ]
    with CaptureQueriesContext(connection) as asked:
        answer = send(admin, tree_rows(*rows))
    assert counts(answer)["trees"] == (trees, 0, 0)
    return len(asked)


@pytest.mark.long
def test_ten_times_the_trees_cost_hardly_more_queries(admin: APIClient) -> None:
    few, many = queries_for(admin, "N1", 500), queries_for(admin, "S1", 5_000)
    assert many < 2 * few


def test_the_history_says_that_a_workbook_did_it(admin: APIClient, cast: Cast) -> None:
    send(admin, OURS)
    query = {"farm": str(cast.ours.farm.pk), "kind": "trees"}
    latest = admin.get("/api/v1/history", query).json()["results"][0]
    assert (latest["action"], latest["by"]) == ("created", "Admin")
