"""A farm's weather by day: observed, else forecast, else the station's normals."""

import datetime as dt

import pytest

from planning.queries.weather import DayKind, FarmDay, farm_days, farm_weather
from records.models import Farm
from tests.planning.ground import make_farm
from tests.planning.weather import foretell, make_station, observe, years_of_weather

pytestmark = pytest.mark.django_db

MAY_1, TODAY = dt.date(2026, 5, 1), dt.date(2026, 5, 10)


def on(day: int) -> dt.date:
    return dt.date(2026, 5, day)


@pytest.fixture
def farm() -> Farm:
    return make_farm()


def days(farm: Farm, first: int, last: int, as_of: dt.date = TODAY) -> list[FarmDay]:
    return farm_days(farm.pk, on(first), on(last), as_of)


def test_a_day_is_observed_or_forecast_or_normal_and_says_which(farm: Farm) -> None:
    station = make_station(farm)
    years_of_weather(station, 2023, 3)
    observe(station, on(8), [(14, 24), (15, 25)])
    foretell(station, on(7), on(9), 1, 2)  # observed since
    foretell(station, on(9), on(10), 13, 23)
    found = days(farm, 8, 11)
    assert [(each.kind, each.tmax_c) for each in found[:3]] == [
        (DayKind.OBSERVED, 24),
        (DayKind.OBSERVED, 25),
        (DayKind.FORECAST, 23),
    ]
    assert found[3].kind is DayKind.NORMAL
    assert found[3].tmin_c is not None


def test_of_several_forecasts_the_newest_made_by_the_day_counts(farm: Farm) -> None:
    station = make_station(farm)
    for made_on, high in ((6, 26), (9, 29), (8, 28)):
        foretell(station, on(made_on), on(12), 10, high)
    assert days(farm, 12, 12)[0].tmax_c == 29
    assert days(farm, 12, 12, as_of=on(8))[0].tmax_c == 28
    assert days(farm, 12, 12, as_of=on(5))[0].kind is None


def test_nothing_observed_later_was_known(farm: Farm) -> None:
    station = make_station(farm)
    observe(station, on(1), [(14, 24)] * 5)
    assert [each.kind for each in days(farm, 2, 4, as_of=on(3))] == [
        DayKind.OBSERVED,
        DayKind.OBSERVED,
        None,
    ]


def test_the_normals_of_a_day_are_of_years_before_it(farm: Farm) -> None:
    station = make_station(farm)
    for year, high in ((2024, 20), (2025, 22), (2026, 40)):
        observe(station, dt.date(year, 5, 1), [(10, high)] * 31)
    found = farm_days(farm.pk, on(20), on(20), dt.date(2026, 4, 30))[0]
    assert (found.kind, found.tmax_c) == (DayKind.NORMAL, 21)


def test_a_station_of_one_year_has_no_normals(farm: Farm) -> None:
    station = make_station(farm)
    observe(station, dt.date(2025, 5, 1), [(10, 20)] * 31)
    assert days(farm, 20, 20) == [
        FarmDay(day=on(20), kind=None, tmin_c=None, tmax_c=None, humidity_percent=None)
    ]


def test_each_day_goes_by_the_station_of_its_day(farm: Farm) -> None:
    old = make_station(farm, "old", ends_on=on(4))
    new = make_station(farm, "new", starts_on=on(5))
    observe(old, on(1), [(10, 20)] * 9)
    observe(new, on(1), [(11, 31)] * 9)
    assert [each.tmax_c for each in days(farm, 3, 6)] == [20, 20, 31, 31]


def test_a_farm_without_a_station_has_days_of_no_kind(farm: Farm) -> None:
    assert [each.kind for each in days(farm, 3, 4)] == [None, None]
    assert farm_weather(farm.pk).first_day is None


def test_a_missing_reading_stays_missing(farm: Farm) -> None:
    observe(make_station(farm), on(3), [(14, None)])
    found = days(farm, 3, 3)[0]
    assert (found.kind, found.tmin_c, found.tmax_c) == (DayKind.OBSERVED, 14, None)


def test_two_queries_whatever_the_days(farm: Farm, django_assert_num_queries: object) -> None:
    station = make_station(farm)
    years_of_weather(station, 2024, 2)
    with django_assert_num_queries(2):  # type: ignore[operator]
        days(farm, 1, 30)
