"""What warmth and dampness mean for flowers, and what is told where nobody knows."""

from datetime import UTC, date, datetime, timedelta

import pytest

from planning.compute.pollination_windows import (
    DayWeather,
    HourReading,
    PollenDay,
    Shedding,
    cautions_on,
    flower_dates,
    hours_held,
    pollen_day,
    shedding,
)
from planning.compute.sun import sun_day

DAY = date(2026, 5, 12)
ATEMOYA = hours_held("atemoya").gather.windows
SUNS = {each: sun_day(32.7, -17.0, "Atlantic/Madeira", each) for each in flower_dates(DAY)}


@pytest.mark.parametrize(
    ("temperature_c", "humidity_percent", "expected"),
    [
        # Paull & Duarte 2011, ch. 6: the same day above 80 % and above 22 C, else the next
        (23, 85, PollenDay.SAME_DAY),
        (23, 75, PollenDay.NEXT_DAY),
        (21, 90, PollenDay.NEXT_DAY),
        (22, 81, PollenDay.NEXT_DAY),  # not above 22
        (23, 80, PollenDay.NEXT_DAY),  # not above 80
    ],
)
def test_atemoya_sheds_at_once_only_when_warm_and_damp(
    temperature_c: float, humidity_percent: float, expected: PollenDay
) -> None:
    assert pollen_day(temperature_c, humidity_percent) == expected


def hours(first: int, *readings: tuple[float | None, float | None]) -> tuple[HourReading, ...]:
    """From an hour of the day in UTC."""
    start = datetime(2026, 5, 12, first, tzinfo=UTC)
    return tuple(
        HourReading(at=start + timedelta(hours=number), temperature_c=warmth, humidity_percent=damp)
        for number, (warmth, damp) in enumerate(readings)
    )


@pytest.mark.parametrize(
    ("weather", "expected"),
    [
        # Pollen is shed from 15:46 to 18:46 UTC there: the hours before and after do not count
        (
            DayWeather(hours=hours(15, (10, 10), (24, 90), (24, 90), (23, 85), (10, 10))),
            Shedding(known={DAY: PollenDay.SAME_DAY}),
        ),
        # The mean of the hours decides
        (
            DayWeather(hours=hours(16, (24, 90), (24, 40))),
            Shedding(known={DAY: PollenDay.NEXT_DAY}),
        ),
        # An hour without one of the two does not count
        (
            DayWeather(hours=hours(16, (24, None), (24, 85))),
            Shedding(known={DAY: PollenDay.SAME_DAY}),
        ),
        # Hours at other times tell nothing of the afternoon
        (DayWeather(hours=hours(6, (24, 90))), Shedding()),
        # The whole day's readings only say what is likelier
        (
            DayWeather(tmax_c=25, humidity_percent=85),
            Shedding(likely={DAY: PollenDay.SAME_DAY}),
        ),
        (DayWeather(tmax_c=25), Shedding()),
    ],
)
def test_the_afternoon_decides_where_it_was_read(weather: DayWeather, expected: Shedding) -> None:
    assert shedding(ATEMOYA, SUNS, {DAY: weather}) == expected


def test_species_whose_pollen_does_not_wait_need_no_weather() -> None:
    weather = {DAY: DayWeather(tmax_c=25, humidity_percent=85)}
    assert shedding(hours_held("cherimoya").gather.windows, SUNS, weather) == Shedding()


ALWAYS = "pollen-life"


@pytest.mark.parametrize(
    ("species", "weather", "holding", "unknown"),
    [
        # Sugar apple: poor above 30 C and below 60 % even by hand (Paull & Duarte 2011, ch. 6)
        (
            "sugar-apple",
            DayWeather(tmax_c=31, humidity_percent=59),
            {"hot-and-dry", "dry-weather"},
            set(),
        ),
        ("sugar-apple", DayWeather(tmax_c=30, humidity_percent=59), {"dry-weather"}, set()),
        ("sugar-apple", DayWeather(tmax_c=31, humidity_percent=60), set(), set()),
        # 30 C and 30 %: poor in all three species (the same)
        (
            "sugar-apple",
            DayWeather(tmax_c=30, humidity_percent=30),
            {"hot-and-very-dry", "dry-weather"},
            set(),
        ),
        # Hot at one hour and dry at another is not hot and dry together
        (
            "sugar-apple",
            DayWeather(tmax_c=31, humidity_percent=65, hours=hours(12, (31, 70), (20, 50))),
            set(),
            set(),
        ),
        (
            "sugar-apple",
            DayWeather(tmax_c=31, humidity_percent=65, hours=hours(12, (31, 55), (20, 90))),
            {"hot-and-dry"},
            set(),
        ),
        # Atemoya: best at 22 to 28 C (the same)
        ("atemoya", DayWeather(tmax_c=22, humidity_percent=80), set(), set()),
        ("atemoya", DayWeather(tmax_c=28.1, humidity_percent=80), {"warmer-than-best"}, set()),
        ("atemoya", DayWeather(tmax_c=21.9, humidity_percent=80), {"cooler-than-best"}, set()),
        # Cherimoya: pollen best at 20 to 25 C (Rosell 1999), few fruit below 12 C at night (New
        # Zealand notes), very low set at 30 C (Higuchi 1998)
        ("cherimoya", DayWeather(tmin_c=12, tmax_c=25, humidity_percent=80), set(), set()),
        (
            "cherimoya",
            DayWeather(tmin_c=11, tmax_c=30, humidity_percent=80),
            {"cold-nights", "pollen-too-warm", "hot-days"},
            set(),
        ),
        # A cool day rules heat out, whatever the humidity
        ("sugar-apple", DayWeather(tmax_c=25), set(), {"dry-weather"}),
        # Without weather everything is told as not known
        ("sugar-apple", None, set(), {"hot-and-dry", "hot-and-very-dry", "dry-weather"}),
        ("custard-apple", None, set(), {"dry-weather"}),
    ],
)
def test_cautions_hold_by_the_days_weather(
    species: str, weather: DayWeather | None, holding: set[str], unknown: set[str]
) -> None:
    told = {each.caution.code: each.holds for each in cautions_on(species, weather)}
    assert told.pop(ALWAYS) is True
    assert {code for code, holds in told.items() if holds} == holding
    assert {code for code, holds in told.items() if holds is None} == unknown
    assert set(told) == holding | unknown


def test_every_caution_names_its_source() -> None:
    for species in ("sugar-apple", "atemoya", "cherimoya", "soursop", "custard-apple"):
        for told in cautions_on(species, None):
            assert told.caution.source
            assert told.caution.text.endswith(".")
