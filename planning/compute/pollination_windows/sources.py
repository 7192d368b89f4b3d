"""What is published about the hours of each species' flowers; conflicting sources all ship.

Hours that a source gives by the clock are held as solar time at its place (`places`). Where a
source gives one part only (when to brush, or when to gather), the other is empty and says so.
"""

from planning.compute.pollination_windows.places import (
    CERRADO,
    HAWAII,
    HONDURAS,
    NELSPRUIT,
    NORTHERN_INDIA,
    NOWHERE,
    SAO_PAULO,
    TAITUNG,
    by_clock,
)
from planning.compute.pollination_windows.values import (
    Anchor,
    Edge,
    Hours,
    Place,
    PollenDay,
    Source,
    Window,
)

PAULL_DUARTE = "Paull & Duarte 2011, Tropical Fruits vol. 1, ch. 6"
COMMON = "common practice, no source"
DU_PREEZ = "du Preez 2001, conference talk on annonas, Nelspruit"
MANSOUR = "Mansour 1997, quoted in Pinto et al. 2005"
PINTO_RAMOS = "Pinto & Ramos 1999"
WEB = "a web article, at second hand"
PERU = "practical manual for cherimoya, Peru"
SCHROEDER = "Schroeder 1970-71, California Avocado Society Yearbook 54:119-122"
MELO = "Melo et al. 2002, Revista Brasileira de Fruticultura 24(3)"
DUARTE = "Duarte et al. 1997, in Paull & Duarte 2011, ch. 6"

SUNRISE = Edge(anchor=Anchor.SUNRISE, minutes=0)
DRY_NOTE = "In dry weather a flower takes pollen for only two to three hours after it opens."
NO_POLLEN_HOURS = "This source says nothing of the hours in which pollen is shed."


def _clock(opens: float, closes: float, place: Place, when: PollenDay | None = None) -> Window:
    return Window(opens=by_clock(opens, place), closes=by_clock(closes, place), when=when)


def _hours(source: str, *windows: Window) -> Hours:
    return Hours(windows=windows, source=source)


def _none(source: str, reason: str) -> Hours:
    return Hours(windows=(), source=source, reason=reason)


def _after_sunrise(minutes: int) -> Window:
    return Window(opens=SUNRISE, closes=Edge(anchor=Anchor.SUNRISE, minutes=minutes))


def _dry(species: str, window: Window, place: Place | None, opening: str) -> Source:
    """The rule for dry weather, which holds for any species whose opening hour is known."""
    return Source(
        code="mansour-1997",
        species=species,
        brush=_hours(MANSOUR, window),
        gather=_none(MANSOUR, NO_POLLEN_HOURS),
        place=place,
        notes=(DRY_NOTE, opening),
    )


def _du_preez(species: str) -> Source:
    return Source(
        code="du-preez-2001",
        species=species,
        brush=_hours(DU_PREEZ, _clock(5, 9.5, NELSPRUIT)),
        gather=_hours(DU_PREEZ, _clock(15, 16, NELSPRUIT)),
        place=NELSPRUIT,
        why_weak="A talk about annonas at large; it does not give the hours by species.",
        notes=(
            "Working hours, from 5:00 or 6:00 to 9:30; it says that nothing pollinated after"
            " 10:00 sets.",
            "The pollen gathered in the afternoon is used on the next morning.",
        ),
    )


SUGAR_APPLE = (
    Source(
        code="paull-duarte-2011",
        species="sugar-apple",
        brush=_hours(
            f"{PAULL_DUARTE}: receptive from opening; sunrise to about 11:00 is {COMMON}",
            Window(opens=SUNRISE, closes=by_clock(11, TAITUNG)),
        ),
        gather=_hours(
            f"{PAULL_DUARTE}: shed at about 02:00; its end with the brushing is {COMMON}",
            Window(opens=by_clock(26, HAWAII), closes=by_clock(35, TAITUNG)),
        ),
        place=TAITUNG,
        is_default=True,
        notes=(
            HAWAII.note,
            "The pollen is that of the flowers of the day before.",
        ),
    ),
    Source(
        code="long-morning",
        species="sugar-apple",
        brush=_hours(
            f"{COMMON}: sunrise to about 12:00",
            Window(opens=SUNRISE, closes=by_clock(12, TAITUNG)),
        ),
        gather=_none(COMMON, NO_POLLEN_HOURS),
        place=TAITUNG,
        notes=("The longer of two ends that are usual: about 11:00, and about 12:00.",),
    ),
    _dry(
        "sugar-apple",
        _after_sunrise(180),
        None,
        "The hour of opening is not given for sugar apple; sunrise is assumed.",
    ),
)

ATEMOYA = (
    Source(
        code="paull-duarte-2011",
        species="atemoya",
        brush=_hours(f"{PAULL_DUARTE}, from Thakur & Singh 1964", _clock(16, 32, NORTHERN_INDIA)),
        gather=_hours(
            f"{PAULL_DUARTE}, from Thakur & Singh 1964",
            _clock(15, 18, NORTHERN_INDIA, PollenDay.SAME_DAY),
            _clock(39, 42, NORTHERN_INDIA, PollenDay.NEXT_DAY),
        ),
        place=NORTHERN_INDIA,
        is_default=True,
        notes=(
            "Flowers are receptive for about 24 hours after they open.",
            "The same day is read as the date on which the flower opens.",
        ),
    ),
    Source(
        code="duarte-1997",
        species="atemoya",
        brush=_hours(DUARTE, _clock(16, 18, HONDURAS)),
        gather=_none(DUARTE, NO_POLLEN_HOURS),
        place=HONDURAS,
        notes=(
            "A trial with one cultivar: about 47 % set from 16:00 to 18:00, and about 12 % from"
            " 6:30 to 8:30.",
        ),
    ),
    _du_preez("atemoya"),
    _dry(
        "atemoya",
        _clock(16, 19, NORTHERN_INDIA),
        NORTHERN_INDIA,
        f"The hour of opening is that of {PAULL_DUARTE}: 16:00.",
    ),
)

OPENS_7_TO_9 = f"The hours of opening are those of {PAULL_DUARTE}: 07:00 to 09:00."
CHERIMOYA = (
    Source(
        code="paull-duarte-2011",
        species="cherimoya",
        brush=_hours(PAULL_DUARTE, _clock(7, 15, HAWAII)),
        gather=_hours(PAULL_DUARTE, _clock(15, 18, HAWAII)),
        place=HAWAII,
        is_default=True,
        notes=(
            "Flowers open from 07:00 to 09:00; early in that time fewer are open.",
            "The book gives no end of the receptive hours; they are taken to end when pollen is"
            " shed, as the flowers are female first.",
            "A trial in New Zealand set 59 % in the evening and 46 % in the morning (New Zealand"
            " notes on hand pollination).",
        ),
    ),
    Source(
        code="melo-2002",
        species="cherimoya",
        brush=_hours(MELO, _clock(13, 39, SAO_PAULO)),
        gather=_hours(MELO, _clock(39, 41, SAO_PAULO)),
        place=SAO_PAULO,
        notes=(
            "The female stage starts at 13:00 and lasts about 26 hours, the male stage about 2.",
        ),
    ),
    Source(
        code="peru-manual",
        species="cherimoya",
        brush=_hours(PERU, _clock(7, 38, HAWAII)),
        gather=_hours(
            PERU,
            Window(
                opens=Edge(anchor=Anchor.SOLAR_NOON, minutes=1440),
                closes=Edge(anchor=Anchor.SUNSET, minutes=1440),
            ),
        ),
        place=HAWAII,
        why_weak="A practical manual that tells how long the stages last and not when they begin.",
        notes=(
            "Receptive for 5 to 20 hours before the female stage, which lasts 26 to 28 hours: the"
            " shortest are taken, 31 hours in all. Pollen is shed on the afternoon of the next"
            " day, taken as solar noon to sunset.",
            OPENS_7_TO_9,
        ),
    ),
    Source(
        code="schroeder-1971",
        species="cherimoya",
        brush=_hours(SCHROEDER, _clock(7, 15, HAWAII)),
        gather=_none(SCHROEDER, "It says that pollen is shed afterwards, and gives no hours."),
        place=HAWAII,
        notes=(
            "Each flower is receptive for 2 to 6 hours, and less when it is hot and dry: the last"
            " to open, at 09:00, until 15:00.",
            OPENS_7_TO_9,
        ),
    ),
    _du_preez("cherimoya"),
    _dry("cherimoya", _clock(7, 12, HAWAII), HAWAII, OPENS_7_TO_9),
)

SOURSOP = (
    Source(
        code="web-article",
        species="soursop",
        brush=_hours(WEB, _clock(4, 8, NOWHERE), _clock(12, 20, NOWHERE)),
        gather=_hours(WEB, _clock(4, 8, NOWHERE)),
        place=NOWHERE,
        is_default=True,
        why_weak=(
            "The hours come from a web article that names neither place nor trial. Count what sets"
            " at which hour, and enter the farm's own hours."
        ),
        notes=("Flowers open mainly from 12:00 to 20:00 and from 04:00 to 08:00.",),
    ),
    Source(
        code="pinto-ramos-1999",
        species="soursop",
        brush=_hours(PINTO_RAMOS, _clock(8, 10, CERRADO)),
        gather=_hours(PINTO_RAMOS, _clock(13, 15, CERRADO)),
        place=CERRADO,
        why_weak="One trial's way of working, at about one hour; an hour on either side is added.",
        notes=(
            "Pollinated at about 09:00, some 19 hours after the pollen flowers were collected;"
            " 73 % set by hand, 26 % without.",
        ),
    ),
)

SOURCES = (*SUGAR_APPLE, *ATEMOYA, *CHERIMOYA, *SOURSOP)
BY_KEY = {(source.species, source.code): source for source in SOURCES}


def sources_of(species: str) -> tuple[Source, ...]:
    """What ships for a species by its code, the default first; nothing for custard apple."""
    found = [source for source in SOURCES if source.species == species]
    return tuple(sorted(found, key=lambda source: not source.is_default))
