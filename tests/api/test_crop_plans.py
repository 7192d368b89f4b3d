"""Plans for further crops: how they stand, what is to be expected of them, what is refused."""

import csv
import io
from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.services.stage_forecasts import rebuild_forecasts
from records.models import Block, Crop, Farm
from tests.cast import Cast, client_of
from tests.planning.schedules import day, pick, plant_block, prune, see

pytestmark = pytest.mark.django_db
PATH = "/api/v1/crop-plans"
TODAY = day(6, 1)


@pytest.fixture(autouse=True)
def in_june(cast: Cast, settings: Any) -> Farm:
    settings.AS_OF = TODAY
    farm = cast.ours.farm
    Farm.objects.filter(pk=farm.pk).update(latitude="32.7", longitude="-17.0")
    return farm


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


@pytest.fixture
def block(cast: Cast) -> Block:
    return cast.ours.block


def body(block: Block, **given: Any) -> dict[str, Any]:
    return {
        "farm": str(block.farm_id),
        "block": str(block.pk),
        "planned_on": "2026-06-15",
        **given,
    }


def plan(owner: APIClient, block: Block, **given: Any) -> dict[str, Any]:
    answer = owner.post(PATH, body(block, **given), format="json")
    assert answer.status_code == 201, answer.content
    found: dict[str, Any] = answer.json()
    return found


def shown(owner: APIClient, plan_id: str) -> dict[str, Any]:
    found: dict[str, Any] = owner.get(f"{PATH}/{plan_id}").json()
    return found


def test_a_plan_is_still_to_come_until_its_work_is_recorded(
    owner: APIClient, block: Block, settings: Any
) -> None:
    made = plan(owner, block)
    assert (made["name"], made["work"], made["state"]) == ("second", "strip-and-prune", "planned")
    assert (made["done_on"], made["done_by"]) == (None, None)
    settings.AS_OF = day(6, 15)
    log = prune(block, day(6, 14))
    done = shown(owner, made["id"])
    assert (done["state"], done["done_on"], done["done_by"]) == ("done", "2026-06-14", str(log.pk))
    log.delete()
    assert shown(owner, made["id"])["state"] == "planned"


def test_a_plan_that_nobody_did_is_missed_and_promises_nothing(
    owner: APIClient, block: Block, settings: Any
) -> None:
    made = plan(owner, block)
    settings.AS_OF = day(8, 1)
    missed = shown(owner, made["id"])
    assert (missed["state"], missed["stages"], missed["first_bloom_on"]) == ("missed", [], None)
    assert missed["reason"].startswith("No pruning or leaf stripping is recorded")


def test_bloom_and_harvest_follow_the_blocks_earlier_further_crops(
    owner: APIClient, block: Block
) -> None:
    """Cherimoya in Almeria bloomed in July after work in June, and was picked about 50 days after
    the ordinary crop (Soler & Cuevas 2008); the days here are the block's own."""
    for year in (2023, 2024, 2025):
        opened_on = day(6, 10, year)
        prune(block, opened_on)
        second = Crop.objects.create(
            farm=block.farm,
            block=block,
            name="second",
            opened_by="pruning",
            opened_on=opened_on,
            bloom_began_on=day(7, 10, year),
        )
        pick(block, day(11, 20, year), crop=second, crop_chosen_by="person")
    made = plan(owner, block)
    by_stage = {stage["stage"]: stage for stage in made["stages"]}
    bloom = by_stage["first-bloom"]
    assert made["first_bloom_on"] == bloom["on_date"] == "2026-07-15"
    assert bloom["low_on"] <= bloom["on_date"] <= bloom["high_on"]
    assert made["first_picking_on"] is not None
    assert made["first_picking_on"] > bloom["on_date"]


def test_without_any_history_it_says_what_is_missing(owner: APIClient, cast: Cast) -> None:
    made = plan(owner, plant_block(cast.ours.farm, "NEW", "custard-apple"))
    for stage in made["stages"]:
        assert stage["reason"]
        assert stage["on_date"] or stage["method"] in {"not-known", "does-not-apply"}


def test_once_the_crop_is_there_its_own_forecasts_are_shown(
    owner: APIClient, block: Block, settings: Any
) -> None:
    made = plan(owner, block)
    settings.AS_OF = day(7, 13)
    prune(block, day(6, 14))
    Crop.objects.create(
        farm=block.farm, block=block, name="second", opened_by="pruning", opened_on=day(6, 14)
    )
    see(block, "60", day(7, 12))
    rebuild_forecasts(block.farm_id, day(7, 13))
    bloom = next(
        stage for stage in shown(owner, made["id"])["stages"] if stage["stage"] == "first-bloom"
    )
    assert (bloom["observed_on"], bloom["method"]) == ("2026-07-12", "observed")


def test_plans_are_listed_as_a_table_too(owner: APIClient, block: Block) -> None:
    plan(owner, block)
    plan(owner, block, planned_on="2026-07-01", name="third", work="leaf-stripping")
    answer = owner.get(PATH, {"format": "csv", "ordering": "planned_on"})
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [(row["name"], row["state"]) for row in rows] == [
        ("second", "planned"),
        ("third", "planned"),
    ]
    late = owner.get(PATH, {"planned_on_after": "2026-06-20"}).json()["results"]
    assert [row["name"] for row in late] == ["third"]


REFUSED = [
    ({"name": "Main"}, "/name"),  # the year's own pruning opens it
    ({"name": ""}, "/name"),
    ({"work": "weeding"}, "/work"),
    ({"planned_on": "15.6.2026"}, "/planned_on"),
    ({"state": "done"}, "/state"),  # follows from the records
]


@pytest.mark.parametrize(("given", "pointer"), REFUSED)
def test_what_cannot_be_planned_is_refused_by_name(
    given: dict[str, Any], pointer: str, owner: APIClient, block: Block
) -> None:
    answer = owner.post(PATH, body(block, **given), format="json")
    assert answer.status_code in {400, 422}
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_two_plans_of_one_day_are_one_too_many(owner: APIClient, block: Block) -> None:
    plan(owner, block)
    answer = owner.post(PATH, body(block, name="third"), format="json")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/planned_on"


def test_a_plan_may_be_moved_and_dropped(owner: APIClient, block: Block) -> None:
    made = plan(owner, block)
    address = f"{PATH}/{made['id']}"
    moved = owner.patch(address, {"planned_on": "2026-06-22"}, format="json").json()
    assert moved["planned_on"] == "2026-06-22"
    assert owner.delete(address).status_code == 204
    assert owner.get(PATH).json()["results"] == []
