"""Closing a season: what speaks against it, what is kept, and what has changed since."""

import datetime as dt
from typing import Any

import pytest
from django.apps import apps
from rest_framework.test import APIClient

from planning.compute.bases import Basis
from planning.compute.harvest_table import Asked, Key
from planning.models import ClosedKilos as KeptKilos
from planning.models import ClosedSeason
from planning.queries.harvest_table import harvest_table
from planning.queries.kilo_tables import ClosedKilos, LiveKilos
from planning.queries.kilos import whose_of
from planning.services.closed_seasons import close_season
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import (
    CoOpGrade,
    GradeMapping,
    HarvestImport,
    HarvestWeight,
    SeasonStart,
)
from tests.cast import Cast, client_of, client_with, make_cast, make_cultivar
from tests.planning.ground import TODAY, receive, weigh
from tests.planning.mixed_co_op import Mixed, make_mixed

pytestmark = pytest.mark.django_db
PATH = "/api/v1/closed-seasons"
YEAR = 2025


def closed(mixed: Mixed, year: int = YEAR) -> ClosedSeason:
    season = ClosedSeason(co_op=mixed.co_op, season_year=year)
    return close_season(season, despite=True, today_in=lambda _: TODAY)


# What is kept ------------------------------------------------------------------------------------


@pytest.fixture(params=Basis)
def mixed(request: pytest.FixtureRequest) -> Mixed:
    mixed = make_mixed(20260713, basis=request.param)
    for farm in mixed.farms:
        rebuild_farm(farm.pk, TODAY)
    rebuild_co_op(mixed.co_op.pk, lambda _: TODAY)
    return mixed


GROUPINGS: list[tuple[Key, ...]] = [
    (),
    (Key.MEMBER,),
    (Key.MEMBER, Key.CULTIVAR),
    (Key.BLOCK, Key.SEASON),
    (Key.SPECIES, Key.GRADE),
    (Key.FARM_GRADE, Key.WEEK),
    (Key.MONTH, Key.CROP),
]


def tables(mixed: Mixed, season: ClosedSeason) -> list[tuple[Any, Any]]:
    """Each grouping as closed and as it is now."""
    sources = ClosedKilos(closed=season), LiveKilos(whose=whose_of(mixed.co_op))
    found = []
    for keys in GROUPINGS:
        asked = Asked(keys=keys, year=season.season_year)
        found.append(tuple(harvest_table(source, asked) for source in sources))
    return found


def in_order(rows: Any) -> list[Any]:
    return sorted(rows, key=lambda row: (str(row.key), row.basis))


def test_a_season_just_closed_is_in_every_grouping_as_it_was(mixed: Mixed) -> None:
    for as_closed, live in tables(mixed, closed(mixed)):
        assert in_order(as_closed.rows) == in_order(live.rows)
        assert as_closed.totals == live.totals
        assert as_closed.records == live.records
        assert live.rows


def test_days_of_a_closed_season_are_found_in_it(mixed: Mixed) -> None:
    season, live = closed(mixed), LiveKilos(whose=whose_of(mixed.co_op))
    asked = Asked(
        keys=(Key.MEMBER,),
        year=YEAR,
        first_on=dt.date(2025, 7, 1),
        last_on=dt.date(2025, 12, 31),
        basis=Basis.RECEIVED,
    )
    kept = harvest_table(ClosedKilos(closed=season), asked)
    assert in_order(kept.rows) == in_order(harvest_table(live, asked).rows)


def test_nothing_that_changes_later_changes_a_closed_season(mixed: Mixed) -> None:
    season = closed(mixed)
    before = [in_order(as_closed.rows) for as_closed, _ in tables(mixed, season)]
    HarvestWeight.objects.update(net_g=7)
    mixed.co_op.basis = Basis.PICKED
    mixed.co_op.save()
    GradeMapping.objects.all().delete()
    for farm in mixed.farms:
        SeasonStart.objects.create(farm=farm, applies_from=dt.date(2024, 2, 1), month=10)
    rebuild_co_op(mixed.co_op.pk, lambda _: TODAY)
    assert [in_order(as_closed.rows) for as_closed, _ in tables(mixed, season)] == before


def test_another_season_is_not_kept(mixed: Mixed) -> None:
    season = closed(mixed)
    table = harvest_table(ClosedKilos(closed=season), Asked(keys=(Key.SEASON,), year=YEAR))
    assert {row.key for row in table.rows} == {(YEAR,)}


# Over the API ------------------------------------------------------------------------------------


@pytest.fixture
def cast() -> Cast:
    """A past season of our farm: weighed, and received by the co-op."""
    cast = make_cast()
    first = CoOpGrade.objects.create(co_op=cast.co_op, code="First", is_marketable=True)
    GradeMapping.objects.create(
        farm=cast.ours.farm, grade=cast.ours.grade, co_op_grade=first, applies_from="2020-01-01"
    )
    cultivar = make_cultivar()
    weigh(cast.ours.block, "2025-09-10", 30, cultivar=cultivar, grade=cast.ours.grade)
    weigh(cast.ours.block, "2025-09-11", 10, cultivar=cultivar)
    receive(cast.ours.farm, "2025-09-11", 39.5, cultivar=cultivar)
    rebuild_farm(cast.ours.farm.pk, TODAY)
    rebuild_co_op(cast.co_op.pk, lambda _: TODAY)
    return cast


@pytest.fixture
def staff(cast: Cast) -> APIClient:
    return client_of(cast.staff)


def body(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {"co_op": str(cast.co_op.pk), "season_year": 2025, **changes}


def closing(cast: Cast, staff: APIClient, **changes: Any) -> Any:
    return staff.post(PATH, body(cast, **changes), format="json")


def harvest(cast: Cast, staff: APIClient, **query: Any) -> Any:
    return staff.get(f"/api/v1/co-ops/{cast.co_op.pk}/harvest", {"season": "2025", **query})


def test_a_season_is_closed_by_whom_and_when(cast: Cast, staff: APIClient) -> None:
    answer = closing(cast, staff, note="As the board agreed.")
    assert answer.status_code == 201, answer.json()
    season = answer.json()
    assert (season["closed_by"], season["basis"]) == (str(cast.staff.pk), "picked")
    assert (season["note"], season["objections"]) == ("As the board agreed.", [])
    assert staff.get(f"{PATH}/{season['id']}").json() == season


def test_a_closed_season_answers_as_closed(cast: Cast, staff: APIClient) -> None:
    assert harvest(cast, staff).json()["as"] == "live"
    season = closing(cast, staff).json()
    HarvestWeight.objects.filter(picked_on="2025-09-10").update(net_g=31_000)
    answers = {name: harvest(cast, staff, **{"as": name}).json() for name in ("closed", "live")}
    default = harvest(cast, staff).json()
    assert (default["as"], default["results"]) == ("closed", answers["closed"]["results"])
    assert default["closed_at"][:19] == season["closed_at"][:19]
    assert [answers[name]["results"][0]["net_kg"] for name in answers] == [40.0, 41.0]
    assert answers["closed"]["results"][0]["bearing_trees"] == 1


def test_what_changed_since_is_told_group_by_group(cast: Cast, staff: APIClient) -> None:
    season = closing(cast, staff).json()
    path = f"{PATH}/{season['id']}/differences"
    assert staff.get(path).json() == {"results": []}
    HarvestWeight.objects.filter(picked_on="2025-09-10").update(net_g=31_000)
    weigh(cast.ours.block, "2025-09-25", 5)
    rows = staff.get(path, {"group_by": "week"}).json()["results"]
    assert [
        (row["week_starts_on"], row["closed_net_kg"], row["now_net_kg"], row["more_net_kg"])
        for row in rows
    ] == [("2025-09-08", 40.0, 41.0, 1.0), ("2025-09-22", 0.0, 5.0, 5.0)]
    assert rows[0]["more_marketable_kg"] == 1.0
    (row,) = staff.get(path).json()["results"]
    assert (row["member_code"], row["more_net_kg"]) == ("OURS", 6.0)
    table = staff.get(path, {"format": "csv"}).content.decode().splitlines()
    assert "closed_net_kg,now_net_kg,more_net_kg" in table[0]
    assert len(table) == 2
    assert staff.get(path, {"county": "x"}).status_code == 400


def test_a_season_is_closed_once(cast: Cast, staff: APIClient) -> None:
    assert closing(cast, staff).status_code == 201
    again = closing(cast, staff)
    assert (again.status_code, again.json()["code"]) == (409, "conflict")
    season = ClosedSeason.objects.get()
    for method in ("patch", "put", "delete"):
        assert getattr(staff, method)(f"{PATH}/{season.pk}", {}).status_code == 405


def test_a_season_without_kilos_is_not_closed(cast: Cast, staff: APIClient) -> None:
    refused = closing(cast, staff, season_year=2022)
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "/season_year"
    assert not ClosedSeason.objects.exists()


def speaks_against(cast: Cast, staff: APIClient, season: str = "2025") -> dict[str, str]:
    answer = staff.get(f"/api/v1/co-ops/{cast.co_op.pk}/closing", {"season": season})
    assert answer.status_code == 200, answer.json()
    return {row["code"]: row["text"] for row in answer.json()["results"]}


def test_what_speaks_against_closing_is_told_beforehand(cast: Cast, staff: APIClient) -> None:
    assert speaks_against(cast, staff) == {}
    weigh(cast.ours.block, "2025-09-12", 1, grade=cast.ours.cull)
    HarvestImport.objects.create(
        farm=cast.ours.farm, kind="harvest-weights", state="question", file_name="weights.csv"
    )
    assert speaks_against(cast, staff)["grades-unmapped"] == (
        "These grades count as none of the co-op's: OURS C."
    )
    assert speaks_against(cast, staff)["imports-unsettled"].startswith(
        "Not settled yet: 1 file of 1 member, the first sent on "
    )
    assert "season-running" in speaks_against(cast, staff, season="2100")


def test_what_speaks_against_closing_prevents_it(cast: Cast, staff: APIClient) -> None:
    weigh(cast.ours.block, "2025-09-12", 1, grade=cast.ours.cull)
    refused = closing(cast, staff)
    assert refused.status_code == 422
    (fault,) = refused.json()["errors"]
    assert (fault["pointer"], fault["code"]) == ("/despite", "objections")
    assert "OURS C" in fault["detail"]
    assert not KeptKilos.objects.exists()
    season = closing(cast, staff, despite=True).json()
    assert [each["code"] for each in season["objections"]] == ["grades-unmapped"]


def test_only_the_co_ops_staff_and_apps_close_seasons(cast: Cast) -> None:
    callers = {
        "member": client_of(cast.ours.owner),
        "neighbour": client_of(cast.neighbour.owner),
        "reader": client_with(cast.co_op, "settlement:read"),
        "harvest app": client_with(cast.co_op, "harvest:write"),
    }
    for name, client in callers.items():
        assert closing(cast, client).status_code in {403, 422}, name
    assert not ClosedSeason.objects.exists()
    assert closing(cast, client_with(cast.co_op, "settlement:write")).status_code == 201
    season = ClosedSeason.objects.get()
    seen = {name: each.get(f"{PATH}/{season.pk}").status_code for name, each in callers.items()}
    assert seen == {"member": 404, "neighbour": 404, "reader": 200, "harvest app": 403}


def test_closing_is_in_the_history(cast: Cast, staff: APIClient) -> None:
    season = closing(cast, staff).json()
    events = apps.get_model("planning", "ClosedSeasonEvent")
    (event,) = events.objects.filter(pgh_obj_id=season["id"])
    assert (event.pgh_label, event.season_year) == ("insert", 2025)


def test_as_closed_is_refused_where_nothing_is_closed(cast: Cast, staff: APIClient) -> None:
    refused = harvest(cast, staff, **{"as": "closed"})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["detail"] == "The season is not closed."
