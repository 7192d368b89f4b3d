"""Co-op staff close a season by the API alone: files, findings, reconciliation, close, payment."""

import datetime as dt
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import load_workbook
from rest_framework.test import APIClient

from orchard.demo import load
from orchard.demo.cast_files import read_cast
from orchard.demo.harvest import weighings
from orchard.demo.load_deliveries import load_deliveries
from orchard.demo.sheets import Sheet, write_sheets
from records.models import CoOp, Farm, FarmRole, Person
from tests.cast import client_of
from tests.working import do_all_jobs

AS_OF = dt.date(2026, 11, 20)
YEAR = 2025
API = "/api/v1"
OWN_SENDERS = {"HAD", "MAL"}  # members that let nobody else edit their harvest


@pytest.fixture
def staff(committed: None, settings: Any) -> APIClient:
    """The demo's co-op before any file has come in."""
    settings.AS_OF = AS_OF
    load.load_records(read_cast(AS_OF), "not looked at 1935")
    return client_of(Person.objects.get(email="noemia@orvenha.example"))


def send(staff: APIClient, sheet: Sheet) -> str:
    """The address of the import of a member's file."""
    farm = Farm.objects.get(code=sheet.farm_code)
    sender = staff
    if farm.code in OWN_SENDERS:
        sender = client_of(FarmRole.objects.filter(farm=farm, role="owner")[0].person)
    file = SimpleUploadedFile(sheet.path.name, sheet.path.read_bytes())
    fields = {"farm": str(farm.pk), "file": file, "series": sheet.series}
    accepted = sender.post(f"{API}/harvest-imports", fields, format="multipart")
    assert accepted.status_code == 202, accepted.json()
    return f"{API}/harvest-imports/{accepted.json()['id']}"


def read(client: APIClient, address: str, **query: Any) -> Any:
    answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    return answer.json()


def write(client: APIClient, address: str, body: dict[str, Any], code: int = 201) -> Any:
    answer = client.post(f"{API}/{address}", body)
    assert answer.status_code == code, answer.content
    return answer.json()


def test_a_season_is_closed_and_paid(staff: APIClient, tmp_path: Path) -> None:
    cast, co_op = read_cast(AS_OF), CoOp.objects.get()
    co_ops = f"{API}/co-ops/{co_op.pk}"

    # Seven files, in seven layouts.
    sheets = [each for each in write_sheets(cast, tmp_path) if each.season_year == YEAR]
    sent = [send(staff, sheet) for sheet in sheets]
    do_all_jobs()
    assert [read(staff, address)["state"] for address in sent] == ["landed"] * 7
    load_deliveries(cast)
    do_all_jobs()

    # What looks wrong is just what went wrong; every fix is applied.
    asked = {"co_op": str(co_op.pk), "season": str(YEAR)}
    found = read(staff, f"{API}/findings", **asked)["results"]
    assert Counter((each["farm_code"], each["kind"]) for each in found) == {
        ("BER", "swapped-date"): 1,
        ("TAL", "recorded-twice"): 1,
        ("TRA", "unit-slip"): 1,
        ("ZIM", "tenfold-slip"): 1,
    }
    for finding in found:
        write(staff, f"findings/{finding['id']}/apply", {}, code=200)
    do_all_jobs()
    assert not read(staff, f"{API}/findings", **asked, state="open")["results"]

    # The members' own weighings are what is left.
    table = read(staff, f"{co_ops}/harvest", season=str(YEAR), group_by="member")
    weighed: Counter[str] = Counter()
    for one in weighings(cast):
        if one.season_year == YEAR:
            weighed[one.farm] += one.net_g or 0
    kilos = {row["member_code"]: row["picked_kg"] for row in table["results"]}
    slipped_kg = 0.1  # a tenth of a kilo is all that the member read off in pounds
    assert kilos == {
        code: pytest.approx(grams / 1000, abs=slipped_kg) for code, grams in weighed.items()
    }

    # What was sent against what was received.
    matched = read(staff, f"{co_ops}/reconciliation", season=str(YEAR))
    assert matched["states"]["matched"] > 10
    assert matched["states"]["differs"] == 0

    # Closed for good, with what speaks against it.
    closing = {"co_op": str(co_op.pk), "season_year": YEAR}
    refused = write(staff, "closed-seasons", closing, code=422)
    assert "ZIM Indústria" in refused["detail"]
    closed = write(staff, "closed-seasons", {**closing, "despite": True})
    assert [each["code"] for each in closed["objections"]] == ["grades-unmapped"]
    write(staff, "closed-seasons", {**closing, "despite": True}, code=409)

    # A pool, its deductions, its statements.
    pool = {
        "co_op": str(co_op.pk),
        "name": "Season pool",
        "starts_on": f"{YEAR}-07-01",
        "ends_on": f"{YEAR + 1}-06-30",
        "currency": "EUR",
        "amount": "100000.00",
    }
    made = write(staff, "pools", pool)
    levy = {"pool": made["id"], "what_for": "levy", "kind": "per-cent", "rate": "2.5"}
    write(staff, "pool-deductions", levy)
    drafted = read(staff, f"{API}/pools/{made['id']}/draft")
    assert drafted["problems"] == []
    write(staff, f"pools/{made['id']}/issue", {}, code=200)
    statements = read(staff, f"{API}/statements", pool=made["id"])["results"]
    assert len(statements) == 7
    assert sum(Decimal(str(each["gross"])) for each in statements) == Decimal("100000.00")
    own = client_of(FarmRole.objects.filter(farm__code="ZIM", role="owner")[0].person)
    assert [each["member_code"] for each in read(own, f"{API}/statements")["results"]] == ["ZIM"]

    # The workbook.
    answer = staff.get(
        f"{co_ops}/harvest", {"season": str(YEAR), "group_by": "member,cultivar", "format": "xlsx"}
    )
    assert answer.status_code == 200
    book_at = tmp_path / "harvest.xlsx"
    book_at.write_bytes(answer.content)
    book = load_workbook(book_at)
    assert len(book.sheetnames) == 2
    first = book[book.sheetnames[0]]
    assert first.freeze_panes
    told = " ".join(str(cell.value) for row in book[book.sheetnames[1]].rows for cell in row)
    assert "closed" in told.lower()
