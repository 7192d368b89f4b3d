"""How much comes off measured shoots, and what the pruning logs say came off."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import SpeciesFigure
from records.models import Farm
from tests.cast import Cast, client_of, client_with, make_species
from tests.planning.schedules import day, plant_block, prune

pytestmark = pytest.mark.django_db
PATH = "/api/v1/cut-backs"


@pytest.fixture(autouse=True)
def in_march(settings: Any) -> None:
    settings.AS_OF = day(3, 20)


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def ask(client: APIClient, block: Any, *lengths: float, **extra: Any) -> Any:
    shoots = [{"length_cm": length} for length in lengths]
    return client.post(PATH, {"block": str(block.pk), "shoots": shoots, **extra}, format="json")


def compare(client: APIClient, farm: Farm, **query: str) -> list[dict[str, Any]]:
    answer = client.get(PATH, {"farm": str(farm.pk), **query})
    assert answer.status_code == 200, answer.content
    rows: list[dict[str, Any]] = answer.json()["results"]
    return rows


# Advice ------------------------------------------------------------------------------------------


def test_sugar_apple_loses_a_half_to_two_thirds(owner: APIClient, cast: Cast) -> None:
    """Common practice, no source; that a shoot below half of the median is weak is assumed."""
    answer = ask(owner, cast.ours.block, 60, 66, 20)
    assert answer.status_code == 200
    found = answer.json()
    assert found["species"] == "sugar-apple"
    first, _, weak = found["shoots"]
    assert (first["fate"], first["remove_least_cm"], first["remove_most_cm"]) == ("cut", 30, 40)
    assert (first["leave_least_cm"], first["leave_most_cm"]) == (20, 30)
    assert (weak["fate"], weak["remove_least_cm"], weak["leave_most_cm"]) == ("remove", 20, 0)
    assert (found["weak"], found["median_cm"], found["total_cm"]) == (1, 60, 146)
    assert found["remove_least_share"] == pytest.approx((20 + 63) / 146, abs=0.001)
    by_name = {figure["name"]: figure for figure in found["inputs"]}
    assert by_name["cut-back-least"]["source"] == "common practice, no source"
    assert by_name["weak-shoot-share"]["is_weak"]


def test_atemoya_laterals_are_cut_to_ten_to_fifteen_centimetres(
    owner: APIClient, cast: Cast
) -> None:
    """Sanewski 1991 in Paull & Duarte 2011, ch. 6."""
    block = plant_block(cast.ours.farm, "A1", "atemoya")
    (shoot,) = ask(owner, block, 60).json()["shoots"]
    assert (shoot["leave_least_cm"], shoot["leave_most_cm"]) == (10, 15)


NO_RULE = [
    ("soursop", "does not apply"),  # evergreen
    ("cherimoya", "enter the farm's own"),
    ("custard-apple", "enter the farm's own"),
]


@pytest.mark.parametrize(("species", "told"), NO_RULE)
def test_a_species_without_a_rule_says_so(
    species: str, told: str, owner: APIClient, cast: Cast
) -> None:
    found = ask(owner, plant_block(cast.ours.farm, "X1", species), 60).json()
    assert (found["shoots"][0]["fate"], found["remove_most_cm"]) == ("unknown", None)
    assert told in found["reason"]


def test_a_farm_enters_its_own_rule(owner: APIClient, cast: Cast) -> None:
    for name, value in (("cut-back-least", 0.4), ("cut-back-most", 0.5)):
        SpeciesFigure.objects.create(
            farm=cast.ours.farm,
            species=make_species(),
            name=name,
            value=value,
            source="our own trial",
        )
    (shoot,) = ask(owner, cast.ours.block, 50).json()["shoots"]
    assert (shoot["remove_least_cm"], shoot["remove_most_cm"]) == (20, 25)


def test_nothing_is_stored(owner: APIClient, cast: Cast) -> None:
    ask(owner, cast.ours.block, 60)
    assert compare(owner, cast.ours.farm) == []


REFUSED = [
    ({"shoots": []}, 400, "/shoots"),
    ({"shoots": [{"length_cm": "long"}]}, 400, "/shoots/0/length_cm"),
    ({"shoots": [{"length_cm": -1}]}, 400, "/shoots/0/length_cm"),
    ({"shoots": [{"length_cm": 60}, {"length_cm": 0}]}, 422, "/shoots/1/length_cm"),
    ({"shoots": [{"length_cm": 60, "buds": 4}]}, 400, "/shoots/0/buds"),
    ({"shoots": [{"length_cm": 60}], "rule": "half"}, 400, "/rule"),
    ({"block": None, "shoots": [{"length_cm": 60}]}, 400, "/block"),
]


@pytest.mark.parametrize(("body", "status", "pointer"), REFUSED)
def test_what_cannot_be_is_refused_at_its_place(
    body: dict[str, Any], status: int, pointer: str, owner: APIClient, cast: Cast
) -> None:
    answer = owner.post(PATH, {"block": str(cast.ours.block.pk), **body}, format="json")
    assert answer.status_code == status
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_whoever_reads_the_schedule_may_ask(cast: Cast) -> None:
    for caller in (
        client_of(cast.worker),
        client_of(cast.adviser),
        client_with(cast.ours.farm, "schedule:read"),
    ):
        assert ask(caller, cast.ours.block, 60).status_code == 200


def test_staff_who_see_the_block_but_not_its_schedule_may_not(cast: Cast) -> None:
    answer = ask(client_of(cast.staff), cast.ours.block, 60)
    assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")


# Compared with the logs --------------------------------------------------------------------------


def test_what_was_taken_off_is_held_against_the_rule(owner: APIClient, cast: Cast) -> None:
    details = {"shoots_before_cm": [60, 60, 60, 20], "shoots_removed_cm": [35, 20, 55, 20]}
    log = prune(cast.ours.block, day(3, 8), details=details)
    (row,) = compare(owner, cast.ours.farm)
    assert (row["task_log"], row["done_on"], row["shoots"]) == (str(log.pk), "2026-03-08", 4)
    assert (row["as_advised"], row["less"], row["more"], row["weak"]) == (2, 1, 1, 1)
    assert row["removed_share"] == 0.65
    assert row["advised_least_share"] == pytest.approx((20 + 90) / 200)
    assert row["advised_most_share"] == pytest.approx((20 + 120) / 200)


def test_a_log_that_tells_only_of_lengths_before_is_compared_with_nothing(
    owner: APIClient, cast: Cast
) -> None:
    prune(cast.ours.block, day(3, 8), details={"shoots_before_cm": [60, 0]})
    (row,) = compare(owner, cast.ours.farm)
    assert (row["shoots"], row["removed_share"], row["as_advised"]) == (1, None, None)
    assert row["reason"].startswith("The log does not say what was taken off.")
    assert row["advised_least_share"] == 0.5


def test_logs_of_other_seasons_blocks_and_kinds_are_left_out(owner: APIClient, cast: Cast) -> None:
    details = {"shoots_before_cm": [60], "shoots_removed_cm": [35]}
    other = plant_block(cast.ours.farm, "S2")
    prune(cast.ours.block, day(3, 8, 2025), details=details)
    prune(cast.ours.block, day(3, 8), details={"method": "heading"})
    prune(cast.ours.block, day(3, 9), details={"shoots_before_cm": [0]})
    prune(cast.ours.block, day(3, 10), details=details, retired_on=day(3, 11))
    prune(other, day(3, 8), details=details)
    assert [row["block_code"] for row in compare(owner, cast.ours.farm)] == ["S2"]
    assert compare(owner, cast.ours.farm, block=str(cast.ours.block.pk)) == []
    assert [row["done_on"] for row in compare(owner, cast.ours.farm, season="2025")] == [
        "2025-03-08"
    ]
