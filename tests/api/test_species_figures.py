"""A farm's own figures: what holds, what is refused, and who may ask."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.cast import Cast, client_of, make_cultivar, make_species

pytestmark = pytest.mark.django_db
FIGURES, IN_FORCE = "/api/v1/species-figures", "/api/v1/figures-in-force"


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def body(cast: Cast, **given: Any) -> dict[str, Any]:
    return {
        "farm": str(cast.ours.farm.pk),
        "species": str(make_species().pk),
        "name": "flowers-per-hour",
        "value": 120,
        "source": "Own count of a morning",
        **given,
    }


def in_force(client: APIClient, cast: Cast) -> dict[str, Any]:
    asked = {"farm": str(cast.ours.farm.pk), "species": "sugar-apple"}
    rows = client.get(IN_FORCE, asked).json()["results"]
    return {row["name"]: row for row in rows}


def test_a_farms_own_figure_takes_the_place_of_the_shipped_one(
    owner: APIClient, cast: Cast
) -> None:
    shipped = in_force(owner, cast)["flowers-per-hour"]
    assert (shipped["value"], shipped["is_own"]) == (150, False)
    assert owner.post(FIGURES, body(cast), format="json").status_code == 201
    own = in_force(owner, cast)["flowers-per-hour"]
    assert (own["value"], own["is_own"], own["source"]) == (120, True, "Own count of a morning")


def test_what_is_not_known_says_so(owner: APIClient, cast: Cast) -> None:
    base = in_force(owner, cast)["base-temperature"]
    assert base["value"] is None
    assert "No published base temperature" in base["reason"]


def test_a_figure_of_a_cultivar_does_not_hold_for_the_species(owner: APIClient, cast: Cast) -> None:
    cultivar = str(make_cultivar().pk)
    assert owner.post(FIGURES, body(cast, cultivar=cultivar), format="json").status_code == 201
    assert in_force(owner, cast)["flowers-per-hour"]["value"] == 150


REFUSED = [
    ({"name": "flowers-an-hour"}, "/name", "no-such-figure"),
    ({"value": 0}, "/value", "out-of-range"),
    ({"source": ""}, "/source", "blank"),
    # Below the shipped two thirds that is the most to take off.
    ({"name": "cut-back-least", "value": 0.9}, "/value", "limits-crossed"),
]


@pytest.mark.parametrize(("given", "pointer", "code"), REFUSED)
def test_a_wrong_figure_is_refused_at_its_field(
    given: dict[str, Any], pointer: str, code: str, owner: APIClient, cast: Cast
) -> None:
    answer = owner.post(FIGURES, body(cast, **given), format="json")
    assert answer.status_code in {400, 422}
    assert [(error["pointer"], error["code"]) for error in answer.json()["errors"]] == [
        (pointer, code)
    ]


def test_a_base_above_the_upper_threshold_is_refused(owner: APIClient, cast: Cast) -> None:
    upper = body(cast, name="upper-temperature", value=20)
    assert owner.post(FIGURES, upper, format="json").status_code == 201
    answer = owner.post(FIGURES, body(cast, name="base-temperature", value=21), format="json")
    assert answer.status_code == 422
    told = "base-temperature (21) is above upper-temperature (20)."
    assert answer.json()["errors"][0]["detail"] == told


def test_the_same_figure_twice_names_the_one_there(owner: APIClient, cast: Cast) -> None:
    assert owner.post(FIGURES, body(cast), format="json").status_code == 201
    answer = owner.post(FIGURES, body(cast, value=130), format="json")
    assert answer.status_code == 422
    assert "change that" in answer.json()["errors"][0]["detail"]


def test_a_species_that_is_not_there_is_named(owner: APIClient, cast: Cast) -> None:
    asked = {"farm": str(cast.ours.farm.pk), "species": "ylang-ylang"}
    answer = owner.get(IN_FORCE, asked)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "species"


def test_another_farms_figures_do_not_exist(cast: Cast) -> None:
    asked = {"farm": str(cast.ours.farm.pk), "species": "sugar-apple"}
    answer = client_of(cast.neighbour.owner).get(IN_FORCE, asked)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "farm"
