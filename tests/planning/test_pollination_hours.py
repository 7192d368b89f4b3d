"""A farm's working hours, from its coordinates, weather and decisions."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.compute.pollination_windows import PollenDay
from planning.models import FlowerHours, ScheduleSetting
from planning.queries.pollination_hours import NO_COORDINATES, farm_days, hours_for
from records.models import Farm, Species, StationUse, WeatherDay, WeatherStation
from tests.planning.ground import make_farm
from tests.planning.schedules import plant_farm

pytestmark = pytest.mark.django_db

MAY = dt.date(2026, 5, 12)
DAY = dt.timedelta(days=1)


def species(code: str) -> Species:
    return Species.objects.get(code=code)


def make_station(farm: Farm, **use: Any) -> WeatherStation:
    station = WeatherStation.objects.create(
        farm=farm, name=f"station {WeatherStation.objects.count()}", time_zone=farm.time_zone
    )
    StationUse.objects.create(farm=farm, station=station, **use)
    return station


def read(station: WeatherStation, day: dt.date, **values: Any) -> WeatherDay:
    return WeatherDay.objects.create(station=station, farm=station.farm, day=day, **values)


def afternoon(warmth: float, damp: float) -> dict[str, list[float | None]]:
    """Readings from 16:00 to 21:00 only."""
    return {
        "hourly_temperature_c": [None] * 16 + [warmth] * 5 + [None] * 3,
        "hourly_humidity_percent": [None] * 16 + [damp] * 5 + [None] * 3,
    }


def test_sessions_of_all_five_species_by_date() -> None:
    farm = plant_farm()
    kinds = {kind.code: kind.pk for kind in Species.objects.all()}
    found = hours_for(farm, kinds.values(), MAY, MAY + 2 * DAY)
    assert set(found) == set(kinds.values())
    assert list(found[kinds["atemoya"]]) == [MAY, MAY + DAY, MAY + 2 * DAY]
    assert {code: len(found[key][MAY].brush.sessions) for code, key in kinds.items()} == {
        "sugar-apple": 1,
        "atemoya": 2,
        "cherimoya": 1,
        "soursop": 2,
        "custard-apple": 0,
    }
    assert "No hours are published" in found[kinds["custard-apple"]][MAY].brush.reason


def test_a_farm_without_coordinates_is_told_what_is_missing() -> None:
    kind = species("cherimoya")
    found = hours_for(make_farm(), [kind.pk], MAY, MAY)[kind.pk][MAY]
    assert (found.brush.sessions, found.brush.reason) == ((), NO_COORDINATES)


def test_the_farms_own_hours_hold() -> None:
    farm, kind = plant_farm(), species("custard-apple")
    FlowerHours.objects.create(
        farm=farm,
        species=kind,
        brush_from="sunset",
        brush_from_minutes=-90,
        brush_to="sunset",
        brush_to_minutes=0,
        source="Own counts of 2025.",
    )
    found = hours_for(farm, [kind.pk], MAY, MAY)[kind.pk][MAY]
    assert found.brush.minutes == pytest.approx(90)
    assert found.brush.held.source == "Own counts of 2025."


def test_a_chosen_source_holds() -> None:
    farm, kind = plant_farm(), species("soursop")
    FlowerHours.objects.create(farm=farm, species=kind, shipped_source="pinto-ramos-1999")
    found = hours_for(farm, [kind.pk], MAY, MAY)[kind.pk][MAY]
    assert found.brush.held.source_code == "pinto-ramos-1999"
    assert found.brush.minutes == pytest.approx(120)


def test_another_farms_hours_do_not_hold() -> None:
    kind = species("soursop")
    FlowerHours.objects.create(
        farm=plant_farm("NEXT"), species=kind, shipped_source="pinto-ramos-1999"
    )
    found = hours_for(plant_farm(), [kind.pk], MAY, MAY)[kind.pk][MAY]
    assert found.brush.held.source_code == "web-article"


def test_the_farms_working_hours_cut_the_sessions() -> None:
    farm, kind = plant_farm(), species("sugar-apple")
    ScheduleSetting.objects.create(farm=farm, works_from=dt.time(8), works_until=dt.time(10))
    found = hours_for(farm, [kind.pk], MAY, MAY)[kind.pk][MAY]
    assert found.brush.minutes == pytest.approx(120)


@pytest.mark.parametrize(
    ("warmth", "damp", "expected"),
    [
        (23, 85, PollenDay.SAME_DAY),  # above 22 C and above 80 %
        (23, 75, PollenDay.NEXT_DAY),  # too dry
        (21, 90, PollenDay.NEXT_DAY),  # too cool
        (22, 81, PollenDay.NEXT_DAY),  # 22 C is not above 22 C
    ],
)
def test_the_afternoons_readings_decide_when_atemoya_sheds(
    warmth: float, damp: float, expected: PollenDay
) -> None:
    """Paull & Duarte 2011, ch. 6. The readings are of hours of the station's own clock."""
    farm, kind = plant_farm(), species("atemoya")
    station = make_station(farm)
    for day in (MAY - DAY, MAY):
        read(station, day, **afternoon(warmth, damp))
    gather = hours_for(farm, [kind.pk], MAY, MAY)[kind.pk][MAY].gather
    opened = MAY if expected == PollenDay.SAME_DAY else MAY - DAY
    assert [(each.flower_date, each.when) for each in gather.sessions] == [(opened, None)]


def test_a_days_highest_alone_leaves_both_days_open() -> None:
    farm, kind = plant_farm(), species("atemoya")
    read(make_station(farm), MAY, tmax_c=25, humidity_percent=85)
    gather = hours_for(farm, [kind.pk], MAY, MAY)[kind.pk][MAY].gather
    assert len(gather.sessions) == 2
    assert "more likely shed on the day they open" in gather.reason


def test_observed_weather_goes_before_forecasts_and_late_ones_before_early_ones() -> None:
    farm = plant_farm()
    station, other = make_station(farm, ends_on=MAY), make_station(plant_farm("NEXT"))
    for day, made_on, tmax in (
        (MAY - DAY, MAY - 2 * DAY, 20),
        (MAY, MAY, 23),
        (MAY, MAY - DAY, 22),
    ):
        read(station, day, kind="forecast", forecast_on=made_on, tmax_c=tmax)
    read(station, MAY - DAY, tmax_c=21)
    read(station, MAY + DAY, tmax_c=30)  # the farm no longer goes by the station
    read(other, MAY, tmax_c=40)
    used = farm_days(farm, [species("atemoya")], MAY, MAY).weather
    assert {day: (each.kind, each.read.tmax_c) for day, each in used.items()} == {
        MAY - DAY: ("observed", 21),
        MAY: ("forecast", 23),
    }


def test_any_number_of_species_and_days_costs_four_queries() -> None:
    farm = plant_farm()
    read(make_station(farm), MAY, tmax_c=25)
    keys = list(Species.objects.values_list("pk", flat=True))
    counts = []
    for some, last in ((keys[:1], MAY), (keys, MAY + 60 * DAY)):
        with CaptureQueriesContext(connection) as seen:
            hours_for(farm, some, MAY, last)
        counts.append(len(seen))
    # species, flower hours, weather, working hours
    assert counts == [4, 4]
