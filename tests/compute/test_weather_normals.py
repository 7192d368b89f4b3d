"""A station's normals by day of the year."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.weather_normals import DAYS, normals, places_in_year

FIRST = date(2019, 1, 1)


def test_the_places_of_days_are_those_of_a_leap_year() -> None:
    places = places_in_year(date(2019, 2, 27), 4).tolist()
    assert places == [57, 58, 60, 61]  # 1 March has the same place with and without a 29 February
    assert places_in_year(date(2020, 2, 28), 3).tolist() == [58, 59, 60]
    assert places_in_year(date(2019, 12, 31), 2).tolist() == [365, 0]


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(1, 800))
def test_every_day_has_the_place_of_its_month_and_day(starts_on: date, days: int) -> None:
    expected = [
        (date(2000, day.month, day.day) - date(2000, 1, 1)).days
        for day in (starts_on + timedelta(days=n) for n in range(days))
    ]
    assert places_in_year(starts_on, days).tolist() == expected


def two_years(first: float, second: float) -> np.ndarray:
    return np.concatenate([np.full(365, float(first)), np.full(366, float(second))])


def test_a_normal_is_the_mean_of_the_years_within_seven_days() -> None:
    readings = two_years(10, 14)
    readings[100] = 70  # 11 April 2019
    found = normals(readings, FIRST)
    place = int(places_in_year(date(2019, 4, 11), 1)[0])
    # Fifteen days of two years, one of them sixty degrees above the others.
    assert found[place] == pytest.approx(12 + 60 / 30)
    assert found[place + 7] == pytest.approx(12 + 60 / 30)
    assert found[place + 8] == pytest.approx(12)


def test_one_year_has_no_normals() -> None:
    assert np.isnan(normals(np.full(365, 10.0), FIRST)).all()
    assert np.isnan(normals(np.array([]), FIRST)).all()


def test_days_with_fewer_than_two_years_have_none() -> None:
    found = normals(np.full(365 + 31, 10.0), FIRST)  # January of the second year
    assert np.isfinite(found[: 31 + 7]).all()
    assert np.isnan(found[31 + 7 : -7]).all()


def test_the_year_closes_upon_itself() -> None:
    readings = two_years(10, 10)
    readings[[0, 365]] = 40  # both New Year's Days
    found = normals(readings, FIRST)
    assert found[365] > 10
    assert found[DAYS - 7] > 10
    assert found[DAYS - 8] == pytest.approx(10)


def test_29_february_has_a_normal_from_the_days_around_it() -> None:
    found = normals(np.full(730, 10.0), date(2021, 1, 1))  # two years without one
    assert found[59] == pytest.approx(10)


def test_a_missing_reading_is_left_out_of_its_mean() -> None:
    readings = two_years(10, 14)
    readings[90:110] = np.nan
    place = int(places_in_year(FIRST, 365)[100])
    assert np.isnan(normals(readings, FIRST)[place])  # a year of nothing is none
    assert np.isfinite(normals(readings, FIRST)[place + 20])
