"""A farm's decisions about the hours of flowers, and what it may choose among."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import FlowerHours
from records.models import Species
from tests.cast import Cast, Place, client_of

ADDRESS = "/api/v1/flower-hours"
OWN = {
    "brush_from": "sunrise",
    "brush_from_minutes": 0,
    "brush_to": "solar-noon",
    "brush_to_minutes": -120,
}


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def body(place: Place, code: str = "cherimoya", **values: Any) -> dict[str, Any]:
    kind = Species.objects.get(code=code)
    return {"farm": str(place.farm.pk), "species": str(kind.pk), **values}


def test_a_farm_chooses_a_source_that_ships(owner: APIClient, cast: Cast) -> None:
    answer = owner.post(ADDRESS, body(cast.ours, shipped_source="melo-2002"))
    assert answer.status_code == 201, answer.content
    assert answer.json()["shipped_source"] == "melo-2002"


def test_a_farm_enters_hours_of_its_own_and_changes_its_mind(owner: APIClient, cast: Cast) -> None:
    created = owner.post(ADDRESS, body(cast.ours, **OWN, source="Counted in 2025."))
    assert created.status_code == 201, created.content
    empty = {name: None if name.endswith("minutes") else "" for name in OWN}
    changed = owner.patch(
        f"{ADDRESS}/{created.json()['id']}", {**empty, "shipped_source": "schroeder-1971"}
    )
    assert changed.status_code == 200, changed.content
    assert FlowerHours.objects.get().shipped_source == "schroeder-1971"


@pytest.mark.parametrize(
    ("values", "field", "code"),
    [
        ({}, "shipped_source", "rule-broken"),  # neither a source nor hours
        ({**OWN, "shipped_source": "melo-2002"}, "shipped_source", "rule-broken"),  # both
        ({"shipped_source": "web-article"}, "shipped_source", "unknown-source"),  # soursop's
        ({**OWN, "brush_to": ""}, "brush_to_minutes", "rule-broken"),  # half an end
        (
            {**OWN, "brush_to": "sunrise"},
            "brush_to_minutes",
            "rule-broken",
        ),  # ends before it begins
        ({**OWN, "brush_to_minutes": -360}, "brush_to_minutes", "hours-out-of-order"),
    ],
)
def test_decisions_that_make_no_sense_are_refused(
    owner: APIClient, cast: Cast, values: dict[str, Any], field: str, code: str
) -> None:
    answer = owner.post(ADDRESS, body(cast.ours, **values))
    assert answer.status_code == 422, answer.content
    errors = {error["pointer"]: error["code"] for error in answer.json()["errors"]}
    assert errors[f"/{field}"] == code
    assert not FlowerHours.objects.exists()


@pytest.mark.parametrize(
    "values", [{**OWN, "brush_from": "moonrise"}, {**OWN, "brush_to_minutes": 2881}]
)
def test_what_the_schema_can_say_is_a_bad_request(
    owner: APIClient, cast: Cast, values: dict[str, Any]
) -> None:
    assert owner.post(ADDRESS, body(cast.ours, **values)).status_code == 400


def test_a_farm_decides_once_a_species(owner: APIClient, cast: Cast) -> None:
    assert owner.post(ADDRESS, body(cast.ours, shipped_source="melo-2002")).status_code == 201
    again = owner.post(ADDRESS, body(cast.ours, shipped_source="peru-manual"))
    assert again.status_code == 422
    assert again.json()["errors"][0]["code"] == "already-taken"


def test_what_ships_is_listed_with_its_sources(owner: APIClient, cast: Cast) -> None:
    rows = owner.get(f"{ADDRESS}/shipped").json()["results"]
    defaults = {row["species_code"] for row in rows if row["is_default"]}
    assert defaults == {"sugar-apple", "atemoya", "cherimoya", "soursop"}
    atemoya = next(row for row in rows if row["species_code"] == "atemoya" and row["is_default"])
    assert atemoya["brush"]["windows"] == [
        {
            "opens": {"anchor": "solar-noon", "minutes": 222, "clock": 16},
            "closes": {"anchor": "solar-noon", "minutes": 1182, "clock": 32},
            "when": None,
        }
    ]
    assert atemoya["place"]["is_assumed"] is True
    assert "Thakur & Singh" in atemoya["brush"]["source"]
    assert {each["code"] for each in atemoya["cautions"]} >= {"warmer-than-best", "dry-weather"}


def test_what_ships_for_one_species(owner: APIClient, cast: Cast) -> None:
    query = {"species": str(Species.objects.get(code="custard-apple").pk)}
    assert owner.get(f"{ADDRESS}/shipped", query).json() == {"next": None, "results": []}
    assert owner.get(f"{ADDRESS}/shipped", {"farm": "x"}).status_code == 400


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"works_from": "06:00"}, "works_until"),  # one without the other
        ({"works_from": "14:00", "works_until": "06:00"}, "works_until"),  # over midnight
        ({"works_from": "06:00", "works_until": "06:00"}, "works_until"),  # no time at all
    ],
)
def test_working_hours_come_together_and_in_order(
    owner: APIClient, cast: Cast, values: dict[str, str], field: str
) -> None:
    farm = {"farm": str(cast.ours.farm.pk)}
    refused = owner.post("/api/v1/schedule-settings", {**farm, **values})
    assert refused.status_code == 422, refused.content
    assert refused.json()["errors"][0]["pointer"] == f"/{field}"
    hours = {"works_from": "06:00", "works_until": "14:30"}
    stored = owner.post("/api/v1/schedule-settings", {**farm, **hours})
    assert stored.status_code == 201
    assert stored.json()["works_until"] == "14:30:00"
