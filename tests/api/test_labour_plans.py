"""The pollination plan as it is asked for: blocks, crew, tables, and what is refused."""

import csv
import datetime as dt
import io
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from planning.models import SpeciesFigure
from planning.services.schedules import rebuild_schedule
from planning.services.stage_forecasts import rebuild_forecasts
from records.models import Farm
from tests.cast import Cast, client_of, client_with, make_species
from tests.planning.schedules import day, plant_block, see

pytestmark = pytest.mark.django_db
PATH = "/api/v1/labour-plans"
TODAY = day(5, 13)


@pytest.fixture(autouse=True)
def in_bloom(cast: Cast, settings: Any) -> Farm:
    """Our farm on the day after first bloom, with counted flowers and a block without plants."""
    settings.AS_OF = TODAY
    farm = cast.ours.farm
    Farm.objects.filter(pk=farm.pk).update(latitude="32.7", longitude="-17.0")
    SpeciesFigure.objects.create(
        farm=farm, species=make_species(), name="flowers-per-tree", value=300, source="own count"
    )
    see(cast.ours.block, "60", day(5, 12))
    rebuild_forecasts(farm.pk, TODAY)
    return farm


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def asked(client: APIClient, cast: Cast, **query: Any) -> Any:
    answer = client.get(PATH, {"farm": str(cast.ours.farm.pk), **query})
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_visits_come_with_flowers_hours_and_people(owner: APIClient, cast: Cast) -> None:
    found = asked(owner, cast, crew_size=1)
    (block,) = found["results"]
    assert (block["block_code"], block["species"], block["trees"]) == ("N1", "sugar-apple", 1)
    assert (block["first_bloom_on"], block["bloom_is_seen"]) == ("2026-05-12", True)
    assert block["flowers_in_bloom"] == 300
    visits = block["visits"]
    assert [visit["number"] for visit in visits] == [1, 2, 3, 4, 5]
    for visit in visits:
        assert 0 < visit["flowers"] == visit["flowers_in_reach"] < 60
        assert visit["donor_flowers"] == pytest.approx(visit["flowers"] / 2, abs=1)
        assert (visit["people"], visit["worker_sessions"]) == (1, 1)
    assert "150 flowers an hour and a walk of 1 min a tree" in block["method"]
    assert {figure["name"] for figure in block["inputs"]} >= {"visits", "flowers-per-tree"}
    assert [each["on"] for each in block["crew_days"]] == [visit["on"] for visit in visits]
    crew = found["crew"]
    assert (crew["fits"], crew["people_needed"], crew["visits"]) == (True, 1, 5)
    assert crew["flowers"] == pytest.approx(sum(visit["flowers"] for visit in visits), abs=3)
    assert crew["reason"] == "One person can make every visit on its best date."


def test_visits_lie_as_scheduled_where_asked_and_are_compared(owner: APIClient, cast: Cast) -> None:
    rebuild_schedule(cast.ours.farm.pk, TODAY)
    (best,) = asked(owner, cast)["results"]
    assert best["reasons"]["schedule"].startswith("The schedule has the next visit on 13 May;")
    (scheduled,) = asked(owner, cast, dates="scheduled")["results"]
    # One day after first bloom, then every three days: the rule's figures.
    assert [visit["on"] for visit in scheduled["visits"]] == [
        str(day(5, number)) for number in (13, 16, 19, 22, 25)
    ]
    assert "schedule" not in scheduled["reasons"]
    assert scheduled["flowers"] < best["flowers"]


def test_no_crew_is_told_how_many_to_add_and_what_is_lost(owner: APIClient, cast: Cast) -> None:
    crew = asked(owner, cast, crew_size=0)["crew"]
    assert (crew["crew_size"], crew["fits"], crew["add"]) == (0, False, 1)
    (drop,) = crew["drop"]
    assert (drop["block_code"], drop["visits_planned"], drop["visits_made"]) == ("N1", 5, 0)
    assert drop["flowers"] == crew["flowers"]
    assert drop["fruit"] == pytest.approx(drop["flowers"] * 0.9 * 0.75, abs=1)


def test_the_farms_crew_is_used_unless_the_asker_says(owner: APIClient, cast: Cast) -> None:
    assert asked(owner, cast)["crew"]["fits"] is None
    body = {"farm": str(cast.ours.farm.pk), "crew_size": 4}
    assert owner.post("/api/v1/schedule-settings", body, format="json").status_code == 201
    assert asked(owner, cast)["crew"]["crew_size"] == 4


def test_bagging_takes_minutes_of_its_own(owner: APIClient, cast: Cast) -> None:
    (plain,) = asked(owner, cast)["results"]
    (bagged,) = asked(owner, cast, bag_percent=50)["results"]
    assert {visit["bag_minutes"] for visit in plain["visits"]} == {0}
    assert all(visit["bag_minutes"] > 0 for visit in bagged["visits"])
    assert [v["minutes"] for v in plain["visits"]] == [v["minutes"] for v in bagged["visits"]]


def test_a_table_has_a_line_a_visit(owner: APIClient, cast: Cast) -> None:
    answer = owner.get(PATH, {"farm": str(cast.ours.farm.pk), "format": "csv"})
    lines = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [line["number"] for line in lines] == ["1", "2", "3", "4", "5"]
    assert {line["block_code"] for line in lines} == {"N1"}
    assert all(dt.date.fromisoformat(line["on"]) >= TODAY for line in lines)


def test_blocks_without_a_bloom_say_what_is_missing(owner: APIClient, cast: Cast) -> None:
    plant_block(cast.ours.farm, "NEW")
    rebuild_forecasts(cast.ours.farm.pk, TODAY)
    found = asked(owner, cast)
    block = next(row for row in found["results"] if row["block_code"] == "NEW")
    assert (block["visits"], block["flowers"], block["first_bloom_on"]) == ([], None, None)
    assert block["reasons"]["first_bloom"].startswith("First bloom is not known.")
    assert found["crew"]["reason"].endswith("Not planned, as something is missing: NEW.")


def test_another_season_may_be_asked_for(owner: APIClient, cast: Cast) -> None:
    found = asked(owner, cast, season="2031")
    assert found["season_label"] == "2031"
    assert found["results"][0]["visits"] == []
    assert found["crew"]["reason"].startswith("No visit is still to be made.")


REFUSED = [
    ({"season": "next"}, "season", 400),
    ({"season": "0000"}, "season", 400),
    ({"crew_size": "many"}, "crew_size", 400),
    ({"crew_size": "-1"}, "crew_size", 400),
    ({"bag_percent": "101"}, "bag_percent", 400),
    ({"pace": "row"}, "pace", 400),
    ({"blocks": "N1"}, "blocks", 400),
    ({"blocks": str(uuid.uuid4())}, "blocks", 422),
    ({"rows": "4"}, "rows", 400),
]


@pytest.mark.parametrize(("query", "parameter", "status"), REFUSED)
def test_what_makes_no_sense_is_refused_by_name(
    query: dict[str, str], parameter: str, status: int, owner: APIClient, cast: Cast
) -> None:
    answer = owner.get(PATH, {"farm": str(cast.ours.farm.pk), **query})
    assert answer.status_code == status
    assert [error["parameter"] for error in answer.json()["errors"]] == [parameter]


def test_a_farm_must_be_named(owner: APIClient) -> None:
    assert owner.get(PATH).status_code == 400


def test_another_farms_block_is_no_block_of_this_farm(owner: APIClient, cast: Cast) -> None:
    query = {"farm": str(cast.ours.farm.pk), "blocks": str(cast.neighbour.block.pk)}
    answer = owner.get(PATH, query)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["detail"] == "There is no such block on this farm."


def test_a_schedule_app_reads_it(cast: Cast) -> None:
    assert asked(client_with(cast.ours.farm, "schedule:read"), cast)["results"]


def test_ten_blocks_cost_as_many_queries_as_one(owner: APIClient, cast: Cast) -> None:
    def queries() -> int:
        rebuild_forecasts(cast.ours.farm.pk, TODAY)
        with CaptureQueriesContext(connection) as seen:
            asked(owner, cast, crew_size=2)
        return len(seen)

    few = queries()
    for number in range(10):
        see(plant_block(cast.ours.farm, f"B{number}"), "60", day(5, 12))
    assert queries() == few <= 32
