"""Which species a block is planted with, as its schedule goes by one species a block."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol
from uuid import UUID

from django.db.models import Q

from planning.queries.stands import StandKey, tree_stands
from records.models import Cultivar, PlantingLine, Species, Tree

Numbers = Counter[UUID]  # trees by cultivar


class OnFarm(Protocol):
    """A block, as far as it is needed here."""

    @property
    def pk(self) -> UUID: ...

    @property
    def farm_id(self) -> UUID: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """The species with most trees on a block, the others, and the cultivars likewise."""

    main: Species
    others: tuple[Species, ...] = ()
    cultivars: tuple[Cultivar, ...] = ()


def planted_blocks(blocks: Sequence[OnFarm], today: dt.date) -> dict[UUID, Planted]:
    """Blocks with trees or planting lines of a known species, in four queries."""
    farms = list({block.farm_id for block in blocks})
    rows = Tree.objects.filter(farm_id__in=farms)
    listing = set(rows.values_list("block_id", flat=True).distinct())
    numbers = _of_lines(farms, today)
    numbers |= _of_trees([block.pk for block in blocks if block.pk in listing], today)
    known = {block.pk: numbers[block.pk] for block in blocks if numbers.get(block.pk)}
    return _planted(known)


def _of_trees(block_ids: Sequence[UUID], today: dt.date) -> dict[UUID, Numbers]:
    if not block_ids:
        return {}
    keys = [StandKey(block_id=pk, season_year=today.year, day=today) for pk in block_ids]
    return {
        place[0]: Counter(
            {
                cultivar: trees.standing
                for cultivar, trees in stand.by_cultivar.items()
                if cultivar and trees.standing
            }
        )
        for place, stand in tree_stands(keys).items()
    }


def _of_lines(farm_ids: Sequence[UUID], today: dt.date) -> dict[UUID, Numbers]:
    """Lines planted by now and not ended; their year of planting is all that is known."""
    rows = PlantingLine.objects.filter(
        Q(planted_year=None) | Q(planted_year__lte=today.year),
        Q(ended_on=None) | Q(ended_on__gt=today),
        farm_id__in=farm_ids,
        tree_count__gt=0,
    )
    numbers: dict[UUID, Numbers] = defaultdict(Counter)
    for block_id, cultivar_id, number in rows.values_list("block_id", "cultivar_id", "tree_count"):
        numbers[block_id][cultivar_id] += number
    return dict(numbers)


def _planted(numbers: Mapping[UUID, Numbers]) -> dict[UUID, Planted]:
    """What many blocks are planted with alike is made once."""
    ids = {cultivar for found in numbers.values() for cultivar in found}
    cultivars = Cultivar.objects.select_related("species").in_bulk(ids)
    alike: dict[tuple[tuple[UUID, int], ...], Planted] = {}
    planted = {}
    for block_id, found in numbers.items():
        key = tuple(found.items())
        if key not in alike:
            alike[key] = _by_number(found, cultivars)
        planted[block_id] = alike[key]
    return planted


def _by_number(numbers: Numbers, cultivars: Mapping[UUID, Cultivar]) -> Planted:
    """Species and cultivars of a block, those with most trees first."""
    found = sorted(
        (cultivars[pk] for pk in numbers),
        key=lambda cultivar: (-numbers[cultivar.pk], cultivar.name, cultivar.pk),
    )
    of_species: Counter[UUID] = Counter()
    for cultivar in found:
        of_species[cultivar.species_id] += numbers[cultivar.pk]
    species = {cultivar.species_id: cultivar.species for cultivar in found}
    main, *others = sorted(species.values(), key=lambda kind: (-of_species[kind.pk], kind.code))
    return Planted(main=main, others=tuple(others), cultivars=tuple(found))
