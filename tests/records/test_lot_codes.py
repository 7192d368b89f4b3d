"""A lot code is assigned once, at initial packing: 21 CFR 1.1320.

It is not changed or given again at shipping or later, whoever writes and however.
"""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from records.models import CoOp, Lot
from records.services.saving import delete, save
from tests.cast import Cast, client_of
from tests.records.making import faults_of

PACKED = dt.date(2026, 9, 11)


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 10, 1)


@pytest.fixture
def lot(cast: Cast) -> Lot:
    packed: Lot = save(Lot(farm=cast.ours.farm, code="L-0911", packed_on=PACKED))
    return packed


def address(lot: Lot) -> str:
    return f"/api/v1/lots/{lot.pk}"


def test_shipping_adds_no_code(lot: Lot, cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    shipped = client.patch(address(lot), {"shipped_on": "2026-09-12", "shipped_to": "A shop"})
    assert shipped.status_code == 200
    assert shipped.json()["code"] == "L-0911"
    again = client.patch(address(lot), {"shipped_on": "2026-09-12", "code": "L-0912"})
    assert again.status_code == 422
    assert [each["pointer"] for each in again.json()["errors"]] == ["/code"]
    assert Lot.objects.get().code == "L-0911"


def test_a_code_is_assigned_when_the_lot_is_packed_and_not_without(cast: Cast) -> None:
    body = {"farm": str(cast.ours.farm.pk), "code": "L-1", "shipped_on": "2026-09-12"}
    answer = client_of(cast.ours.owner).post("/api/v1/lots", body)
    assert answer.status_code == 400
    assert [each["pointer"] for each in answer.json()["errors"]] == ["/packed_on"]


def test_a_code_is_not_given_again(lot: Lot, cast: Cast) -> None:
    body = {"farm": str(cast.ours.farm.pk), "code": lot.code, "packed_on": "2026-09-20"}
    answer = client_of(cast.ours.owner).post("/api/v1/lots", body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["code"] == "already-taken"
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.create(farm=cast.ours.farm, code=lot.code, packed_on=PACKED)


def test_the_code_of_a_retired_lot_stays_assigned(lot: Lot, cast: Cast) -> None:
    Lot.objects.update(retired_on=PACKED)
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.create(farm=cast.ours.farm, code=lot.code, packed_on=PACKED)


def test_another_packer_may_use_the_same_code(lot: Lot, cast: Cast) -> None:
    assert save(Lot(co_op=cast.co_op, code=lot.code, packed_on=PACKED)).code == lot.code


@pytest.mark.parametrize("column", ["code", "farm", "co_op"])
def test_the_database_keeps_a_code_and_its_packer(column: str, lot: Lot, cast: Cast) -> None:
    changed = {
        "code": {"code": "L-0912"},
        "farm": {"farm": cast.neighbour.farm},
        "co_op": {"farm": None, "co_op": CoOp.objects.get()},
    }[column]
    with pytest.raises(IntegrityError, match="keeps its code"), transaction.atomic():
        Lot.objects.update(**changed)
    assert Lot.objects.update(shipped_to="A shop") == 1


def test_the_admin_changes_no_code(lot: Lot, cast: Cast) -> None:
    page = reverse("admin:records_lot_change", args=[lot.pk])
    client = Client()
    client.force_login(cast.admin)
    assert b'name="packed_on"' in client.get(page).content
    assert b'name="code"' not in client.get(page).content


def test_a_shipped_lot_is_not_deleted_so_that_its_code_is_never_free(lot: Lot, cast: Cast) -> None:
    lot.shipped_on = PACKED
    save(lot)
    with pytest.raises(ValidationError) as caught:
        delete(lot)
    assert faults_of(caught.value) == {"shipped_on": ["lot-was-shipped"]}
    assert client_of(cast.ours.owner).delete(address(lot)).status_code == 422
    assert Lot.objects.count() == 1


def test_a_lot_that_never_left_may_be_deleted(lot: Lot) -> None:
    delete(lot)
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("given", "pointer"),
    [
        ({"pack_count": 20}, "/pack_unit"),  # twenty of what?
        ({"pack_unit": "cartons", "pack_count": 20, "shipped_count": 21}, "/shipped_count"),
        ({"pack_unit": "cartons", "shipped_count": 3}, "/shipped_count"),  # of how many?
        ({"pack_unit": "cartons", "pack_count": 20, "shipped_count": 20}, None),
        ({"pack_unit": "cartons", "pack_count": 20}, None),
    ],
)
def test_no_more_is_shipped_than_was_packed(
    given: dict[str, Any], pointer: str | None, lot: Lot, cast: Cast
) -> None:
    answer = client_of(cast.ours.owner).patch(address(lot), given)
    faults = [each["pointer"] for each in answer.json().get("errors", [])]
    assert faults == ([pointer] if pointer else [])
    assert answer.status_code == (422 if pointer else 200)
