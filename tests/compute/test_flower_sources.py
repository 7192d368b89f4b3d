"""The hours of flowers that ship, by whose clock, and which of them hold on a farm."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from planning.compute.pollination_windows import (
    SOURCES,
    Anchor,
    Edge,
    FarmHours,
    Source,
    Window,
    WindowError,
    hours_held,
    in_words,
    sources_of,
)
from planning.compute.pollination_windows.places import PLACES
from planning.compute.pollination_windows.values import Place
from planning.compute.sun import sun_day

SPECIES = ("sugar-apple", "atemoya", "cherimoya", "soursop")


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
            " noon of the day after they open",
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


def morning() -> Window:
    return Window(
        opens=Edge(anchor=Anchor.SUNRISE, minutes=0),
        closes=Edge(anchor=Anchor.SOLAR_NOON, minutes=-180),
    )


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
