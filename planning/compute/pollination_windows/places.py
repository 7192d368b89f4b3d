"""The places at which the sources' clocks are taken to hang.

`noon_minutes` is what `planning.compute.sun` gives for the place and day, to the minute.
"""

from datetime import date

from planning.compute.pollination_windows.values import (
    MINUTES_AN_HOUR,
    Anchor,
    Edge,
    Place,
)

HAWAII = Place(
    name="Honolulu, Hawaii",
    latitude=21.31,
    longitude=-157.86,
    time_zone="Pacific/Honolulu",
    day=date(2001, 5, 15),
    noon_minutes=748,
    is_assumed=True,
    note=(
        "The book names no place. Hawaii, where its first author worked (value from memory), and"
        " the middle of May are assumed."
    ),
)
NORTHERN_INDIA = Place(
    name="Delhi, northern India",
    latitude=28.6,
    longitude=77.2,
    time_zone="Asia/Kolkata",
    day=date(2001, 5, 15),
    noon_minutes=738,
    is_assumed=True,
    note=(
        "The book names no place. Its figures are those of Thakur & Singh 1964; northern India"
        " (value from memory) and the middle of May are assumed."
    ),
)
TAITUNG = Place(
    name="Taitung, Taiwan",
    latitude=22.75,
    longitude=121.15,
    time_zone="Asia/Taipei",
    day=date(2001, 5, 31),
    noon_minutes=713,
    is_assumed=True,
    note=(
        "The practice is that of the northern subtropics, with bloom in May and June. Taitung, a"
        " place there, and the end of May are assumed."
    ),
)
SAO_PAULO = Place(
    name="Sao Paulo, Brazil",
    latitude=-23.55,
    longitude=-46.63,
    time_zone="America/Sao_Paulo",
    day=date(2001, 10, 1),
    noon_minutes=716,
    is_assumed=True,
    note=(
        "The paper names the state of Sao Paulo. Its capital, the first of October and a clock"
        " without summer time are assumed."
    ),
)
NELSPRUIT = Place(
    name="Nelspruit, South Africa",
    latitude=-25.47,
    longitude=30.97,
    time_zone="Africa/Johannesburg",
    day=date(2001, 11, 1),
    noon_minutes=700,
    is_assumed=True,
    note="The speaker worked at Nelspruit; that place and the first of November are assumed.",
)
HONDURAS = Place(
    name="Zamorano, Honduras",
    latitude=14.01,
    longitude=-87.01,
    time_zone="America/Tegucigalpa",
    day=date(2001, 5, 15),
    noon_minutes=704,
    is_assumed=True,
    note="The source names Honduras. Zamorano there and the middle of May are assumed.",
)
CERRADO = Place(
    name="Planaltina, Cerrado of Brazil",
    latitude=-15.6,
    longitude=-47.7,
    time_zone="America/Sao_Paulo",
    day=date(2001, 9, 1),
    noon_minutes=731,
    is_assumed=True,
    note=(
        "The trial is of the Cerrado of Brazil. Planaltina there, the first of September and a"
        " clock without summer time are assumed."
    ),
)
NOWHERE = Place(
    name="no place named",
    latitude=0.0,
    longitude=0.0,
    time_zone="Etc/UTC",
    day=date(2001, 4, 15),
    noon_minutes=720,
    is_assumed=True,
    note="No place is named. One where the sun is highest at 12:00 by the clock is assumed.",
)
PLACES = (
    HAWAII,
    NORTHERN_INDIA,
    TAITUNG,
    SAO_PAULO,
    NELSPRUIT,
    HONDURAS,
    CERRADO,
    NOWHERE,
)


def by_clock(hours: float, place: Place) -> Edge:
    """An hour of the clock at a place, from midnight of the opening date, as solar time."""
    minutes = round(hours * MINUTES_AN_HOUR) - place.noon_minutes
    return Edge(anchor=Anchor.SOLAR_NOON, minutes=minutes, clock=hours)
