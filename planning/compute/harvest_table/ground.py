"""The trees and hectares that a group's fruit grew on, or why they are not known."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from planning.compute.bases import Basis
from planning.compute.harvest_table.questions import GROUND_KEYS, Asked, Filter, Key
from planning.compute.harvest_table.values import GroupKey

TITLES = {"bearing_trees": "bearing trees", "hectares": "hectares"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Trees and square metres of a member's season: of a block, of a cultivar, or of it all."""

    member_id: UUID
    year: int
    block_id: UUID | None = None
    cultivar_id: UUID | None = None
    species_id: UUID | None = None
    bearing_trees: int | None
    area_m2: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a group stands on; `reasons` say why a figure is not known."""

    bearing_trees: int | None = None
    area_m2: float | None = None
    reasons: Mapping[str, str] = field(default_factory=dict)


def why_no_ground(asked: Asked) -> str | None:
    """Why no row of such a table can have trees and hectares, as half a sentence."""
    if asked.year is None and Key.SEASON not in asked.keys:
        return "trees and hectares are of a season: ask for one, or group by season"
    if others := [key for key in asked.keys if key not in GROUND_KEYS]:
        return f"all trees bear in every group, so they are not split by {', '.join(others)}"
    if {Filter.GRADE, Filter.FARM_GRADE} & set(asked.filters):
        return "the trees bore other grades too"
    if _by_block(asked) and by_cultivar(asked):
        return "trees of a cultivar are known by member, not by block"
    if asked.basis and not {Key.MEMBER, Key.BLOCK} & set(asked.keys):
        return "not every member has kilos on this basis: group by member"
    return None


def by_cultivar(asked: Asked) -> bool:
    """Whether a table needs trees by cultivar."""
    names = {*asked.keys, *asked.filters}
    return bool({Key.CULTIVAR, Key.SPECIES} & names)


def _by_block(asked: Asked) -> bool:
    return bool({Key.BLOCK} & {*asked.keys, *asked.filters})


VALUES: Mapping[Key, Callable[[Stand], UUID | int | None]] = {
    Key.MEMBER: lambda stand: stand.member_id,
    Key.BLOCK: lambda stand: stand.block_id,
    Key.CULTIVAR: lambda stand: stand.cultivar_id,
    Key.SPECIES: lambda stand: stand.species_id,
    Key.SEASON: lambda stand: stand.year,
}


def grounds(
    stands: Iterable[Stand], keys: Sequence[Key], basis_of: Callable[[UUID, int], Basis]
) -> dict[tuple[GroupKey, Basis], Ground]:
    """Stands that share no ground, added up by group and basis."""
    values = [VALUES[key] for key in keys]
    found: dict[tuple[GroupKey, Basis], list[Stand]] = defaultdict(list)
    for stand in stands:
        key = tuple(value(stand) for value in values)
        found[key, basis_of(stand.member_id, stand.year)].append(stand)
    return {place: _joined(parts) for place, parts in found.items()}


def _joined(parts: Sequence[Stand]) -> Ground:
    """Known only where every part knows its own."""
    trees = [each.bearing_trees for each in parts]
    areas = [each.area_m2 for each in parts]
    return Ground(
        bearing_trees=None if None in trees else sum(each or 0 for each in trees),
        area_m2=None if None in areas else sum(each or 0 for each in areas),
        reasons={**_gap("bearing_trees", trees), **_gap("hectares", areas)},
    )


def _gap(name: str, values: Sequence[float | None]) -> dict[str, str]:
    if None not in values:
        return {}
    unknown = f" for {values.count(None)} of {len(values)} parts" if len(values) > 1 else ""
    return {name: f"{TITLES[name]}: not recorded{unknown}"}
