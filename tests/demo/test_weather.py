"""The demo's weather: plausible, the same on every run, and never observed ahead of its day."""

from datetime import date, timedelta
from itertools import groupby, pairwise
from statistics import mean

from orchard.demo.cast import Cast
from orchard.demo.cast_files import read_cast
from orchard.demo.weather import Day, weather


def test_every_farm_goes_by_one_station(cast: Cast) -> None:
    codes = [code for station in cast.stations for code in station.farms]
    assert sorted(codes) == sorted(farm.code for farm in cast.farms)


def test_days_follow_each_other_and_are_forecast_after_the_casts_day(cast: Cast) -> None:
    for _, of_station in groupby(weather(cast), key=lambda day: day.station):
        days = list(of_station)
        assert all(after.day - day.day == timedelta(days=1) for day, after in pairwise(days))
        assert [day.day > cast.as_of for day in days] == [bool(day.forecast_on) for day in days]
        assert days[-1].day == cast.as_of + timedelta(days=10)


def test_days_past_never_change() -> None:
    earlier, later = (
        {(day.station, day.day): day for day in weather(read_cast(as_of))}
        for as_of in (date(2026, 5, 20), date(2026, 11, 20))
    )
    observed = {key: day for key, day in earlier.items() if not day.forecast_on}
    assert observed
    assert all(later[key] == day for key, day in observed.items())


def test_the_warm_months_are_those_of_the_hemisphere(cast: Cast) -> None:
    north, south = (station.name for station in cast.stations)
    days = list(weather(cast))
    assert _mean(days, north, 8) > _mean(days, north, 2) + 5
    assert _mean(days, south, 2) > _mean(days, south, 8) + 5
    assert all(day.tmin_c <= day.tmax_c for day in days)
    assert all(day.tmin_c > 0 and day.tmax_c < 42 for day in days)


def _mean(days: list[Day], station: str, month: int) -> float:
    return mean(
        (day.tmin_c + day.tmax_c) / 2
        for day in days
        if (day.station, day.day.month) == (station, month)
    )
