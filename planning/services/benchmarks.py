"""Benchmarks of a farm in the closed seasons of its co-ops, as far as the asker may know them."""

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from uuid import UUID

from planning.compute.benchmarks import (
    Benchmark,
    FarmFigure,
    Measure,
    benchmark,
    may_be_told,
    told_together,
)
from planning.queries.benchmarks import Closed, Group, closed_groups, co_ops_joined

NOT_TOLD = (
    "not told: there are fewer than five farms with this figure, one of them has more than half of"
    " the kilos, or the difference from another group that you see would tell of single farms"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A farm's figure in one group, and the group's benchmark or why it is not told."""

    group: Group
    measure: Measure
    value: float
    benchmark: Benchmark | None

    @property
    def reason(self) -> str | None:
        return None if self.benchmark else NOT_TOLD


@dataclass(frozen=True, slots=True, kw_only=True)
class Asker:
    """Who asks: the farms whose figures they know, and co-ops of which they are staff."""

    farm_ids: frozenset[UUID]
    staffed: frozenset[UUID]


def standings(farm_id: UUID, asker: Asker) -> list[Standing]:
    """Latest season first. The groups of all the asker's farms decide about what is told."""
    known = asker.farm_ids | {farm_id}
    joined = co_ops_joined(known)
    own = {co_op for farm in asker.farm_ids for co_op in joined.get(farm, ())}
    closed = closed_groups(own | (asker.staffed & set(joined.get(farm_id, ()))), known)
    seen = own if farm_id in asker.farm_ids else asker.staffed
    found = [
        standing
        for measure in Measure
        for standing in _of_measure(closed, measure, farm_id, known)
        if standing.group.co_op_id in seen
    ]
    return sorted(found, key=lambda each: (-each.group.year, each.group, each.measure))


def _of_measure(
    closed: Closed, measure: Measure, farm_id: UUID, known: Collection[UUID]
) -> Iterator[Standing]:
    figures = {group: closed.figures(group, measure) for group in sorted(closed.harvests)}
    told = _told(figures, known)
    for group, found in figures.items():
        value = next((each.value for each in found if each.farm_id == farm_id), None)
        if value is not None:
            yield Standing(
                group=group,
                measure=measure,
                value=value,
                benchmark=benchmark(found, farm_id) if group in told else None,
            )


def _told(figures: dict[Group, list[FarmFigure]], known: Collection[UUID]) -> set[Group]:
    """Groups that are large and even enough, and do not tell of single farms together."""
    alike: dict[tuple[int, UUID], dict[Group, set[UUID]]] = defaultdict(dict)
    for group, found in figures.items():
        farms = {figure.farm_id for figure in found}
        if farms.intersection(known) and may_be_told(found, known):
            alike[group.year, group.cultivar_id][group] = farms
    return {group for groups in alike.values() for group in told_together(groups)}
