"""The figures in force on a farm: its own where it has any, else the shipped ones."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from uuid import UUID

from planning.compute.figures import DECLARED, Figure, shipped
from planning.models import SpeciesFigure

_shipped = cache(shipped)


@dataclass(frozen=True, slots=True, kw_only=True)
class FarmFigures:
    """By species (its code) and name; one of a cultivar comes before its species'."""

    own: Mapping[tuple[str, UUID | None, str], Figure]

    def figure(self, species: str, name: str, cultivar_id: UUID | None = None) -> Figure:
        """KeyError for a name that is not declared."""
        of_cultivar = self.own.get((species, cultivar_id, name)) if cultivar_id else None
        return of_cultivar or self.own.get((species, None, name)) or _shipped(species)[name]

    def value(self, species: str, name: str, cultivar_id: UUID | None = None) -> float | None:
        return self.figure(species, name, cultivar_id).value

    def all_of(self, species: str, cultivar_id: UUID | None = None) -> list[Figure]:
        return [self.figure(species, name, cultivar_id) for name in DECLARED]


def figures_of(farm_id: UUID) -> FarmFigures:
    """In one query."""
    return figures_of_farms([farm_id])[farm_id]


def figures_of_farms(farm_ids: list[UUID]) -> dict[UUID, FarmFigures]:
    """The same of many farms, in one query."""
    own: dict[UUID, dict[tuple[str, UUID | None, str], Figure]] = {each: {} for each in farm_ids}
    rows = SpeciesFigure.objects.filter(farm_id__in=farm_ids)
    columns = ("farm_id", "species__code", "cultivar_id", "name", "value", "source")
    for farm_id, species, cultivar_id, name, value, source in rows.values_list(*columns):
        if name in DECLARED:
            own[farm_id][species, cultivar_id, name] = Figure(
                name=name, value=value, unit=DECLARED[name].unit, source=source, is_own=True
            )
    return {farm_id: FarmFigures(own=found) for farm_id, found in own.items()}
