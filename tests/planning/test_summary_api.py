"""`season-summaries` over the API: filters, figures as printed, and tables."""

import csv
import io
from typing import Any

import pytest

from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from tests.cast import Cast, client_of, client_with, make_cast
from tests.planning.ground import TODAY, make_block, weigh

pytestmark = pytest.mark.django_db
PATH = "/api/v1/season-summaries"


@pytest.fixture
def cast() -> Cast:
    """Our farm's seasons start in July, the neighbour's in January."""
    cast = make_cast()
    cast.ours.farm.season_start_month = 7
    cast.ours.farm.save()
    for place in (cast.ours, cast.neighbour):
        weigh(place.block, "2026-09-10", 12.3456, fruit_count=40)
        weigh(make_block(place.farm, "=1+1"), "2025-09-10", 1)
        rebuild_farm(place.farm.pk, TODAY)
    rebuild_co_op(cast.co_op.pk, lambda _: TODAY)
    return cast


def listed(client: Any, **query: Any) -> list[dict[str, Any]]:
    answer = client.get(PATH, query)
    assert answer.status_code == 200, answer.json()
    rows: list[dict[str, Any]] = answer.json()["results"]
    return rows


def test_figures_are_kilograms_rounded_on_their_way_out(cast: Cast) -> None:
    (row,) = listed(client_of(cast.ours.owner), level="farm", season="2026")
    assert (row["net_kg"], row["mean_fruit_g"], row["kg_per_tree"]) == (12.346, 308.6, 12.346)
    assert row["spread"] is None
    assert row["reasons"]["spread"] == "spread between trees: no weighing is of exactly one tree"
    assert row["weeks"][0]["week_starts_on"] == "2026-09-07"


@pytest.mark.parametrize(
    ("season", "labels"),
    [
        ("2026", {"2026/27"}),  # by the year it starts in
        ("2026/27", {"2026/27"}),  # by its name
        ("2026/28", set()),  # no such season
        ("2019", set()),  # nothing picked
    ],
)
def test_a_season_is_found_by_year_or_name(cast: Cast, season: str, labels: set[str]) -> None:
    found = listed(client_of(cast.ours.owner), level="farm", season=season)
    assert {row["season_label"] for row in found} == labels


def test_the_farm_filter_finds_a_co_ops_rows_about_the_farm(cast: Cast) -> None:
    found = listed(client_of(cast.staff), farm=str(cast.ours.farm.pk))
    assert {row["level"] for row in found} == {"member", "member-cultivar"}
    assert {row["member_code"] for row in found} == {"OURS"}


@pytest.mark.parametrize("query", [{"season": "twenty"}, {"level": "county"}])
def test_a_filter_that_makes_no_sense_is_refused(cast: Cast, query: dict[str, str]) -> None:
    assert client_of(cast.ours.owner).get(PATH, query).status_code == 400


def test_summaries_are_read_only(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    (row,) = listed(client, level="farm", season="2026")
    assert client.post(PATH, {}).status_code == 405
    assert client.patch(f"{PATH}/{row['id']}", {"net_kg": 1}).status_code == 405
    assert client.delete(f"{PATH}/{row['id']}").status_code == 405


def test_an_app_with_the_harvest_scope_reads_them(cast: Cast) -> None:
    assert listed(client_with(cast.ours.farm, "harvest:read"), level="farm")
    answer = client_with(cast.ours.farm, "schedule:read").get(PATH)
    assert answer.json()["code"] == "insufficient-scope"


def test_a_table_is_to_be_had_with_cells_that_no_spreadsheet_runs(cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(PATH, {"format": "csv", "level": "block"})
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert {row["block_code"] for row in rows} == {"N1", "'=1+1"}
    assert {row["net_kg"] for row in rows if row["season_year"] == "2026"} == {"12.346"}
