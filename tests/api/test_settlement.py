"""Settling by the API: staff draft and issue, members see their own statements and no more."""

import datetime as dt
import io
from typing import Any

import openpyxl
import pytest
from rest_framework.test import APIClient

from planning.models import Pool, PoolDeduction, Statement
from records.models import CoOpGrade, HarvestWeight, Membership
from tests.cast import Cast, Place, client_of, client_with, make_place

V1 = "/api/v1"


@pytest.fixture
def staff(cast: Cast) -> APIClient:
    return client_of(cast.staff)


@pytest.fixture
def other(cast: Cast) -> Place:
    """Another member of our co-op."""
    place = make_place("PEER")
    Membership.objects.create(co_op=cast.co_op, farm=place.farm, starts_on=dt.date(2020, 1, 1))
    return place


def pick(place: Place, kg: int, day: str = "2026-08-03", **extra: Any) -> HarvestWeight:
    scale = {"weight": kg, "unit": "kg", "net_g": kg * 1_000}
    return HarvestWeight.objects.create(
        farm=place.farm, block=place.block, picked_on=day, **{**scale, **extra}
    )


def pool_body(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "co_op": str(cast.co_op.pk),
        "name": "August",
        "starts_on": "2026-08-01",
        "ends_on": "2026-08-31",
        "currency": "EUR",
        "price_per_kg": "2.40",
        **changes,
    }


def create(client: APIClient, cast: Cast, **changes: Any) -> Any:
    answer = client.post(f"{V1}/pools", pool_body(cast, **changes))
    assert answer.status_code == 201, answer.content
    return answer.json()


def keep_back(client: APIClient, pool: Any, **body: Any) -> Any:
    answer = client.post(f"{V1}/pool-deductions", {"pool": pool["id"], **body})
    assert answer.status_code == 201, answer.content
    return answer.json()


def issue(client: APIClient, pool: Any) -> Any:
    return client.post(f"{V1}/pools/{pool['id']}/issue")


def get(client: APIClient, path: str, **query: Any) -> Any:
    answer = client.get(f"{V1}/{path}", query)
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_staff_settle_a_pool(cast: Cast, staff: APIClient, other: Place) -> None:
    pick(cast.ours, 100, docket="D-1", containers=8)
    pick(other, 10, docket="P-1")
    pool = create(staff, cast)
    keep_back(staff, pool, what_for="Packing", kind="per-kilo", rate="0.15")
    keep_back(staff, pool, what_for="Advance", kind="fixed", rate="30", member=str(other.farm.pk))
    draft = get(staff, f"pools/{pool['id']}/draft")
    assert (draft["payable_kg"], draft["gross"], draft["deductions"]) == (110, 264, -46.5)
    assert (draft["to_pay"], draft["carried_out"], draft["problems"]) == (225, -7.5, [])
    assert draft["notes"] == [
        "PEER: more is kept back than is due. Nothing is paid, and 7.50 EUR are carried forward."
    ]
    assert [row["lines"] for row in draft["statements"]] == [[], []]
    assert not Statement.objects.exists()

    answer = issue(staff, pool)
    assert (answer.status_code, answer.json()["state"]) == (200, "issued")
    assert answer.json()["basis"] == "picked"
    issued = get(staff, "statements", pool=pool["id"], co_op=str(cast.co_op.pk))["results"]
    told = [(row["member_code"], row["number"], row["to_pay"]) for row in issued]
    assert told == [("OURS", 1, 225), ("PEER", 1, 0)]
    full = get(staff, f"statements/{issued[0]['id']}")
    assert [(line["docket"] or line["text"], line["amount"]) for line in full["lines"]] == [
        ("D-1", 240),
        ("Packing", -15),
    ]


def test_a_draft_tells_one_member_s_lines(cast: Cast, staff: APIClient, other: Place) -> None:
    pick(cast.ours, 100, docket="D-1", containers=8)
    pick(other, 10)
    pool = create(staff, cast)
    [row] = get(staff, f"pools/{pool['id']}/draft", member=str(cast.ours.farm.pk))["statements"]
    [line] = row["lines"]
    assert (line["number"], line["kind"], line["pool_name"]) == (1, "kilos", "August")
    assert (line["docket"], line["kilos"], line["containers"]) == ("D-1", 100, 8)
    assert (line["rate"], line["amount"], line["day"]) == (2.4, 240, "2026-08-03")


def test_corrections_stand_on_the_next_statement(cast: Cast, staff: APIClient) -> None:
    weighing = pick(cast.ours, 100, docket="D-1")
    pick(cast.ours, 10, "2026-09-03", docket="D-2")
    issue(staff, create(staff, cast))
    [first] = get(staff, "statements")["results"]
    before = get(staff, f"statements/{first['id']}")
    HarvestWeight.objects.filter(pk=weighing.pk).update(net_g=90_000)
    days = {"starts_on": "2026-09-01", "ends_on": "2026-09-30"}
    later = create(staff, cast, name="September", **days)
    issue(staff, later)
    [second] = get(staff, "statements", pool=later["id"])["results"]
    lines = get(staff, "statement-lines", statement=second["id"], kind="adjustment")["results"]
    [line] = lines
    assert (line["amount"], line["kilos"], line["docket"]) == (-24, -10, "D-1")
    assert (line["adjusts_statement"], line["adjusts_line"]) == (first["id"], 1)
    assert (line["pool_name"], line["text"]) == ("August", "90.000 kg instead of 100.000 kg")
    assert second["adjustments"] == -24
    assert second["to_pay"] == 0
    assert get(staff, f"statements/{first['id']}") == before


# Members -----------------------------------------------------------------------------------------


def settled(cast: Cast, staff: APIClient, other: Place) -> Any:
    pick(cast.ours, 100)
    pick(other, 10)
    pool = create(staff, cast, price_per_kg=None, amount="1000")
    keep_back(staff, pool, what_for="Advance", kind="fixed", rate="5", member=str(other.farm.pk))
    assert issue(staff, pool).status_code == 200
    return pool


@pytest.mark.parametrize("role", ["owner", "manager"])
def test_a_member_sees_its_own_statements_only(
    role: str, cast: Cast, staff: APIClient, other: Place
) -> None:
    pool = settled(cast, staff, other)
    client = client_of(cast.ours.owner if role == "owner" else cast.manager)
    [statement] = get(client, "statements", pool=pool["id"])["results"]
    assert statement["member_code"] == "OURS"
    assert {row["member_code"] for row in get(client, "statement-lines")["results"]} == {"OURS"}
    theirs = Statement.objects.get(member=other.farm)
    assert client.get(f"{V1}/statements/{theirs.pk}").status_code == 404
    lines = client.get(f"{V1}/statement-lines", {"statement": str(theirs.pk)})
    assert lines.status_code == 422


def test_a_member_sees_nothing_of_what_all_bring_together(
    cast: Cast, staff: APIClient, other: Place
) -> None:
    pool = settled(cast, staff, other)
    client = client_of(cast.ours.owner)
    assert get(client, "pools")["results"] == []
    assert get(client, "pool-deductions")["results"] == []
    for path in (f"pools/{pool['id']}", f"pools/{pool['id']}/draft"):
        assert client.get(f"{V1}/{path}").status_code == 404
    assert issue(client, pool).status_code == 404
    [listed] = get(client, "statements")["results"]
    told = str(get(client, f"statements/{listed['id']}"))
    assert "1000" not in told
    assert "PEER" not in told


@pytest.mark.parametrize("role", ["worker", "adviser"])
def test_workers_and_advisers_see_nothing(
    role: str, cast: Cast, staff: APIClient, other: Place
) -> None:
    settled(cast, staff, other)
    client = client_of(cast.worker if role == "worker" else cast.adviser)
    for name in ("pools", "pool-deductions", "statements", "statement-lines"):
        assert client.get(f"{V1}/{name}").status_code == 403


def test_staff_of_another_co_op_see_nothing(cast: Cast, staff: APIClient, other: Place) -> None:
    pool = settled(cast, staff, other)
    theirs = cast.neighbour.farm.memberships.get().co_op
    client = client_of(theirs.staff.get().person)
    assert get(client, "statements")["results"] == []
    assert client.get(f"{V1}/pools/{pool['id']}/draft").status_code == 404
    assert issue(client, pool).status_code == 404


def test_an_app_that_reads_settlements_issues_none(
    cast: Cast, staff: APIClient, other: Place
) -> None:
    pick(cast.ours, 100)
    pool = create(staff, cast)
    reader = client_with(cast.co_op, "settlement:read")
    assert get(reader, f"pools/{pool['id']}/draft")["gross"] == 240
    assert issue(reader, pool).json()["code"] == "insufficient-scope"
    writer = client_with(cast.co_op, "settlement:write")
    assert issue(writer, pool).status_code == 200


# What cannot be ----------------------------------------------------------------------------------

REFUSED = [
    # What the pool says, the status, the field and the code.
    ({"price_per_kg": "0"}, 422, "price_per_kg", "rule-broken"),  # a price of zero
    ({"price_per_kg": "-1"}, 422, "price_per_kg", "rule-broken"),
    ({"price_per_kg": "2.40", "amount": "100"}, 422, "amount", "rule-broken"),
    ({"price_per_kg": None, "amount": "0"}, 422, "amount", "rule-broken"),
    ({"price_per_kg": None, "amount": "100.005"}, 422, "amount", "not-payable"),
    ({"price_per_kg": None, "amount": "1.5", "currency": "JPY"}, 422, "amount", "not-payable"),
    ({"currency": "XXX"}, 422, "currency", "unknown-currency"),
    ({"currency": "eur"}, 422, "currency", "unknown-currency"),
    ({"ends_on": "2026-07-31"}, 422, "ends_on", "rule-broken"),
    ({"price_per_kg": "2.40001"}, 400, "price_per_kg", "max-decimal-places"),
    ({"price_per_kg": "NaN"}, 400, "price_per_kg", "invalid"),
    ({"state": "issued"}, 400, "state", "unknown-field"),
]


@pytest.mark.parametrize(("changes", "status", "field", "code"), REFUSED)
def test_a_pool_that_cannot_be_is_refused(
    changes: dict[str, Any], status: int, field: str, code: str, cast: Cast, staff: APIClient
) -> None:
    answer = staff.post(f"{V1}/pools", pool_body(cast, **changes))
    assert answer.status_code == status
    [error] = answer.json()["errors"]
    assert (error["pointer"], error["code"]) == (f"/{field}", code)
    assert not Pool.objects.exists()


REFUSED_DEDUCTIONS = [
    ({"kind": "per-kilo", "rate": "0"}, "rate", "rule-broken"),
    ({"kind": "per-cent", "rate": "100.5"}, "rate", "rule-broken"),
    ({"kind": "fixed", "rate": "0.005"}, "rate", "not-payable"),
    ({"kind": "fixed", "rate": "5", "member": "stranger"}, "member", "no-member"),
]


@pytest.mark.parametrize(("body", "field", "code"), REFUSED_DEDUCTIONS)
def test_a_deduction_that_cannot_be_is_refused(
    body: dict[str, Any], field: str, code: str, cast: Cast
) -> None:
    admin = client_of(cast.admin)  # who sees farms that are no members
    pool = create(admin, cast)
    if "member" in body:
        body = {**body, "member": str(cast.neighbour.farm.pk)}
    answer = admin.post(f"{V1}/pool-deductions", {"pool": pool["id"], "what_for": "x", **body})
    assert answer.status_code == 422
    [error] = answer.json()["errors"]
    assert (error["pointer"], error["code"]) == (f"/{field}", code)
    assert not PoolDeduction.objects.exists()


def test_a_pool_without_kilos_or_price_is_not_issued(cast: Cast, staff: APIClient) -> None:
    pool = create(staff, cast, price_per_kg=None)
    problems = get(staff, f"pools/{pool['id']}/draft")["problems"]
    answer = issue(staff, pool)
    assert answer.status_code == 422
    expected = {("price_per_kg", "price-missing"), ("starts_on", "no-kilos")}
    assert {(each["field"], each["code"]) for each in problems} == expected
    found = {(each["pointer"], each["code"]) for each in answer.json()["errors"]}
    assert found == {(f"/{field}", code) for field, code in expected}
    assert not Statement.objects.exists()


def test_a_pool_is_issued_once_and_then_kept(cast: Cast, staff: APIClient) -> None:
    pick(cast.ours, 100)
    pool = create(staff, cast)
    assert issue(staff, pool).status_code == 200
    again = issue(staff, pool)
    assert (again.status_code, again.json()["code"]) == (409, "conflict")
    address = f"{V1}/pools/{pool['id']}"
    moved = staff.patch(address, {"ends_on": "2026-09-30"})
    assert moved.status_code == 422
    assert moved.json()["errors"][0]["pointer"] == "/ends_on"
    assert staff.delete(address).status_code == 409
    assert staff.patch(address, {"price_per_kg": None}).status_code == 422
    assert staff.patch(address, {"price_per_kg": "2.50"}).status_code == 200
    assert Statement.objects.count() == 1


def test_an_issue_takes_no_fields_and_minds_the_version(cast: Cast, staff: APIClient) -> None:
    pick(cast.ours, 100)
    pool = create(staff, cast)
    address = f"{V1}/pools/{pool['id']}/issue"
    assert staff.post(address, {"at": "2026-09-01"}).status_code == 400
    assert staff.post(address, headers={"If-Match": '"7"'}).status_code == 412
    assert staff.post(address, headers={"If-Match": '"1"'}).status_code == 200


def test_grades_are_read_and_written_by_id(cast: Cast, staff: APIClient) -> None:
    grades = [
        CoOpGrade.objects.create(co_op=cast.co_op, code=code, is_marketable=True) for code in "AB"
    ]
    ids = [str(grade.pk) for grade in grades]
    pool = create(staff, cast, grades=ids)
    assert sorted(pool["grades"]) == sorted(ids)
    changed = staff.patch(f"{V1}/pools/{pool['id']}", {"grades": ids[:1]})
    assert changed.json()["grades"] == ids[:1]


# As tables ---------------------------------------------------------------------------------------


def test_statements_and_lines_are_tables_too(cast: Cast, staff: APIClient, other: Place) -> None:
    settled(cast, staff, other)
    totals = staff.get(f"{V1}/statements", {"format": "csv"}).content.decode().splitlines()
    heading = totals[0].split(",")
    rows = [dict(zip(heading, line.split(","), strict=True)) for line in totals[1:]]
    assert [(row["member_code"], row["gross"]) for row in rows] == [
        ("OURS", "909.09"),
        ("PEER", "90.91"),
    ]
    answer = staff.get(f"{V1}/statement-lines", {"format": "xlsx"})
    sheet = openpyxl.load_workbook(io.BytesIO(answer.content)).worksheets[0]
    cells = list(sheet.iter_rows(values_only=True))
    amount = cells[0].index("amount")
    assert sorted(row[amount] for row in cells[1:]) == [-5, 90.91, 909.09]
