"""Plausible weighings of the cast's harvests, the same for every run of one day.

Every draw is seeded from farm, season and planting, never from the clock, and a whole season is
drawn before it is cut at the cast's day: within a season, a later day only adds weighings.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import groupby
from math import ceil
from random import Random

from orchard.demo.cast import Cast, Farm, Grade
from orchard.demo.course import picking_days, season_luck
from orchard.demo.stands import Stand, bearing_stands
from records.seasons import Season

# Grams a unit; the pound is exact (NIST Handbook 44, Appendix C, value from memory).
GRAMS = {"kg": Decimal(1000), "lb": Decimal("453.59237")}
SEASONS_SHOWN = 3
FEWEST_FRUIT = 3  # fewer than this of a grade are left to ripen until the next picking


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One line of a picking: fruit of one block, cultivar and grade on one scale.

    `net_g` is what is known of the fruit alone, None where only crates were counted. `minutes`
    are those of all pickers together.
    """

    farm: str
    season_year: int
    picked_on: date
    block: str
    cultivar: str
    row: int | None = None
    position: int | None = None
    grade: str | None = None
    net_g: int | None = None
    gross_g: int | None = None
    containers: int | None = None
    container: str | None = None
    fruit_count: int | None = None
    pickers: tuple[str, ...] = ()
    minutes: int | None = None
    docket: str | None = None
    line: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Fruit of one grade picked from one stand on one day, before it meets a scale."""

    picked_on: date
    net_g: float
    mean_fruit_g: float
    grade: Grade | None
    pickers: tuple[str, ...]


def weighings(cast: Cast) -> list[Weighing]:
    """What every member weighed up to the cast's day, farm by farm in picking order."""
    return [
        weighing
        for farm in cast.farms
        for _, picked in seasons_picked(cast, farm)
        for weighing in picked
    ]


def seasons_picked(cast: Cast, farm: Farm) -> list[tuple[Season, list[Weighing]]]:
    """The farm's three latest seasons with weighings, and those up to the cast's day."""
    this_year = farm.season_of(cast.as_of).year
    seasons = [farm.season_span(this_year - ago) for ago in range(SEASONS_SHOWN, -1, -1)]
    picked = [
        (season, _until(cast.as_of, season_weighings(cast, farm, season))) for season in seasons
    ]
    return [(season, found) for season, found in picked if found][-SEASONS_SHOWN:]


def _until(day: date, found: list[Weighing]) -> list[Weighing]:
    return [weighing for weighing in found if weighing.picked_on <= day]


def season_weighings(cast: Cast, farm: Farm, season: Season) -> list[Weighing]:
    """One farm's whole season in picking order, however much of it is still to come."""
    found = [
        weighing
        for stand in bearing_stands(cast, farm, season)
        for weighing in _stand_weighings(cast, farm, season, stand)
    ]
    found.sort(key=lambda weighing: weighing.picked_on)
    prefix = farm.picking.docket_prefix
    return _with_dockets(f"{prefix}{season.year % 100:02d}", found) if prefix else found


def stand_crop_g(cast: Cast, farm: Farm, season: Season, stand: Stand) -> float:
    """The crop of a stand in grams: its full-grown trees, times the luck of year, farm and tree."""
    species = cast.species_by_code[stand.cultivar.species]
    farm_luck = Random(f"{farm.code} {season.year}").uniform(0.95, 1.05)
    luck = season_luck(farm, season).crop * farm_luck * _stand_luck(farm, season, stand)
    return stand.full_grown_trees * species.mature_kg * 1000 * luck


def _stand_luck(farm: Farm, season: Season, stand: Stand) -> float:
    """A stand of many trees hardly varies; of two trees one is always the better, in any year."""
    season_rng = _rng(farm, stand, "luck", season.year)
    if stand.place is None:
        return season_rng.uniform(0.97, 1.03)
    return _rng(farm, stand, "vigour").uniform(0.75, 1.25) * season_rng.uniform(0.9, 1.1)


def _rng(farm: Farm, stand: Stand, *subject: str | int) -> Random:
    return Random(f"{farm.code} {stand.block.code} {stand.place} {stand.cultivar.name} {subject}")


def _stand_weighings(cast: Cast, farm: Farm, season: Season, stand: Stand) -> Iterator[Weighing]:
    rng = _rng(farm, stand, "picking", season.year)
    row, position = stand.place or (None, None)
    for load in _loads(cast, farm, season, stand, rng):
        blank = Weighing(
            farm=farm.code,
            season_year=season.year,
            picked_on=load.picked_on,
            block=stand.block.code,
            cultivar=stand.cultivar.name,
            row=row,
            position=position,
            grade=load.grade.code if load.grade else None,
            pickers=load.pickers,
        )
        for part_g in _parts(farm, load, rng):
            yield _weigh(farm, blank, part_g, load.mean_fruit_g, rng)


def _loads(cast: Cast, farm: Farm, season: Season, stand: Stand, rng: Random) -> Iterator[Load]:
    days = picking_days(farm, season, stand)
    crop_g = stand_crop_g(cast, farm, season, stand)
    mean_fruit_g = stand.cultivar.mean_fruit_g * season_luck(farm, season).fruit_weight
    for day, day_share in zip(days, _day_shares(len(days), rng), strict=True):
        pickers = _pickers(cast.workers(farm.code), rng)
        for grade, share in _grade_shares(farm, stand, rng):
            size = rng.uniform(0.94, 1.06) * (1 if grade is None or grade.is_marketable else 0.9)
            yield Load(
                picked_on=day,
                net_g=crop_g * day_share * share,
                mean_fruit_g=mean_fruit_g * size,
                grade=grade,
                pickers=pickers,
            )


def _day_shares(days: int, rng: Random) -> list[float]:
    """Parts of the crop by picking day: a hump that leans to the early side."""
    middles = [(day + 0.5) / days for day in range(days)]
    weights = [x * (1 - x) * (1.4 - x) * rng.uniform(0.75, 1.25) for x in middles]
    return [weight / sum(weights) for weight in weights]


def _grade_shares(farm: Farm, stand: Stand, rng: Random) -> list[tuple[Grade | None, float]]:
    """Single trees are weighed for the tree's sake and not graded."""
    if stand.place is not None:
        return [(None, 1.0)]
    weights = [grade.share * rng.uniform(0.85, 1.15) for grade in farm.grades]
    return [
        (grade, weight / sum(weights)) for grade, weight in zip(farm.grades, weights, strict=True)
    ]


def _pickers(workers: list[str], rng: Random) -> tuple[str, ...]:
    first = int(rng.random() * len(workers))
    count = 1 + int(rng.random() * len(workers))
    return tuple((workers + workers)[first : first + count])


def _parts(farm: Farm, load: Load, rng: Random) -> list[float]:
    """A load goes over the scale in as many parts as its size asks for."""
    fewest = 1 if load.grade is None else FEWEST_FRUIT
    if load.net_g < fewest * load.mean_fruit_g:
        return []
    count = ceil(load.net_g / (farm.picking.largest_weighing_kg * 1000))
    weights = [rng.uniform(0.9, 1.1) for _ in range(count)]
    return [load.net_g * weight / sum(weights) for weight in weights]


def _weigh(farm: Farm, blank: Weighing, net_g: float, mean_fruit_g: float, rng: Random) -> Weighing:
    hours = net_g / 1000 / farm.picking.kg_an_hour
    minutes = max(1, round(hours * 60 * rng.uniform(0.85, 1.2)))
    timed = replace(blank, minutes=minutes)
    if farm.picking.crates is not None:
        return _crated(farm, timed, net_g, rng)
    shown_g = scale_reading_g(farm, net_g)
    count = max(1, round(shown_g / mean_fruit_g)) if farm.picking.counts_fruit else None
    return replace(timed, net_g=shown_g, fruit_count=count)


def _crated(farm: Farm, blank: Weighing, net_g: float, rng: Random) -> Weighing:
    """Full crates on the scale; now and then they are only counted."""
    habits = farm.picking
    container = farm.container(habits.crates or "")
    count = ceil(net_g / container.usual_net_g)
    crated = replace(blank, containers=count, container=container.code)
    if rng.random() < habits.unweighed_share:
        return replace(crated, note=habits.unweighed_note)
    gross_g = scale_reading_g(farm, net_g + count * container.tare_g)
    return replace(crated, gross_g=gross_g, net_g=gross_g - count * container.tare_g)


def scale_reading_g(farm: Farm, weight_g: float) -> int:
    """What the farm's scale shows, in whole grams (half to even, as on import)."""
    unit_g = GRAMS[farm.sheet.weight_unit]
    steps = round(weight_g / float(unit_g * farm.picking.scale_step))
    shown = steps * farm.picking.scale_step * unit_g
    return int(shown.quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def _with_dockets(prefix: str, found: list[Weighing]) -> list[Weighing]:
    """One docket a picking day, its lines numbered from 1."""
    days = groupby(found, key=lambda weighing: weighing.picked_on)
    return [
        replace(weighing, docket=f"{prefix}-{number:03d}", line=line)
        for number, (_, lines) in enumerate(days, start=1)
        for line, weighing in enumerate(lines, start=1)
    ]
