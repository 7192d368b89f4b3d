"""What bears in a season: trees of one cultivar in one block, or one tree weighed by itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby
from math import fsum

from orchard.demo.cast import Block, Cast, Cultivar, Farm, Tree
from records.seasons import Season

SEASONS_TO_FULL_CROP = 5  # from a tree's first crop to its full one (value from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Trees that crop as `full_grown_trees` would; `place` is the row and position of one tree."""

    block: Block
    cultivar: Cultivar
    full_grown_trees: float
    place: tuple[int, int] | None = None


def bearing_fraction(age_years: int, bearing_age_years: int) -> float:
    """Part of a full-grown tree's crop, rising in equal steps from the first crop on."""
    crops_borne = age_years - bearing_age_years + 1
    return min(max(crops_borne / SEASONS_TO_FULL_CROP, 0.0), 1.0)


def bearing_stands(cast: Cast, farm: Farm, season: Season) -> Iterator[Stand]:
    """The farm's stands with a crop in the season, block by block."""
    for block in farm.blocks:
        for stand in (*_line_stands(cast, block, season), *_tree_stands(cast, farm, block, season)):
            if stand.full_grown_trees > 0:
                yield stand


def _line_stands(cast: Cast, block: Block, season: Season) -> Iterator[Stand]:
    for line in block.planting_lines:
        cultivar = cast.cultivar_by_name[line.cultivar]
        fraction = _fraction(cast, cultivar, season.year - line.planted_year)
        yield Stand(block=block, cultivar=cultivar, full_grown_trees=line.tree_count * fraction)


def _tree_stands(cast: Cast, farm: Farm, block: Block, season: Season) -> list[Stand]:
    stands = [
        Stand(
            block=block,
            cultivar=cultivar,
            full_grown_trees=share * _tree_fraction(cast, farm, tree, season),
            place=(tree.row, tree.position),
        )
        for tree in block.trees
        for cultivar, share in _crown(cast, tree, season)
    ]
    return stands if block.weighed_by_tree else _by_cultivar(block, stands)


def _by_cultivar(block: Block, stands: list[Stand]) -> list[Stand]:
    in_order = sorted(stands, key=lambda stand: stand.cultivar.name)
    return [
        Stand(
            block=block,
            cultivar=cultivar,
            full_grown_trees=fsum(stand.full_grown_trees for stand in same),
        )
        for cultivar, same in groupby(in_order, key=lambda stand: stand.cultivar)
    ]


def _crown(cast: Cast, tree: Tree, season: Season) -> list[tuple[Cultivar, float]]:
    """Which cultivars bear on a tree and how much; a graft bears from the season after it."""
    graft = tree.graft if tree.graft and tree.graft.grafted_on < season.starts_on else None
    grafted = graft.share_percent / 100 if graft else 0.0
    crown = [(cast.cultivar_by_name[tree.cultivar], 1 - grafted)]
    return [*crown, (cast.cultivar_by_name[graft.cultivar], grafted)] if graft else crown


def _tree_fraction(cast: Cast, farm: Farm, tree: Tree, season: Season) -> float:
    cultivar = cast.cultivar_by_name[tree.cultivar]
    picking_starts_on = season.starts_on + timedelta(days=cultivar.picking_starts_on_day - 1)
    if not tree.stands_on(picking_starts_on):
        return 0.0
    return _fraction(cast, cultivar, season.year - farm.season_of(tree.planted_on).year)


def _fraction(cast: Cast, cultivar: Cultivar, age_years: int) -> float:
    species = cast.species_by_code[cultivar.species]
    return bearing_fraction(age_years, species.bearing_age_years)
