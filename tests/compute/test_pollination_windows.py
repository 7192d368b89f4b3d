"""The sessions in which people can work, cut from the hours of flowers."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.pollination_windows import (
    Anchor,
    DayHours,
    Edge,
    FarmHours,
    Ground,
    PollenDay,
    Session,
    Shedding,
    Window,
    WorkHours,
    day_hours,
    flower_dates,
    hours_held,
    hours_without_sun,
    open_minutes,
    to_minute,
)
from planning.compute.sun import sun_day

MADEIRA = (32.7, -17.0, "Atlantic/Madeira")
BRISBANE = (-26.5, 152.9, "Australia/Brisbane")
SPECIES = ("sugar-apple", "atemoya", "cherimoya", "soursop")


def day_of(
    species: str,
    day: date,
    place: tuple[float, float, str] = MADEIRA,
    work: WorkHours | None = None,
    shed: Shedding | None = None,
    farm: FarmHours | None = None,
) -> DayHours:
    return day_hours(
        day,
        hours_held(species, farm),
        ground=Ground(zone=ZoneInfo(place[2]), work=work),
        suns={each: sun_day(*place, each) for each in flower_dates(day)},
        shed=shed or Shedding(),
    )


def told(sessions: tuple[Session, ...], zone: str = MADEIRA[2]) -> list[tuple[str, str, str]]:
    """Opening date of the flowers, start and end by the farm's clock."""
    clock = ZoneInfo(zone)
    return [
        (
            f"{each.flower_date:%m-%d}",
            *(f"{to_minute(at).astimezone(clock):%m-%d %H:%M}" for at in (each.starts, each.ends)),
        )
        for each in sessions
    ]


MAY = date(2026, 5, 12)


def test_sugar_apple_is_brushed_in_the_morning_and_its_pollen_gathered_from_first_light() -> None:
    """Sunrise in Madeira on 12 May is at 07:12 by summer time, solar noon at 14:04."""
    found = day_of("sugar-apple", MAY)
    sun = sun_day(*MADEIRA, MAY)
    assert told(found.brush.sessions) == [("05-12", "05-12 07:12", "05-12 13:11")]
    assert told(found.gather.sessions) == [("05-11", "05-12 07:12", "05-12 13:11")]
    assert found.gather.sessions[0].starts == sun.sunrise
    assert "Pollen is shed from 03:36, before people work" in found.gather.reason
    assert "gather it from first light, 07:12." in found.gather.reason
    assert "The earliest is then 3 hours and 35 minutes old." in found.gather.reason
    assert found.brush.reason == (
        "Brush from sunrise to 53 minutes before solar noon; cut to daylight."
    )


def test_atemoya_is_worked_at_dawn_and_in_the_late_afternoon_by_date_of_opening() -> None:
    """A window over midnight belongs to the date on which it opens: two sessions a day."""
    found = day_of("atemoya", MAY)
    sun = sun_day(*MADEIRA, MAY)
    assert told(found.brush.sessions) == [
        ("05-11", "05-12 07:12", "05-12 09:46"),
        ("05-12", "05-12 17:46", "05-12 20:58"),
    ]
    assert found.brush.sessions[0].starts == sun.sunrise
    assert found.brush.sessions[1].ends == sun.sunset


@pytest.mark.parametrize(
    ("species", "brush", "gather"),
    [
        # Solar noon at 11:33 in Queensland on 15 November, whose summer is not on the clock.
        ("sugar-apple", [("11-15", "04:51", "10:40")], [("11-14", "04:51", "10:40")]),
        # Until 4 h 18 min before noon, and from 3 h 42 min after it
        (
            "atemoya",
            [("11-14", "04:51", "07:15"), ("11-15", "15:15", "18:15")],
            [("11-15", "14:15", "17:15")],
        ),
        # From 5 h 28 min before noon to 2 h 32 min after it, and three hours more
        ("cherimoya", [("11-15", "06:05", "14:05")], [("11-15", "14:05", "17:05")]),
        # From 8 to 4 hours before noon, and from noon for 8 hours
        (
            "soursop",
            [("11-15", "04:51", "07:33"), ("11-15", "11:33", "18:15")],
            [("11-15", "04:51", "07:33")],
        ),
    ],
)
def test_the_same_hours_hold_in_the_south(
    species: str, brush: list[tuple[str, str, str]], gather: list[tuple[str, str, str]]
) -> None:
    day = date(2026, 11, 15)
    known = dict.fromkeys(flower_dates(day), PollenDay.SAME_DAY)
    found = day_of(species, day, BRISBANE, shed=Shedding(known=known))
    assert told(found.brush.sessions, BRISBANE[2]) == on(day, brush)
    assert told(found.gather.sessions, BRISBANE[2]) == on(day, gather)


def on(day: date, times: list[tuple[str, str, str]]) -> list[tuple[str, str, str]]:
    date_of = f"{day:%m-%d}"
    return [(opened, f"{date_of} {starts}", f"{date_of} {ends}") for opened, starts, ends in times]


def test_where_nobody_knows_the_weather_both_days_of_shedding_are_told() -> None:
    found = day_of("atemoya", MAY)
    assert {(each.flower_date, each.when) for each in found.gather.sessions} == {
        (date(2026, 5, 11), PollenDay.NEXT_DAY),
        (date(2026, 5, 12), PollenDay.SAME_DAY),
    }
    assert "both are told" in found.gather.reason


def test_where_the_weather_is_known_pollen_is_gathered_on_one_day() -> None:
    known = {MAY: PollenDay.SAME_DAY, MAY - timedelta(days=1): PollenDay.SAME_DAY}
    found = day_of("atemoya", MAY, shed=Shedding(known=known))
    assert [(each.flower_date, each.when) for each in found.gather.sessions] == [(MAY, None)]
    assert found.gather.reason.endswith(
        "Flowers of 12 May shed on the day they open,"
        " as the afternoon is above 22 C and 80 % humid."
    )


def test_the_whole_days_weather_only_says_what_is_likelier() -> None:
    found = day_of("atemoya", MAY, shed=Shedding(likely={MAY: PollenDay.NEXT_DAY}))
    assert len(found.gather.sessions) == 2
    assert "By the whole day's weather those of 12 May more likely shed on the next day" in (
        found.gather.reason
    )


def test_the_farms_hours_take_the_place_of_daylight() -> None:
    work = WorkHours(starts=time(6), ends=time(10, 30))
    found = day_of("sugar-apple", MAY, work=work)
    assert told(found.brush.sessions) == [("05-12", "05-12 07:12", "05-12 10:30")]
    assert told(found.gather.sessions) == [("05-11", "05-12 06:00", "05-12 10:30")]
    assert "cut to the farm's hours, 06:00 to 10:30" in found.brush.reason
    assert "gather it from the start of work, 06:00." in found.gather.reason


def test_hours_outside_the_farms_leave_no_session_and_say_so() -> None:
    found = day_of("sugar-apple", MAY, work=WorkHours(starts=time(14), ends=time(18)))
    assert found.brush.sessions == ()
    assert "None of these hours lie in the working time" in found.brush.reason


def test_stages_longer_than_a_day_overlap_and_their_minutes_count_once() -> None:
    """Melo et al. 2002: flowers of yesterday until the afternoon, today's from 13:00."""
    found = day_of("cherimoya", MAY, farm=FarmHours(chosen="melo-2002"))
    assert [each.flower_date.day for each in found.brush.sessions] == [11, 12]
    sun = sun_day(*MADEIRA, MAY)
    assert sun.sunset is not None
    assert sun.sunrise is not None
    daylight = (sun.sunset - sun.sunrise).total_seconds() / 60
    assert found.brush.minutes == pytest.approx(daylight)
    assert sum(each.minutes for each in found.brush.sessions) > daylight


def test_flowers_do_not_follow_summer_time() -> None:
    """Madeira's clock goes forward on 29 March: by the clock, work moves an hour with it."""
    before, after = (day_of("cherimoya", date(2026, 3, day)) for day in (28, 29))
    moved = after.brush.sessions[0].starts - before.brush.sessions[0].starts
    assert abs(moved - timedelta(days=1)) < timedelta(minutes=1)
    assert [told(each.brush.sessions)[0][1][6:] for each in (before, after)] == ["07:45", "08:45"]


def test_a_far_north_without_daylight_has_no_sessions_and_says_why() -> None:
    found = day_of("cherimoya", date(2026, 12, 21), (70.0, 20.0, "Europe/Oslo"))
    assert found.brush.sessions == ()
    assert "The sun does not rise" in found.brush.reason
    midsummer = day_of("sugar-apple", date(2026, 6, 21), (70.0, 20.0, "Europe/Oslo"))
    assert midsummer.brush.sessions == ()  # no sunrise to count from
    assert "the sun does not give them" in midsummer.brush.reason


def test_without_the_sun_a_part_says_what_is_missing() -> None:
    found = hours_without_sun(MAY, hours_held("cherimoya"), "No coordinates.")
    assert (found.brush.reason, found.gather.sessions) == ("No coordinates.", ())
    nothing = hours_without_sun(MAY, hours_held("custard-apple"), "No coordinates.")
    assert "No hours are published" in nothing.brush.reason


# Properties --------------------------------------------------------------------------------------

places = st.sampled_from([MADEIRA, BRISBANE, (22.75, 121.15, "Asia/Taipei")])


@given(
    species=st.sampled_from(SPECIES),
    day=st.dates(date(2020, 1, 1), date(2030, 12, 31)),
    place=places,
)
def test_sessions_lie_in_daylight_of_their_own_date(
    species: str, day: date, place: tuple[float, float, str]
) -> None:
    found, sun, zone = day_of(species, day, place), sun_day(*place, day), ZoneInfo(place[2])
    for part in (found.brush, found.gather):
        assert part.sessions
        for each in part.sessions:
            assert sun.sunrise <= each.starts < each.ends <= sun.sunset  # type: ignore[operator]
            assert each.starts.tzinfo is UTC
            assert each.starts.astimezone(zone).date() == day
            assert each.flower_date in flower_dates(day)
        assert part.minutes <= sum(each.minutes for each in part.sessions) + 1e-9


edges = st.builds(Edge, anchor=st.sampled_from(Anchor), minutes=st.integers(-720, 2880))


@given(
    ends=st.tuples(edges, edges).filter(lambda two: two[0].on_an_equinox < two[1].on_an_equinox),
    place=places,
    hours=st.tuples(st.times(), st.times()).filter(lambda two: two[0] < two[1]),
)
def test_any_hours_of_a_farm_give_sessions_within_both_the_flowers_and_the_work(
    ends: tuple[Edge, Edge], place: tuple[float, float, str], hours: tuple[time, time]
) -> None:
    window, work = Window(opens=ends[0], closes=ends[1]), WorkHours(starts=hours[0], ends=hours[1])
    found = day_of("custard-apple", MAY, place, work, farm=FarmHours(brush=window)).brush
    zone = ZoneInfo(place[2])
    for each in found.sessions:
        sun = sun_day(*place, each.flower_date)
        opens, closes = window.opens.at(sun), window.closes.at(sun)
        assert opens <= each.starts < each.ends <= closes  # type: ignore[operator]
        assert hours[0] <= each.starts.astimezone(zone).time()
        assert each.ends.astimezone(zone).time() <= hours[1]


def test_a_session_of_seconds_is_none() -> None:
    """The farm stops work at sunrise, 07:11:40."""
    work = WorkHours(starts=time(6), ends=time(7, 12))
    assert day_of("sugar-apple", MAY, work=work).brush.sessions == ()


spans = st.lists(st.tuples(st.integers(0, 1000), st.integers(1, 400)), max_size=6)


@given(spans)
def test_open_minutes_are_those_in_any_session(found: list[tuple[int, int]]) -> None:
    start = datetime(2026, 5, 12, tzinfo=UTC)
    sessions = [
        Session(
            starts=start + timedelta(minutes=begins),
            ends=start + timedelta(minutes=begins + length),
            flower_date=MAY,
        )
        for begins, length in found
    ]
    minutes = {m for begins, length in found for m in range(begins, begins + length)}
    assert open_minutes(sessions) == len(minutes)
