"""What members are held against each other by: closed seasons, as they were kept."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet, Sum

from planning.compute.benchmarks import FarmFigure, Measure
from planning.models import ClosedKilos, ClosedStand, SeasonSummary, SummaryLevel
from records.models import Membership


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Group:
    """Farms of one cultivar in a co-op's closed season, all on one basis."""

    year: int
    cultivar_id: UUID
    co_op_id: UUID
    basis: str


@dataclass(slots=True, kw_only=True)
class _Harvest:
    """One farm's part of a group; None where it is not known."""

    net_g: int
    graded_g: int = 0
    marketable_g: int = 0
    bearing_trees: int | None = None
    area_m2: float | None = None
    timed_g: int = 0
    timed_minutes: int = 0

    def figures(self) -> dict[Measure, float]:
        kilos = self.net_g / 1000
        found = {
            Measure.KG_PER_TREE: _ratio(kilos, self.bearing_trees),
            Measure.T_PER_HA: _ratio(kilos * 10, self.area_m2),
            Measure.MARKETABLE_SHARE: _ratio(self.marketable_g, self.graded_g),
            Measure.PICKING_MINUTES_PER_KG: _ratio(self.timed_minutes * 1000, self.timed_g),
        }
        return {measure: value for measure, value in found.items() if value is not None}


def _ratio(part: float, whole: float | None) -> float | None:
    return part / whole if whole else None


@dataclass(slots=True, kw_only=True)
class Closed:
    """The groups that some farms are in, each with the figures of all its farms."""

    harvests: dict[Group, dict[UUID, _Harvest]] = field(default_factory=lambda: defaultdict(dict))

    def figures(self, group: Group, measure: Measure) -> list[FarmFigure]:
        """Of the farms that have one, in the order of farms."""
        found = []
        for farm_id, harvest in sorted(self.harvests[group].items()):
            value = harvest.figures().get(measure)
            if value is not None:
                found.append(FarmFigure(farm_id=farm_id, net_g=harvest.net_g, value=value))
        return found


def closed_groups(co_op_ids: Collection[UUID], farm_ids: Collection[UUID]) -> Closed:
    """Groups of these co-ops in which these farms have weighed kilos, in four queries."""
    closed = Closed()
    kilos = ClosedKilos.objects.filter(
        closed_season__co_op_id__in=co_op_ids, basis=F("member_basis"), cultivar_id__isnull=False
    )
    own = kilos.filter(farm_id__in=farm_ids, net_g__gt=0)
    seasons = set(own.values_list("closed_season_id", "cultivar_id").distinct())
    if not seasons:
        return closed
    scope = Q(
        closed_season_id__in={season for season, _ in seasons},
        cultivar_id__in={cultivar for _, cultivar in seasons},
    )
    for row in _sums(kilos.filter(scope)):
        group = _group(row)
        closed.harvests[group][row.farm_id] = _Harvest(
            net_g=row.total_g, graded_g=row.graded_g or 0, marketable_g=row.marketable_g or 0
        )
    _add_ground(closed, ClosedStand.objects.filter(scope, by="cultivar"))
    _add_picking(closed)
    return closed


KEYS = ("farm_id", "cultivar_id", "member_basis", "closed_season__season_year")
CO_OP = "closed_season__co_op_id"


def _sums(kilos: QuerySet[ClosedKilos]) -> Iterable[Any]:
    sums = {
        "total_g": Sum("net_g"),
        "graded_g": Sum("net_g", filter=Q(marketable__isnull=False)),
        "marketable_g": Sum("net_g", filter=Q(marketable=True)),
    }
    grouped = kilos.values(*KEYS, CO_OP).annotate(**sums).filter(total_g__gt=0)
    return grouped.values_list(*KEYS, CO_OP, *sums, named=True)


def _group(row: Any) -> Group:
    return Group(
        year=row.closed_season__season_year,
        cultivar_id=row.cultivar_id,
        co_op_id=row.closed_season__co_op_id,
        basis=row.member_basis,
    )


def _add_ground(closed: Closed, stands: QuerySet[ClosedStand]) -> None:
    for row in stands.values_list(*KEYS, CO_OP, "bearing_trees", "area_m2", named=True):
        harvest = closed.harvests.get(_group(row), {}).get(row.farm_id)
        if harvest:
            harvest.bearing_trees, harvest.area_m2 = row.bearing_trees, row.area_m2


def _add_picking(closed: Closed) -> None:
    """Minutes of weighings that have both, of members that shared all they record.

    They are no part of what is kept when a season is closed, and are those of its summary.
    """
    rows = SeasonSummary.objects.filter(
        level=SummaryLevel.MEMBER_CULTIVAR,
        co_op_id__in={group.co_op_id for group in closed.harvests},
        season_year__in={group.year for group in closed.harvests},
        cultivar_id__in={group.cultivar_id for group in closed.harvests},
        sums__timed_minutes__gt=0,
    )
    names = ("season_year", "cultivar_id", "co_op_id", "basis", "member_id")
    for row in rows.values_list(*names, "sums__timed_g", "sums__timed_minutes", named=True):
        group = Group(
            year=row.season_year,
            cultivar_id=row.cultivar_id,
            co_op_id=row.co_op_id,
            basis=row.basis,
        )
        harvest = closed.harvests.get(group, {}).get(row.member_id)
        if harvest:
            harvest.timed_g = row.sums__timed_g
            harvest.timed_minutes = row.sums__timed_minutes


def co_ops_joined(farm_ids: Collection[UUID]) -> Mapping[UUID, Collection[UUID]]:
    """The co-ops that each farm belongs or has belonged to."""
    found: dict[UUID, set[UUID]] = defaultdict(set)
    rows = Membership.objects.filter(farm_id__in=farm_ids)
    for farm_id, co_op_id in rows.values_list("farm_id", "co_op_id"):
        found[farm_id].add(co_op_id)
    return found
