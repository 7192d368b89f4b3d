"""Which species a block is planted with, as its schedule goes by one species a block."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol
from uuid import UUID

from django.db.models import Q

from planning.queries.stands import StandKey, stands
from records.models import Cultivar, PlantingLine, Species, Tree


class OnFarm(Protocol):
    """A block, as far as it is needed here."""

    @property
    def pk(self) -> UUID: ...

    @property
    def farm_id(self) -> UUID: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """The species with most trees on a block, and the others."""

    main: Species
    others: tuple[Species, ...] = ()


def planted_blocks(blocks: Sequence[OnFarm], today: dt.date) -> dict[UUID, Planted]:
    """Blocks with trees or planting lines of a known species, in five queries."""
    farms = list({block.farm_id for block in blocks})
    rows = Tree.objects.filter(farm_id__in=farms)
    listing = set(rows.values_list("block_id", flat=True).distinct())
    numbers = _of_lines(farms, today)
    numbers |= _of_trees([block.pk for block in blocks if block.pk in listing], today)
    species = Species.objects.in_bulk()
    known = {block.pk: numbers[block.pk] for block in blocks if numbers.get(block.pk)}
    return {block_id: _by_number(found, species) for block_id, found in known.items()}


def _of_trees(block_ids: Sequence[UUID], today: dt.date) -> dict[UUID, Counter[UUID]]:
    if not block_ids:
        return {}
    keys = [StandKey(block_id=pk, season_year=today.year, day=today) for pk in block_ids]
    standing = {
        place[0]: {cultivar: trees.standing for cultivar, trees in stand.by_cultivar.items()}
        for place, stand in stands(keys).items()
    }
    known = {cultivar for trees in standing.values() for cultivar in trees if cultivar}
    species_of = dict(Cultivar.objects.filter(pk__in=known).values_list("pk", "species_id"))
    return {block_id: _counted(trees, species_of) for block_id, trees in standing.items()}


def _counted(trees: Mapping[UUID | None, int], species_of: Mapping[UUID, UUID]) -> Counter[UUID]:
    numbers: Counter[UUID] = Counter()
    for cultivar_id, number in trees.items():
        if cultivar_id and cultivar_id in species_of and number:
            numbers[species_of[cultivar_id]] += number
    return numbers


def _of_lines(farm_ids: Sequence[UUID], today: dt.date) -> dict[UUID, Counter[UUID]]:
    """Lines planted by now and not ended; their year of planting is all that is known."""
    rows = PlantingLine.objects.filter(
        Q(planted_year=None) | Q(planted_year__lte=today.year),
        Q(ended_on=None) | Q(ended_on__gt=today),
        farm_id__in=farm_ids,
        tree_count__gt=0,
    )
    numbers: dict[UUID, Counter[UUID]] = defaultdict(Counter)
    for block_id, species_id, number in rows.values_list(
        "block_id", "cultivar__species_id", "tree_count"
    ):
        numbers[block_id][species_id] += number
    return numbers


def _by_number(numbers: Counter[UUID], species: Mapping[UUID, Species]) -> Planted:
    """Species of a block, the one with most trees first."""
    order = sorted(numbers, key=lambda pk: (-numbers[pk], species[pk].code))
    main, *others = (species[pk] for pk in order)
    return Planted(main=main, others=tuple(others))
