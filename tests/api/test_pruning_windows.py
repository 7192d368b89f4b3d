"""When each block is best pruned: from leaf-out, else the farm's calendar."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import TaskRule
from planning.services.stage_forecasts import rebuild_forecasts
from records.models import Farm
from tests.cast import Cast, client_of, make_species
from tests.planning.schedules import day, plant_block, prune, see

pytestmark = pytest.mark.django_db
PATH = "/api/v1/pruning-windows"
TODAY = day(2, 20)


@pytest.fixture
def farm(cast: Cast, settings: Any) -> Farm:
    """Our farm in the northern subtropics, with a rule of dates for its sugar apple."""
    settings.AS_OF = TODAY
    farm = cast.ours.farm
    Farm.objects.filter(pk=farm.pk).update(latitude="32.7", longitude="-17.0")
    farm.refresh_from_db()
    TaskRule.objects.create(
        farm=farm,
        species=make_species(),
        code="pruning",
        kind="pruning",
        title="Pruning",
        noun="pruning",
        trigger="dates",
        opens_on_day="02-22",
        best_on_day="03-07",
        closes_on_day="03-21",
        because="Prune just before leaf-out.",
    )
    return farm


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def windows(owner: APIClient, farm: Farm, **query: str) -> dict[str, Any]:
    rebuild_forecasts(farm.pk, TODAY)
    answer = owner.get(PATH, {"farm": str(farm.pk), **query})
    assert answer.status_code == 200, answer.content
    return {row["block_code"]: row for row in answer.json()["results"]}


def days(row: dict[str, Any]) -> list[str | None]:
    return [row["opens_on"], row["best_on"], row["latest_on"]]


def test_without_leaf_out_the_farms_calendar_holds(owner: APIClient, farm: Farm) -> None:
    row = windows(owner, farm)["N1"]
    # Northern subtropics: about the first week of March (common practice, no source).
    assert row["method"] == "calendar"
    assert days(row) == ["2026-02-22", "2026-03-07", "2026-03-21"]
    assert "the farm's calendar holds" in row["reason"]
    assert row["pruned_on"] is None


def test_leaf_out_of_earlier_seasons_makes_the_window(
    owner: APIClient, farm: Farm, cast: Cast
) -> None:
    for year in (2023, 2024, 2025):
        see(cast.ours.block, "10", day(3, 18, year))
    row = windows(owner, farm)["N1"]
    assert row["method"] == "forecast-leaf-out"
    assert row["best_on"] == "2026-03-15"
    assert row["latest_on"] == "2026-03-25"
    assert row["opens_on"] <= "2026-03-04"
    assert {figure["name"] for figure in row["inputs"]} == {
        "pruning-opens-before-leaf-out",
        "pruning-best-before-leaf-out",
        "pruning-latest-after-leaf-out",
    }


def test_leaf_out_that_was_seen_is_what_counts(owner: APIClient, farm: Farm, cast: Cast) -> None:
    see(cast.ours.block, "10", day(2, 19))
    row = windows(owner, farm)["N1"]
    assert row["method"] == "seen-leaf-out"
    assert days(row) == ["2026-02-05", "2026-02-16", "2026-02-26"]


def test_a_pruning_on_record_is_shown(owner: APIClient, farm: Farm, cast: Cast) -> None:
    prune(cast.ours.block, day(2, 18))
    prune(cast.ours.block, day(2, 19, 2025))
    assert windows(owner, farm)["N1"]["pruned_on"] == "2026-02-18"


def test_soursop_has_no_window_and_says_why(owner: APIClient, farm: Farm) -> None:
    plant_block(farm, "SOUR", "soursop")
    row = windows(owner, farm)["SOUR"]
    assert (days(row), row["method"]) == ([None, None, None], "none")
    assert "does not apply" in row["reason"]


def test_a_block_without_plants_has_none_either(owner: APIClient, farm: Farm, cast: Cast) -> None:
    cast.ours.tree.delete()
    row = windows(owner, farm)["N1"]
    assert (days(row), row["species"]) == ([None, None, None], None)
    assert row["reason"].startswith("No trees or planting lines")


def test_another_season_has_its_own_days(owner: APIClient, farm: Farm) -> None:
    row = windows(owner, farm, season="2028")["N1"]
    assert (row["season_label"], row["best_on"]) == ("2028", "2028-03-07")


def test_ten_blocks_cost_as_many_queries_as_one(
    owner: APIClient, farm: Farm, django_assert_max_num_queries: Any
) -> None:
    for number in range(10):
        plant_block(farm, f"B{number}")
    windows(owner, farm)
    with django_assert_max_num_queries(19):
        assert len(owner.get(PATH, {"farm": str(farm.pk)}).json()["results"]) == 11
