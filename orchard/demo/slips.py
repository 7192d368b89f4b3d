"""The slips that members make: one each in the file of the season that is to be settled.

They are there to be found. Each is as a person would make it: a decimal mark forgotten, a scale
left in pounds, day and month swapped, a docket written out twice.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from orchard.demo.cast import Cast, Farm
from orchard.demo.harvest import GRAMS, Weighing, weighings

WELL_OUTSIDE = timedelta(days=30)  # of the days of picking
# Of the weighings that are slipped on, so that it is seen.
LARGE_KG = 10
FULL_CRATES = 3


def written(cast: Cast) -> list[Weighing]:
    """What every member weighed, as it stands in their files."""
    farms = {farm.code: farm for farm in cast.farms}
    by_season = groupby(weighings(cast), key=lambda one: (one.farm, one.season_year))
    return [
        one
        for (code, season_year), picked in by_season
        for one in _with_slips(cast, farms[code], season_year, list(picked))
    ]


def _with_slips(cast: Cast, farm: Farm, season_year: int, picked: list[Weighing]) -> list[Weighing]:
    is_to_settle = season_year == farm.season_of(cast.as_of).year - 1
    return SLIPS[farm.slip](picked) if farm.slip and is_to_settle else picked


def tenfold(picked: list[Weighing]) -> list[Weighing]:
    """The decimal mark of a gross weight left out."""
    at = _middle(picked, lambda one: bool(one.gross_g) and (one.containers or 0) >= FULL_CRATES)
    gross_g = picked[at].gross_g or 0
    written = replace(picked[at], gross_g=10 * gross_g, net_g=(picked[at].net_g or 0) + 9 * gross_g)
    return [*picked[:at], written, *picked[at + 1 :]]


def pounds(picked: list[Weighing]) -> list[Weighing]:
    """Read off in pounds, written below a heading that says kilos."""
    at = _middle(picked, lambda one: (one.net_g or 0) > LARGE_KG * 1000)
    written_g = Decimal(picked[at].net_g or 0) / GRAMS["lb"] * GRAMS["kg"]
    tenth = round(written_g / 100) * 100
    return [*picked[:at], replace(picked[at], net_g=tenth), *picked[at + 1 :]]


def swapped_date(picked: list[Weighing]) -> list[Weighing]:
    """Day and month of one day's lines the wrong way round."""
    first, last = picked[0].picked_on, picked[-1].picked_on
    days = dict.fromkeys(one.picked_on for one in picked)
    wrong = {
        day: swapped
        for day in days
        if (swapped := _swapped(day)) and not first - WELL_OUTSIDE <= swapped <= last + WELL_OUTSIDE
    }
    day = list(wrong)[len(wrong) // 2]
    return [replace(one, picked_on=wrong[day]) if one.picked_on == day else one for one in picked]


def twice(picked: list[Weighing]) -> list[Weighing]:
    """A docket written out again under another number."""
    dockets = [list(lines) for _, lines in groupby(picked, key=lambda one: one.docket)]
    again = dockets[len(dockets) // 2]
    copies = [replace(one, docket=f"{one.docket}A") for one in again]
    after = picked.index(again[-1]) + 1
    return [*picked[:after], *copies, *picked[after:]]


SLIPS: dict[str, Callable[[list[Weighing]], list[Weighing]]] = {
    "tenfold": tenfold,
    "pounds": pounds,
    "swapped-date": swapped_date,
    "twice": twice,
}


def _middle(picked: Sequence[Weighing], fits: Callable[[Weighing], bool]) -> int:
    """The place of a weighing in the middle of those that fit."""
    places = [place for place, one in enumerate(picked) if fits(one)]
    return places[len(places) // 2]


def _swapped(day: date) -> date | None:
    return date(day.year, day.day, day.month) if day.day <= 12 and day.day != day.month else None
