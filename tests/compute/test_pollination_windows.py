"""The hours of flowers: what ships, by whose clock, and the sessions that people can work."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.pollination_windows import (
    SOURCES,
    Anchor,
    DayHours,
    Edge,
    FarmHours,
    Ground,
    PollenDay,
    Session,
    Shedding,
    Source,
    Window,
    WindowError,
    WorkHours,
    day_hours,
    flower_dates,
    hours_held,
    hours_without_sun,
    in_words,
    open_minutes,
    sources_of,
    to_minute,
)
from planning.compute.pollination_windows.places import PLACES
from planning.compute.pollination_windows.values import Place
from planning.compute.sun import sun_day

MADEIRA = (32.7, -17.0, "Atlantic/Madeira")
BRISBANE = (-26.5, 152.9, "Australia/Brisbane")
SPECIES = ("sugar-apple", "atemoya", "cherimoya", "soursop")


# What ships --------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.name)
def test_a_places_noon_is_the_suns(place: Place) -> None:
    """Every hour given by the clock is held as minutes from this noon."""
    zone = ZoneInfo(place.time_zone)
    noon = sun_day(place.latitude, place.longitude, place.time_zone, place.day).noon
    local = noon.astimezone(zone)
    assert local.dst() == timedelta(0), "the source's clock is taken to be without summer time"
    midnight = datetime.combine(place.day, time(), tzinfo=zone)
    assert round((noon - midnight).total_seconds() / 60) == place.noon_minutes
    assert place.is_assumed
    assert place.note


# Per species and source: (from, to) by the source's clock, hours from midnight of the opening
# date, of brushing and of gathering; None where an end is an event of the sun. Paull & Duarte
# 2011, ch. 6; Melo et al. 2002; Schroeder 1970-71; du Preez 2001; Pinto et al. 2005, as quoted.
CLOCK = {
    # Sunrise to about 11:00 (common practice); shed at about 02:00 of the next night.
    ("sugar-apple", "paull-duarte-2011"): ([(None, 11)], [(26, 35)]),
    ("sugar-apple", "long-morning"): ([(None, 12)], []),
    # Two to three hours after opening in dry weather.
    ("sugar-apple", "mansour-1997"): ([(None, None)], []),
    # 16:00 to 08:00; 15:00 to 18:00 on the same or on the next day.
    ("atemoya", "paull-duarte-2011"): ([(16, 32)], [(15, 18), (39, 42)]),
    ("atemoya", "duarte-1997"): ([(16, 18)], []),
    ("atemoya", "du-preez-2001"): ([(5, 9.5)], [(15, 16)]),
    ("atemoya", "mansour-1997"): ([(16, 19)], []),
    # Opens 07:00 to 09:00, sheds 15:00 to 18:00.
    ("cherimoya", "paull-duarte-2011"): ([(7, 15)], [(15, 18)]),
    # Female from 13:00 for 26 hours, then male for 2.
    ("cherimoya", "melo-2002"): ([(13, 39)], [(39, 41)]),
    # 5 hours before the female stage and 26 in it, the shortest that are given.
    ("cherimoya", "peru-manual"): ([(7, 38)], [(None, None)]),
    # 2 to 6 hours; the last flowers open at 09:00.
    ("cherimoya", "schroeder-1971"): ([(7, 15)], []),
    ("cherimoya", "du-preez-2001"): ([(5, 9.5)], [(15, 16)]),
    ("cherimoya", "mansour-1997"): ([(7, 12)], []),
    # Opens 12:00 to 20:00 and 04:00 to 08:00, sheds 04:00 to 08:00.
    ("soursop", "web-article"): ([(4, 8), (12, 20)], [(4, 8)]),
    # About 09:00, some 19 hours after the pollen flowers were collected.
    ("soursop", "pinto-ramos-1999"): ([(8, 10)], [(13, 15)]),
}


def test_every_source_ships_with_its_own_hours() -> None:
    found = {
        (source.species, source.code): tuple(
            [(window.opens.clock, window.closes.clock) for window in part.windows]
            for part in (source.brush, source.gather)
        )
        for source in SOURCES
    }
    assert found == CLOCK


@pytest.mark.parametrize("source", SOURCES, ids=lambda source: f"{source.species} {source.code}")
def test_hours_by_the_clock_are_held_by_the_sun_of_the_place(source: Source) -> None:
    """Derived anew: the instant that the clock names at some place that ships, from its noon."""
    for part in (source.brush, source.gather):
        for window in part.windows:
            for edge in (window.opens, window.closes):
                if edge.clock is not None:
                    assert edge.anchor == Anchor.SOLAR_NOON
                    assert edge.minutes in {minutes_from_noon(edge.clock, at) for at in PLACES}


def minutes_from_noon(clock: float, place: Place) -> int:
    zone = ZoneInfo(place.time_zone)
    noon = sun_day(place.latitude, place.longitude, place.time_zone, place.day).noon
    minutes = (noon - datetime.combine(place.day, time(), tzinfo=zone)).total_seconds() / 60
    return round(clock * 60) - round(minutes)


@pytest.mark.parametrize(
    ("species", "words"),
    [
        # 11:00 at Taitung, whose sun is highest at 11:53
        ("sugar-apple", "from sunrise to 53 minutes before solar noon"),
        # 16:00 and 08:00 at Delhi, whose sun is highest at 12:18
        (
            "atemoya",
            "from 3 hours and 42 minutes after solar noon to 4 hours and 18 minutes before solar"
            " noon of the next day",
        ),
        # 07:00 and 15:00 at Honolulu, whose sun is highest at 12:28
        (
            "cherimoya",
            "from 5 hours and 28 minutes before solar noon to 2 hours and 32 minutes after solar"
            " noon",
        ),
    ],
)
def test_hours_are_told_by_the_sun(species: str, words: str) -> None:
    assert in_words(sources_of(species)[0].brush.windows) == words


@pytest.mark.parametrize("species", SPECIES)
def test_one_source_of_a_species_is_its_default_and_comes_first(species: str) -> None:
    assert [source.is_default for source in sources_of(species)] == [
        True,
        *[False] * (len(sources_of(species)) - 1),
    ]


def test_weak_sources_say_why_and_soursop_has_no_other() -> None:
    weak = {(source.species, source.code) for source in SOURCES if source.is_weak}
    assert weak == {
        ("atemoya", "du-preez-2001"),
        ("cherimoya", "du-preez-2001"),
        ("cherimoya", "peru-manual"),
        ("soursop", "web-article"),
        ("soursop", "pinto-ramos-1999"),
    }
    held = hours_held("soursop")
    assert held.brush.is_weak
    assert "web article" in held.brush.notes[0]


# Which hours hold --------------------------------------------------------------------------------


def test_custard_apple_has_no_hours_until_the_farm_enters_its_own() -> None:
    held = hours_held("custard-apple")
    assert (held.brush.windows, held.brush.source) == ((), None)
    assert "No hours are published" in str(held.brush.reason)
    own = hours_held("custard-apple", FarmHours(brush=morning(), source="Own counts."))
    assert (own.brush.windows, own.brush.source, own.brush.is_own) == (
        (morning(),),
        "Own counts.",
        True,
    )
    assert own.gather.windows == ()


def test_a_chosen_source_holds_and_the_default_fills_what_it_leaves_out() -> None:
    held = hours_held("cherimoya", FarmHours(chosen="schroeder-1971"))
    assert (held.brush.source_code, held.brush.is_default) == ("schroeder-1971", False)
    assert (held.gather.source_code, held.gather.is_default) == ("paull-duarte-2011", True)


def test_a_source_of_another_species_gives_no_hours_and_says_so() -> None:
    held = hours_held("atemoya", FarmHours(chosen="web-article"))
    assert held.brush.windows == held.gather.windows == ()
    assert "web-article" in str(held.brush.reason)


@pytest.mark.parametrize(
    ("opens", "closes"),
    [
        (Edge(anchor=Anchor.SUNRISE, minutes=60), Edge(anchor=Anchor.SUNRISE, minutes=60)),
        (Edge(anchor=Anchor.SUNSET, minutes=0), Edge(anchor=Anchor.SUNRISE, minutes=0)),
        (Edge(anchor=Anchor.SOLAR_NOON, minutes=10), Edge(anchor=Anchor.SUNRISE, minutes=300)),
    ],
)
def test_hours_that_end_before_they_begin_are_refused(opens: Edge, closes: Edge) -> None:
    with pytest.raises(WindowError):
        Window(opens=opens, closes=closes)


# Sessions ----------------------------------------------------------------------------------------


def morning() -> Window:
    return Window(
        opens=Edge(anchor=Anchor.SUNRISE, minutes=0),
        closes=Edge(anchor=Anchor.SOLAR_NOON, minutes=-180),
    )


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
        "Flowers of 12 May shed on the day they open, as the afternoon is warm and damp."
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
