"""The sun's times against published tables, against another library, and as properties."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import ephem
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.sun import NO_SUNRISE, NO_SUNSET, SunError, sun_day

MINUTE = timedelta(minutes=1)
ZONES = ["Atlantic/Madeira", "Australia/Brisbane", "America/New_York", "Australia/Lord_Howe", "UTC"]


def local(text: str, day: date, zone: str) -> datetime:
    return datetime.fromisoformat(f"{day}T{text}").replace(tzinfo=ZoneInfo(zone))


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "day", "sunrise", "sunset"),
    [
        # Meeus and NREL's SPA report (Reda & Andreas, NREL/TP-560-34302, rev. 2008)
        (-35, 0, "UTC", date(1996, 7, 5), "07:08:15", "17:01:04"),
        # SPA's example place by NOAA's calculator. SPA prints a sunset of 17:20:19 beside this
        # sunrise, which is the evening of the 16th: the day of its UTC date, not of the place.
        (39.742476, -105.1786, "Etc/GMT+7", date(2003, 10, 17), "06:12:43", "17:18:51"),
        # United States Naval Observatory, table for 39 N 105 W, mountain standard time
        (39, -105, "Etc/GMT+7", date(2015, 1, 2), "07:19:00", "16:49:00"),
        (39, -105, "Etc/GMT+7", date(2015, 4, 2), "05:43:00", "18:24:00"),
        (39, -105, "Etc/GMT+7", date(2015, 8, 2), "05:01:00", "19:10:00"),
        (39, -105, "Etc/GMT+7", date(2015, 12, 2), "07:01:00", "16:38:00"),
        # Annona places by NOAA's calculator, zenith 90.833: Janauba in Brazil, Taitung in Taiwan
        (-15.8, -43.3, "Etc/GMT+3", date(2024, 6, 21), "06:19:29", "17:30:49"),
        (-15.8, -43.3, "Etc/GMT+3", date(2024, 12, 21), "05:19:27", "18:23:43"),
        (22.75, 121.15, "Asia/Taipei", date(2024, 6, 21), "05:11:17", "18:43:13"),
    ],
)
def test_published_times_hold_to_the_minute(
    latitude: float, longitude: float, zone: str, day: date, sunrise: str, sunset: str
) -> None:
    sun = sun_day(latitude, longitude, zone, day)
    assert sun.sunrise is not None
    assert sun.sunset is not None
    assert abs(sun.sunrise - local(sunrise, day, zone)) <= MINUTE
    assert abs(sun.sunset - local(sunset, day, zone)) <= MINUTE
    assert {at.tzinfo for at in (sun.sunrise, sun.noon, sun.sunset)} == {UTC}


def test_the_evening_before_is_not_taken_for_a_days_sunset() -> None:
    """17:20:18 is NOAA's sunset of the 16th at SPA's place."""
    before = sun_day(39.742476, -105.1786, "America/Denver", date(2003, 10, 16))
    assert before.sunset is not None
    assert abs(before.sunset - local("17:20:18", before.day, "Etc/GMT+7")) <= MINUTE


LATITUDES = (-55, -35, -23.5, -10, 0, 10, 23.5, 35, 55)
LONGITUDES = (-179.9, -105, -17, 0, 88, 121, 152.9, 179.9)
# Seconds. NOAA's shorter series against ephem's VSOP87, both without the place's height.
TOLERANCE = {"noon": 5, "sunrise": 10, "sunset": 10}


@pytest.mark.parametrize("latitude", LATITUDES)
def test_another_library_agrees_in_both_hemispheres_all_the_year_round(latitude: float) -> None:
    for longitude in LONGITUDES:
        for month in range(1, 13):
            day = date(2026, month, 1 + 2 * month)
            sun = sun_day(latitude, longitude, zone_at(longitude), day)
            for name, at in by_ephem(latitude, longitude, sun.noon).items():
                off = abs((getattr(sun, name) - at).total_seconds())
                assert off <= TOLERANCE[name], (name, longitude, day, off)


def zone_at(longitude: float) -> str:
    """Nautical time: `Etc` zones count westward."""
    hours = round(longitude / 15)
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"


def by_ephem(latitude: float, longitude: float, near: datetime) -> dict[str, datetime]:
    """The noon nearest to an instant, and the rising and setting around that."""
    place, sun = ephem.Observer(), ephem.Sun()
    place.lat, place.lon, place.pressure, place.horizon = str(latitude), str(longitude), 0, "-0:50"
    place.date = near
    noons = (place.previous_transit(sun), place.next_transit(sun))
    found = {
        "noon": min(noons, key=lambda at: abs(aware(at) - near)),
        "sunrise": place.previous_rising(sun, use_center=True),
        "sunset": place.next_setting(sun, use_center=True),
    }
    return {name: aware(at) for name, at in found.items()}


def aware(at: ephem.Date) -> datetime:
    return at.datetime().replace(tzinfo=UTC)


def test_no_sunrise_is_lost_where_it_slips_over_midnight_in_utc() -> None:
    """North-eastern India, where the sun rises at about 00:00 UTC for some weeks of the year."""
    days = [date(2026, 1, 1) + timedelta(days=day) for day in range(365)]
    rises = [sun_day(24.8, 93.9, "Asia/Kolkata", day).sunrise for day in days]
    steps = [after - before for before, after in pairwise(rises)]
    assert min(steps) > timedelta(hours=23, minutes=57)
    assert max(steps) < timedelta(hours=24, minutes=3)


@pytest.mark.parametrize(
    ("zone", "latitude", "longitude", "day", "hours"),
    [
        # The clock goes forward on 29 March: the sun does not, its times read an hour later.
        ("Atlantic/Madeira", 32.7, -17.0, date(2026, 3, 29), 1),
        # It goes back on 25 October.
        ("Atlantic/Madeira", 32.7, -17.0, date(2026, 10, 25), -1),
        # By half an hour, in the other hemisphere: forward on 4 October.
        ("Australia/Lord_Howe", -31.5, 159.1, date(2026, 10, 4), 0.5),
    ],
)
def test_the_sun_does_not_follow_summer_time(
    zone: str, latitude: float, longitude: float, day: date, hours: float
) -> None:
    before, after = (
        sun_day(latitude, longitude, zone, each) for each in (day - timedelta(days=1), day)
    )
    for name in ("sunrise", "noon", "sunset"):
        old, new = getattr(before, name), getattr(after, name)
        assert abs(new - old - timedelta(days=1)) < timedelta(minutes=2)
        shift = new.astimezone(ZoneInfo(zone)).replace(tzinfo=None) - old.astimezone(
            ZoneInfo(zone)
        ).replace(tzinfo=None)
        assert abs(shift - timedelta(days=1, hours=hours)) < timedelta(minutes=2)


@pytest.mark.parametrize(
    ("day", "has_light", "reason"),
    [(date(2026, 6, 21), True, NO_SUNSET), (date(2026, 12, 21), False, NO_SUNRISE)],
)
def test_far_north_there_may_be_no_sunrise_and_it_is_said(
    day: date, has_light: bool, reason: str
) -> None:
    sun = sun_day(70, 20, "Europe/Oslo", day)
    assert (sun.sunrise, sun.sunset) == (None, None)
    assert (sun.has_light, sun.reason) == (has_light, reason)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        # A day ahead of the sun's own date: thirteen and fourteen hours from Greenwich
        (-13.8, -171.8, "Pacific/Apia"),
        (1.9, -157.4, "Pacific/Kiritimati"),
        # Either side of the 180th meridian
        (-17.0, 179.9, "Pacific/Fiji"),
        (-17.0, -179.9, "Pacific/Fiji"),
    ],
)
def test_near_the_date_line_all_three_are_on_the_local_date(
    latitude: float, longitude: float, zone: str
) -> None:
    for month in range(1, 13):
        day = date(2026, month, 15)
        sun = sun_day(latitude, longitude, zone, day)
        assert sun.sunrise < sun.noon < sun.sunset  # type: ignore[operator]
        for at in (sun.sunrise, sun.noon, sun.sunset):
            assert at.astimezone(ZoneInfo(zone)).date() == day  # type: ignore[union-attr]


def test_the_29th_of_february_has_a_sun() -> None:
    sun = sun_day(32.7, -17.0, "Atlantic/Madeira", date(2028, 2, 29))
    assert sun.noon.date() == date(2028, 2, 29)


days = st.dates(date(1901, 1, 3), date(2099, 12, 29))


@given(
    latitude=st.floats(-90, 90),
    longitude=st.floats(-180, 180),
    day=days,
    zone=st.sampled_from(ZONES),
)
def test_the_three_are_in_order_anywhere(
    latitude: float, longitude: float, day: date, zone: str
) -> None:
    """Also where coordinates and time zone do not fit together."""
    sun = sun_day(latitude, longitude, zone, day)
    midday = datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(zone))
    assert abs(sun.noon - midday) <= timedelta(hours=12, minutes=10)
    if sun.sunrise is not None:
        assert timedelta(0) <= sun.noon - sun.sunrise <= timedelta(hours=12)
    if sun.sunset is not None:
        assert timedelta(0) <= sun.sunset - sun.noon <= timedelta(hours=12)
    assert (sun.reason is None) == (sun.sunrise is not None and sun.sunset is not None)


@given(latitude=st.floats(-60, 60), longitude=st.floats(-180, 180), day=days)
def test_the_next_days_sun_comes_a_day_later(latitude: float, longitude: float, day: date) -> None:
    today, tomorrow = (
        sun_day(latitude, longitude, "UTC", each) for each in (day, day + timedelta(days=1))
    )
    assert abs(tomorrow.noon - today.noon - timedelta(days=1)) < MINUTE
    for name in ("sunrise", "sunset"):
        step = getattr(tomorrow, name) - getattr(today, name)
        assert abs(step - timedelta(days=1)) < timedelta(minutes=10)


@pytest.mark.parametrize(
    ("latitude", "longitude", "day"),
    [
        (91, 0, date(2026, 1, 1)),  # beyond the pole
        (0, 181, date(2026, 1, 1)),  # beyond the date line
        (0, 0, date(1900, 12, 31)),  # before the formulas' years
        (0, 0, date.max),
    ],
)
def test_places_and_years_out_of_range_are_refused(
    latitude: float, longitude: float, day: date
) -> None:
    with pytest.raises(SunError):
        sun_day(latitude, longitude, "UTC", day)
