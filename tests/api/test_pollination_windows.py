"""A farm's working hours by day and species, as growers' apps read them."""

import csv
import datetime as dt
import io
from typing import Any

import pytest
from rest_framework.test import APIClient

from planning.models import FlowerHours, ScheduleSetting
from records.models import (
    Cultivar,
    FruitCount,
    PollenBatch,
    PollinationRound,
    Species,
    StationUse,
    WeatherDay,
    WeatherStation,
)
from records.services import saving
from tests.cast import Cast, Place, client_of, client_with

ADDRESS = "/api/v1/pollination-windows"


@pytest.fixture
def ours(cast: Cast) -> Place:
    """Our farm has coordinates, in Madeira."""
    farm = cast.ours.farm
    farm.latitude, farm.longitude = "32.7", "-17.0"
    farm.save()
    return cast.ours


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def species(code: str) -> Species:
    return Species.objects.get(code=code)


def ask(client: APIClient, place: Place, code: str = "", **query: Any) -> Any:
    named = {"species": str(species(code).pk)} if code else {}
    return client.get(ADDRESS, {"farm": str(place.farm.pk), **named, **query})


def one(client: APIClient, place: Place, code: str, day: str = "2026-05-12") -> dict[str, Any]:
    answer = ask(client, place, code, **{"from": day, "to": day})
    assert answer.status_code == 200, answer.content
    (row,) = answer.json()["results"]
    return row


# What is answered --------------------------------------------------------------------------------


def test_a_day_of_sugar_apple_by_the_farms_clock_and_in_utc(owner: APIClient, ours: Place) -> None:
    row = one(owner, ours, "sugar-apple")
    assert row["sunrise"] == "2026-05-12T07:12:00+01:00"
    assert row["solar_noon"] == "2026-05-12T14:04:00+01:00"
    assert row["sunset"] == "2026-05-12T20:58:00+01:00"
    (session,) = row["brush"]["sessions"]
    assert session == {
        "starts_at": "2026-05-12T06:12:00Z",
        "ends_at": "2026-05-12T12:11:00Z",
        "starts_local": "2026-05-12T07:12:00+01:00",
        "ends_local": "2026-05-12T13:11:00+01:00",
        "minutes": 360,
        "flower_date": "2026-05-12",
        "if_shed": None,
    }
    assert row["brush_times"] == "07:12-13:11"
    assert row["brush"]["hours"] == "from sunrise to 53 minutes before solar noon"
    assert (row["brush"]["source_code"], row["brush"]["is_default"]) == ("paull-duarte-2011", True)
    assert row["gather"]["sessions"][0]["flower_date"] == "2026-05-11"
    assert "gather it from first light, 07:12." in row["gather"]["reason"]
    assert row["inputs"]["time_zone"] == "Atlantic/Madeira"


def test_atemoya_has_two_sessions_a_day_and_both_branches(owner: APIClient, ours: Place) -> None:
    row = one(owner, ours, "atemoya")
    assert row["brush_times"] == "07:12-09:46, 17:46-20:58"
    assert [each["flower_date"] for each in row["brush"]["sessions"]] == [
        "2026-05-11",
        "2026-05-12",
    ]
    branches = {(each["flower_date"], each["if_shed"]) for each in row["gather"]["sessions"]}
    assert branches == {("2026-05-11", "next-day"), ("2026-05-12", "same-day")}
    assert (row["weather"], row["weather_reason"]) == (None, "No weather is known for this day.")


def test_hours_follow_neither_summer_time_nor_its_end(owner: APIClient, ours: Place) -> None:
    """The clock goes back in the night to 25 October 2026."""
    before, after = (one(owner, ours, "cherimoya", f"2026-10-{day}") for day in (24, 25))
    assert before["brush_times"][:5] == "08:24"
    assert after["brush_times"][:5] == "07:24"
    assert [row["brush"]["sessions"][0]["starts_at"][11:16] for row in (before, after)] == [
        "07:24",
        "07:24",
    ]
    assert [row["sunset"][-6:] for row in (before, after)] == ["+01:00", "+00:00"]


def test_all_five_species_answer_for_a_fortnight_from_today(owner: APIClient, ours: Place) -> None:
    results = ask(owner, ours).json()["results"]
    assert len(results) == 15 * 5
    assert {row["species_code"] for row in results} == {
        "sugar-apple",
        "atemoya",
        "cherimoya",
        "soursop",
        "custard-apple",
    }
    assert (results[0]["day"], results[-1]["day"]) == ("2026-12-01", "2026-12-15")
    silent = [row for row in results if not row["brush"]["sessions"]]
    assert {row["species_code"] for row in silent} == {"custard-apple"}
    assert "No hours are published" in silent[0]["brush"]["reason"]
    weak = [row for row in results if row["brush"]["is_weak"]]
    assert {row["species_code"] for row in weak} == {"soursop"}
    assert "The source is weak" in weak[0]["brush"]["reason"]
    assert "web article" in weak[0]["brush"]["notes"][0]


def test_a_farm_without_coordinates_is_told_what_is_missing(owner: APIClient, cast: Cast) -> None:
    row = one(owner, cast.ours, "cherimoya")
    assert (row["sunrise"], row["brush"]["sessions"]) == (None, [])
    assert "Enter its latitude and longitude." in row["sun_reason"]
    assert row["brush"]["reason"] == row["own_counts"]["reason"] == row["sun_reason"]


def test_the_farms_own_hours_and_working_hours_hold(owner: APIClient, ours: Place) -> None:
    FlowerHours.objects.create(
        farm=ours.farm,
        species=species("custard-apple"),
        brush_from="sunrise",
        brush_from_minutes=30,
        brush_to="solar-noon",
        brush_to_minutes=0,
        source="Counted in 2025.",
    )
    ScheduleSetting.objects.create(farm=ours.farm, works_from=dt.time(8), works_until=dt.time(12))
    row = one(owner, ours, "custard-apple")
    assert row["brush_times"] == "08:00-12:00"
    assert (row["brush"]["is_own"], row["brush"]["source"]) == (True, "Counted in 2025.")
    assert row["inputs"]["works_from"] == "08:00:00"


def test_the_weather_used_and_its_cautions_are_told(owner: APIClient, ours: Place) -> None:
    station = WeatherStation.objects.create(
        farm=ours.farm, name="yard", time_zone="Atlantic/Madeira"
    )
    StationUse.objects.create(farm=ours.farm, station=station)
    read = WeatherDay.objects.create(
        farm=ours.farm, station=station, day="2026-05-12", tmax_c=33, humidity_percent=40
    )
    row = one(owner, ours, "sugar-apple")
    assert row["weather"] == {
        "kind": "observed",
        "forecast_on": None,
        "station": str(read.station_id),
        "station_name": "yard",
        "tmin_c": None,
        "tmax_c": 33.0,
        "humidity_percent": 40.0,
        "hours_read": 0,
    }
    told = {each["code"]: each["holds"] for each in row["cautions"]}
    assert told == {"hot-and-dry": True, "dry-weather": True, "pollen-life": True, "work": True}
    assert all(each["source"] for each in row["cautions"])


def test_a_table_has_a_line_for_each_day_and_species(owner: APIClient, ours: Place) -> None:
    query = {"from": "2026-05-12", "to": "2026-05-13", "format": "csv"}
    answer = ask(owner, ours, "atemoya", **query)
    assert answer["Content-Type"].startswith("text/csv")
    lines = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [line["day"] for line in lines] == ["2026-05-12", "2026-05-13"]
    assert lines[0]["brush_times"] == "07:12-09:46, 17:46-20:58"


def test_the_29th_of_february_is_a_day(owner: APIClient, ours: Place) -> None:
    answer = ask(owner, ours, "cherimoya", **{"from": "2028-02-28", "to": "2028-03-01"})
    assert [row["day"] for row in answer.json()["results"]] == [
        "2028-02-28",
        "2028-02-29",
        "2028-03-01",
    ]


# Own counts --------------------------------------------------------------------------------------


def pollinate(place: Place, kind: Species, hour: int, flowers: int, fruit: int, day: int) -> None:
    """A round with its hour by the clock, and what it set."""
    cultivar, _ = Cultivar.objects.get_or_create(name=f"Invented {kind.code}", species=kind)
    batch = saving.save(
        PollenBatch(
            farm=place.farm, collected_at=dt.datetime(2026, 5, day, 5, tzinfo=dt.UTC), stage="male"
        ),
        donor_cultivars=[cultivar],
    )
    round_ = saving.save(
        PollinationRound(
            farm=place.farm,
            block=place.block,
            cultivar=cultivar,
            method="brush",
            pollen_batch=batch,
            pollinated_on=dt.date(2026, 5, day),
            started_at=dt.time(hour),
            flowers=flowers,
        )
    )
    saving.save(
        FruitCount(
            farm=place.farm,
            block=place.block,
            counted_on=dt.date(2026, 6, day),
            kind="initial",
            counted="marked-flowers",
            flowers_looked_at=flowers,
            fruit=fruit,
        ),
        rounds=[round_],
    )


def test_own_counts_propose_other_hours_and_change_nothing(owner: APIClient, ours: Place) -> None:
    """Cherimoya within the hours that hold by default, against those of the late afternoon."""
    kind = species("cherimoya")
    for day in (11, 12):
        pollinate(ours, kind, 9, 50, 10, day)
        pollinate(ours, kind, 18, 50, 40, day)
    row = one(owner, ours, "cherimoya")
    counts = row["own_counts"]
    assert [(each["from_minutes"], each["fruit"], each["is_best"]) for each in counts["hours"]] == [
        (-360, 20, False),
        (180, 80, True),
    ]
    assert counts["within_hours"]["set_share"] == 0.2
    assert counts["proposal"] == {"source_code": None, "from_minutes": 180}
    assert "80 of 100 flowers set" in counts["reason"]
    assert row["brush"]["source_code"] == "paull-duarte-2011"


def test_counts_of_rounds_at_several_hours_or_without_one_are_left_out(
    owner: APIClient, ours: Place
) -> None:
    kind = species("cherimoya")
    pollinate(ours, kind, 9, 50, 10, 11)
    pollinate(ours, kind, 18, 50, 40, 12)
    early, late = PollinationRound.objects.order_by("started_at")
    FruitCount.objects.all()[0].rounds.set([early, late], through_defaults={"farm": ours.farm})
    late.started_at = None
    late.save()
    counts = one(owner, ours, "cherimoya")["own_counts"]
    assert counts["hours"] == []
    assert "give rounds their hour of start" in counts["reason"]


# Who may ask for what ----------------------------------------------------------------------------


def test_a_schedule_app_sees_the_hours_and_not_the_records_behind_them(ours: Place) -> None:
    row = one(client_with(ours.farm, "schedule:read"), ours, "atemoya")
    assert row["brush_times"] == "07:12-09:46, 17:46-20:58"
    assert (row["weather"], row["own_counts"]) == (None, None)
    assert "not yours to see" in row["weather_reason"]
    assert row["inputs"]["latitude"] is None


def test_a_farm_that_is_not_seen_does_not_exist(cast: Cast, ours: Place) -> None:
    answer = ask(client_of(cast.neighbour.owner), ours)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "farm"


@pytest.mark.parametrize(
    ("query", "status", "parameter", "code"),
    [
        ({"from": "2026-05-12", "to": "2026-05-11"}, 422, "to", "days-out-of-order"),
        ({"from": "2026-01-01", "to": "2026-04-03"}, 422, "to", "too-many-days"),
        ({"from": "2027-02-29"}, 400, "from", "invalid"),  # no such day
        ({"from": "03/04/2026"}, 400, "from", "invalid"),  # could be two days
        ({"from": "1850-01-01"}, 422, "from", "no-sun"),
        ({"to": "9999-12-31"}, 422, "to", "no-sun"),
        ({"species": "ylang-ylang"}, 422, "species", "does-not-exist"),
        ({"block": "x"}, 400, "block", "unknown-parameter"),
        ({"farm": ""}, 400, "farm", "required"),
    ],
)
def test_wrong_parameters_are_named(
    owner: APIClient, ours: Place, query: dict[str, str], status: int, parameter: str, code: str
) -> None:
    answer = ask(owner, ours, **query)
    assert answer.status_code == status
    (error,) = answer.json()["errors"]
    assert (error["parameter"], error["code"]) == (parameter, code)


def test_ninety_two_days_may_be_asked_for(owner: APIClient, ours: Place) -> None:
    answer = ask(owner, ours, "cherimoya", **{"from": "2026-01-01", "to": "2026-04-02"})
    assert len(answer.json()["results"]) == 92


def test_a_last_day_alone_is_enough(owner: APIClient, ours: Place) -> None:
    answer = ask(owner, ours, "cherimoya", to="2026-05-12")
    assert [row["day"] for row in answer.json()["results"]] == ["2026-05-12"]
