"""`degree-days`: sums by the farm's stations, their gaps, and what is refused."""

import datetime as dt
from typing import Any

import pytest
from rest_framework.test import APIClient

from records.models import WeatherStation
from tests.cast import Cast, client_of, client_with
from tests.planning.weather import foretell, make_station, observe

ADDRESS = "/api/v1/degree-days"
JUNE_1 = dt.date(2026, 6, 1)


@pytest.fixture
def station(cast: Cast, settings: Any) -> WeatherStation:
    settings.AS_OF = dt.date(2026, 6, 10)
    return make_station(cast.ours.farm)


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def ask(client: APIClient, cast: Cast, **query: Any) -> dict[str, Any]:
    whole = {"farm": str(cast.ours.farm.pk), "from": "2026-06-01", "to": "2026-06-05", "lower": 10}
    answer = client.get(ADDRESS, {**whole, **query})
    assert answer.status_code == 200, answer.content
    found: dict[str, Any] = answer.json()
    return found


def refusal(client: APIClient, cast: Cast, **query: Any) -> tuple[int, str, str]:
    whole = {"farm": str(cast.ours.farm.pk), "from": "2026-06-01", "to": "2026-06-05", "lower": 10}
    answer = client.get(ADDRESS, {**whole, **query})
    problem = answer.json()
    return answer.status_code, problem["errors"][0]["parameter"], problem["detail"]


def test_each_day_and_the_sum_so_far(owner: APIClient, cast: Cast, station: WeatherStation) -> None:
    observe(station, JUNE_1, [(20, 30), (14, 26)] + [(15, 25)] * 3)
    found = ask(owner, cast)
    assert [row["degree_days"] for row in found["results"]] == [15, 10, 10, 10, 10]
    assert [row["cumulative"] for row in found["results"]] == [15, 25, 35, 45, 55]
    assert (found["gaps"], found["warnings"]) == ([], [])
    assert found["inputs"]["method"] == "single-sine"


# Facts: highest 95, lowest 55, thresholds 50 and 88 F; computed independently with numpy.
IN_FAHRENHEIT = [
    ("single-sine", "horizontal", 23.734),
    ("single-sine", "vertical", 13.293),
    ("single-sine", "intermediate", 22.468),
    ("single-triangle", "horizontal", 24.388),
    ("average", "horizontal", 25),
    ("average-with-substitution", "horizontal", 21.5),
]


@pytest.mark.parametrize(("method", "cutoff", "expected"), IN_FAHRENHEIT)
def test_fahrenheit_is_of_thresholds_and_of_differences(
    owner: APIClient,
    cast: Cast,
    station: WeatherStation,
    method: str,
    cutoff: str,
    expected: float,
) -> None:
    """The weather is kept to a tenth of a degree Celsius: 55 F is 12.8 C."""
    observe(station, JUNE_1, [(12.8, 35.0)])
    found = ask(
        owner,
        cast,
        to="2026-06-01",
        lower=50,
        upper=88,
        unit="F",
        method=method,
        cutoff=cutoff,
    )
    assert found["results"][0]["degree_days"] == pytest.approx(expected, abs=0.06)


def test_a_missing_day_is_named_and_ends_the_sum(
    owner: APIClient, cast: Cast, station: WeatherStation
) -> None:
    observe(station, JUNE_1, [(15, 25), (15, 25), (None, None), (15, None), (15, 25)])
    found = ask(owner, cast)
    assert [row["cumulative"] for row in found["results"]] == [10, 20, None, None, None]
    assert found["results"][4]["degree_days"] == 10
    assert found["gaps"] == [{"first_on": "2026-06-03", "last_on": "2026-06-04", "days": 2}]
    assert found["warnings"] == [
        "The sum is not known from 2026-06-03 on: a temperature is missing there."
    ]


def test_a_short_gap_is_filled_when_asked_for_and_reported(
    owner: APIClient, cast: Cast, station: WeatherStation
) -> None:
    observe(station, JUNE_1, [(15, 25), (None, None), (19, 29), (15, 25), (15, 25)])
    found = ask(owner, cast, interpolate_days=1)
    assert found["results"][1]["tmin_c"] == 17
    assert [row["is_interpolated"] for row in found["results"][:3]] == [False, True, False]
    assert found["results"][4]["cumulative"] == 10 + 12 + 14 + 10 + 10
    assert found["interpolated"] == [{"first_on": "2026-06-02", "last_on": "2026-06-02", "days": 1}]
    assert found["gaps"] == []


def test_a_day_to_come_goes_by_its_forecast_and_not_by_normals(
    owner: APIClient, cast: Cast, station: WeatherStation
) -> None:
    for year in (2023, 2024, 2025):
        observe(station, dt.date(year, 6, 1), [(15, 25)] * 30)
    observe(station, dt.date(2026, 6, 9), [(15, 25)] * 2)
    foretell(station, dt.date(2026, 6, 10), dt.date(2026, 6, 11), 20, 30)
    found = ask(owner, cast, to="2026-06-12", **{"from": "2026-06-09"})
    kinds = [row["kind"] for row in found["results"]]
    assert kinds == ["observed", "observed", "forecast", None]
    assert found["gaps"] == [{"first_on": "2026-06-12", "last_on": "2026-06-12", "days": 1}]


def test_temperatures_that_can_hardly_be_celsius_are_told(
    owner: APIClient, cast: Cast, station: WeatherStation
) -> None:
    observe(station, JUNE_1, [(15, 25), (59, 77), (60, 80), (15, 25), (15, 25)])
    assert ask(owner, cast)["warnings"] == [
        "2 days have temperatures that can hardly be Celsius, the first 2026-06-02: it may be in"
        " Fahrenheit."
    ]


def test_a_farm_without_a_station_is_told_what_is_missing(owner: APIClient, cast: Cast) -> None:
    found = ask(owner, cast)
    assert {row["cumulative"] for row in found["results"]} == {None}
    assert found["gaps"] == [{"first_on": "2026-06-01", "last_on": "2026-06-05", "days": 5}]
    assert "goes by no weather station" in found["warnings"][0]


def test_days_come_as_csv(owner: APIClient, cast: Cast, station: WeatherStation) -> None:
    observe(station, JUNE_1, [(15, 25)] * 5)
    query = {"farm": str(cast.ours.farm.pk), "from": "2026-06-01", "to": "2026-06-05", "lower": 10}
    lines = owner.get(ADDRESS, {**query, "format": "csv"}).content.decode().splitlines()
    assert lines[0] == "day,kind,is_interpolated,tmin_c,tmax_c,degree_days,cumulative"
    assert lines[5] == "2026-06-05,observed,False,15.0,25.0,10.0,50.0"


# What is asked, and what is said of which parameter.
REFUSED: list[tuple[dict[str, Any], int, str, str]] = [
    ({"lower": 32, "upper": 14}, 422, "lower", "32, must be below the upper, 14"),
    ({"lower": 14, "upper": 14}, 422, "lower", "14, must be below the upper, 14"),
    ({"lower": "warm"}, 400, "lower", "Enter a number"),
    ({"lower": ""}, 400, "lower", "required"),
    ({"from": "2026-06-06"}, 422, "to", "The last day is before the first."),
    ({"from": "2010-06-06"}, 422, "to", "At most 3,700 days"),
    ({"from": "01/06/2026"}, 400, "from", "Enter a valid date"),
    ({"method": "guess"}, 400, "method", "guess is not one of"),
    ({"unit": "K"}, 400, "unit", "K is not one of"),
    ({"interpolate_days": 90}, 400, "interpolate_days", "less than or equal to 14"),
    ({"base": 10}, 400, "base", "is not a filter of this list"),
]


@pytest.mark.parametrize(("query", "status", "parameter", "told"), REFUSED)
def test_what_makes_no_sense_is_refused_by_name(
    owner: APIClient, cast: Cast, query: dict[str, Any], status: int, parameter: str, told: str
) -> None:
    found = refusal(owner, cast, **query)
    assert found[:2] == (status, parameter)
    assert told in found[2]


def test_who_reads_the_weather_reads_its_degree_days(cast: Cast, station: WeatherStation) -> None:
    observe(station, JUNE_1, [(15, 25)] * 5)
    for client in (client_of(cast.worker), client_with(cast.ours.farm, "records:read")):
        assert ask(client, cast)["results"][4]["cumulative"] == 50
    assert refusal(client_of(cast.neighbour.owner), cast)[:2] == (422, "farm")
    query = {"farm": str(cast.ours.farm.pk), "from": "2026-06-01", "to": "2026-06-05", "lower": 10}
    assert client_with(cast.ours.farm, "schedule:read").get(ADDRESS, query).status_code == 403
