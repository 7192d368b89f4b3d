"""Weather belongs to a station that several farms may use, dated."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from records.models import Farm, Job, WeatherDay, WeatherStation
from records.services.saving import delete, save
from tests.cast import Cast
from tests.records.making import faults_of

DAY = dt.date(2026, 6, 1)


@pytest.fixture(autouse=True)
def today(settings: Any) -> None:
    settings.AS_OF = DAY


def make_station(rows: Any = None, **values: Any) -> WeatherStation:
    named = {"name": "hilltop", "time_zone": "Atlantic/Madeira"}
    station: WeatherStation = save(WeatherStation(**{**named, **values}), **(rows or {}))
    return station


def make_day(station: WeatherStation, **values: Any) -> WeatherDay:
    day: WeatherDay = save(WeatherDay(**{"station": station, "day": DAY, "tmin_c": 15, **values}))
    return day


def test_a_farm_goes_by_its_own_station(cast: Cast) -> None:
    station = make_station(farm=cast.ours.farm)
    assert [use.farm_id for use in station.uses.all()] == [cast.ours.farm.pk]
    assert make_day(station).farm_id == cast.ours.farm.pk


def test_several_farms_use_a_co_ops_station_from_a_date_to_a_date(cast: Cast) -> None:
    uses = [
        {"farm_id": cast.ours.farm.pk, "starts_on": dt.date(2024, 1, 1), "ends_on": None},
        {"farm_id": cast.neighbour.farm.pk, "starts_on": None, "ends_on": dt.date(2025, 1, 1)},
    ]
    station = make_station({"uses": uses}, co_op=cast.co_op)
    assert station.uses.count() == 2
    assert make_day(station).farm_id is None


def test_a_farm_goes_by_one_station_a_day(cast: Cast) -> None:
    make_station(farm=cast.ours.farm)
    assert make_station(farm=cast.ours.farm, name="yard").uses.count() == 0
    uses = [{"farm_id": cast.ours.farm.pk, "starts_on": DAY}]
    with pytest.raises(ValidationError) as caught:
        make_station({"uses": uses}, co_op=cast.co_op)
    assert faults_of(caught.value) == {"uses": ["station-uses-overlap"]}


def test_a_farm_moves_from_one_station_to_another(cast: Cast) -> None:
    farm_id = cast.ours.farm.pk
    old = make_station(farm=cast.ours.farm)
    save(old, uses=[{"farm_id": farm_id, "ends_on": DAY}])
    uses = [{"farm_id": farm_id, "starts_on": DAY + dt.timedelta(days=1)}]
    assert make_station({"uses": uses}, co_op=cast.co_op).uses.count() == 1


def told(farm: Farm) -> bool:
    """Whether what is derived from the farm waits to be rebuilt."""
    return Job.objects.filter(kind="farm-changed", key=str(farm.pk), state="waiting").exists()


def test_farms_that_begin_or_cease_to_go_by_a_station_are_rebuilt(cast: Cast) -> None:
    ours, theirs = cast.ours.farm, cast.neighbour.farm
    station = make_station({"uses": [{"farm_id": ours.pk}]}, co_op=cast.co_op)
    assert (told(ours), told(theirs)) == (True, False)
    Job.objects.all().delete()
    save(station, uses=[{"farm_id": theirs.pk}])
    assert (told(ours), told(theirs)) == (True, True)
    Job.objects.all().delete()
    delete(station)
    assert (told(ours), told(theirs)) == (False, True)


def test_observed_weather_is_not_of_the_future(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        make_day(make_station(farm=cast.ours.farm), day=DAY + dt.timedelta(days=1))
    assert faults_of(caught.value) == {"day": ["in-the-future"]}


def test_a_forecast_is_for_a_later_day(cast: Cast) -> None:
    later = DAY + dt.timedelta(days=3)
    station = make_station(farm=cast.ours.farm)
    assert make_day(station, day=later, kind="forecast", forecast_on=DAY).day == later
    with pytest.raises(ValidationError) as caught:
        make_day(station, day=later, kind="forecast", forecast_on=later)
    assert faults_of(caught.value) == {"forecast_on": ["in-the-future"]}


def test_missing_stays_missing(cast: Cast) -> None:
    day = make_day(make_station(farm=cast.ours.farm), hourly_temperature_c=[None, *[20] * 23])
    day.refresh_from_db()
    assert (day.tmax_c, day.rain_mm) == (None, None)
    assert day.hourly_temperature_c[0] is None


@pytest.mark.parametrize(
    ("tmin_c", "tmax_c", "pointers"),
    [
        (14, 26, []),
        (57, 79, ["/tmin_c", "/tmax_c"]),  # degrees Fahrenheit
        (-21, 20, ["/tmin_c"]),
        (None, None, []),
    ],
)
def test_values_that_cannot_be_celsius_are_a_warning(
    tmin_c: int | None, tmax_c: int | None, pointers: list[str]
) -> None:
    found = WeatherDay(tmin_c=tmin_c, tmax_c=tmax_c).warnings
    assert [(one["code"], one["pointer"]) for one in found] == [
        ("not-celsius", pointer) for pointer in pointers
    ]
