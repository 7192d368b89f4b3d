"""Which species a block is planted with, as its schedule goes by one species a block."""

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.queries.stands import StandKey, stands
from records.models import Block, Cultivar, Species


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """The species with most trees on a block, and the others; known cultivars in that order."""

    main: Species
    others: tuple[Species, ...] = ()
    cultivars: tuple[Cultivar, ...] = ()


def planted_blocks(blocks: Sequence[Block], today: dt.date) -> dict[UUID, Planted]:
    """Blocks with trees or planting lines of a known species, in four queries."""
    keys = [StandKey(block_id=block.pk, season_year=today.year, day=today) for block in blocks]
    standing = {
        place[0]: {cultivar: trees.standing for cultivar, trees in stand.by_cultivar.items()}
        for place, stand in stands(keys).items()
    }
    cultivar_ids = {cultivar for trees in standing.values() for cultivar in trees if cultivar}
    cultivars = Cultivar.objects.select_related("species").in_bulk(cultivar_ids)
    found = {block_id: _by_number(trees, cultivars) for block_id, trees in standing.items()}
    return {
        block_id: Planted(
            main=species[0],
            others=tuple(species[1:]),
            cultivars=_cultivars(standing[block_id], cultivars),
        )
        for block_id, species in found.items()
        if species
    }


def _cultivars(
    trees: Mapping[UUID | None, int], cultivars: Mapping[UUID, Cultivar]
) -> tuple[Cultivar, ...]:
    """Cultivars of a block, the one with most trees first."""
    known = [
        (number, cultivars[pk])
        for pk, number in trees.items()
        if pk is not None and pk in cultivars and number
    ]
    known.sort(key=lambda each: (-each[0], each[1].name, each[1].pk))
    return tuple(cultivar for _, cultivar in known)


def _by_number(
    trees: Mapping[UUID | None, int], cultivars: Mapping[UUID, Cultivar]
) -> list[Species]:
    """Species of a block, the one with most trees first."""
    numbers: Counter[UUID] = Counter()
    species: dict[UUID, Species] = {}
    for cultivar_id, number in trees.items():
        if cultivar_id is not None and cultivar_id in cultivars:
            kind = cultivars[cultivar_id].species
            species[kind.pk] = kind
            numbers[kind.pk] += number
    order = sorted(species.values(), key=lambda kind: (-numbers[kind.pk], kind.code))
    return [kind for kind in order if numbers[kind.pk]]
