"""When the blocks' crops opened and bloomed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from orchard.demo.cast import Cast, Farm, Species
from orchard.demo.course import season_luck
from orchard.demo.harvest import seasons_picked
from orchard.demo.stands import bearing_stands
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A block's main crop; `bloom_began_on` is None until bloom is seen."""

    farm: str
    block: str
    season_year: int
    opened_by: str
    opened_on: date
    bloom_began_on: date | None


def crops(cast: Cast) -> list[Crop]:
    """Every crop opened by the cast's day: of the seasons picked, and of one still to be picked."""
    return [
        crop
        for farm in cast.farms
        for season in _seasons(cast, farm)
        for crop in _season_crops(cast, farm, season)
        if crop.opened_on <= cast.as_of
    ]


def _seasons(cast: Cast, farm: Farm) -> list[Season]:
    picked = [season for season, _ in seasons_picked(cast, farm)]
    this_season = farm.season_of(cast.as_of)
    return picked if this_season in picked else [*picked, this_season]


def _season_crops(cast: Cast, farm: Farm, season: Season) -> Iterator[Crop]:
    stands = bearing_stands(cast, farm, season)
    for block, of_block in groupby(stands, key=lambda stand: stand.block.code):
        species = cast.species_by_code[next(of_block).cultivar.species]
        yield _crop(cast, farm, season, block, species)


def _crop(cast: Cast, farm: Farm, season: Season, block: str, species: Species) -> Crop:
    late = farm.picking.lateness_days + season_luck(farm, season).days_late
    opened_on = season.starts_on + timedelta(days=species.opens_on_day - 1 + late)
    bloom_began_on = season.starts_on + timedelta(days=species.blooms_on_day - 1 + late)
    return Crop(
        farm=farm.code,
        block=block,
        season_year=season.year,
        opened_by=species.opened_by,
        opened_on=opened_on,
        bloom_began_on=bloom_began_on if bloom_began_on <= cast.as_of else None,
    )
