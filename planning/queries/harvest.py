"""Weighings as daily totals and tree totals: which fruit, of which season, how much."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any
from uuid import UUID

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from planning.compute.season_summary import DayTotal, TreeTotal, estimated_g
from planning.queries.grades import GradeName, Naming
from planning.queries.memberships import OpenBooks, in_membership
from planning.queries.years import ALL_YEARS, Years
from records.calendars import Calendar
from records.models import HarvestWeight, HarvestWeightTree
from records.seasons import Season


@dataclass(slots=True, kw_only=True)
class Picking:
    """The fruit of one block, season, cultivar and crop.

    `counts` says what went in: `weighings`, and how many of them were `weighed`, `estimated`
    and `of_one_tree`.
    """

    farm_id: UUID
    block_id: UUID
    season: Season
    cultivar_id: UUID | None
    crop_id: UUID | None
    crop_name: str | None
    days: list[DayTotal] = field(default_factory=list)
    trees: list[TreeTotal] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    minutes: int = 0
    unmapped_grades: set[str] = field(default_factory=set)


def kept_weights(
    farm_ids: Collection[UUID], co_op_id: UUID | None = None
) -> QuerySet[HarvestWeight]:
    """Weighings that count; for a co-op, those of its members' days of membership."""
    weights = HarvestWeight.objects.kept().filter(farm_id__in=farm_ids)
    return in_membership(weights, co_op_id, "picked_on")


def pickings(
    weights: QuerySet[HarvestWeight],
    seasons: Calendar,
    naming: Naming,
    books: OpenBooks,
    years: Years = ALL_YEARS,
) -> list[Picking]:
    """Everything picked in some seasons, in two queries; minutes only where `books` are open.

    A third query tells the mean fruit weight of farms where that of a season is not known.
    """
    found = _Found(seasons, years)
    placed = found.placed(_day_rows(weights, years))
    means = _MeanFruit(placed, weights)
    for picking, row in placed:
        mean_fruit_g = means.of(picking) if row.counts_to_estimate else None
        _add_day(picking, row, naming(row.grade_id, row.picked_on), mean_fruit_g)
        if books.on(row.farm_id, row.picked_on):
            _add_minutes(picking, row)
    for picking, row in found.placed(_tree_rows(weights, years)):
        picking.trees.append(TreeTotal(tree=str(row.tree_id), net_g=row.measured_g))
        picking.counts["of_one_tree"] += row.weighings
    return list(found.by_key.values())


class _Found:
    """Pickings by what tells them apart."""

    def __init__(self, seasons: Calendar, years: Years) -> None:
        self.seasons = seasons
        self.years = years
        self.by_key: dict[tuple[Any, ...], Picking] = {}

    def placed(self, rows: Iterable[Any]) -> list[tuple[Picking, Any]]:
        """Rows of the seasons asked for, each with what it belongs to."""
        found = []
        for row in rows:
            season = self.seasons.season_of(row.farm_id, row.block_id, row.season_day)
            if season.year in self.years:
                found.append((self._picking(row, season), row))
        return found

    def _picking(self, row: Any, season: Season) -> Picking:
        key = (row.block_id, season.year, row.cultivar_id, row.crop_id)
        if key not in self.by_key:
            self.by_key[key] = Picking(
                farm_id=row.farm_id,
                block_id=row.block_id,
                season=season,
                cultivar_id=row.cultivar_id,
                crop_id=row.crop_id,
                crop_name=row.crop_name,
            )
        return self.by_key[key]


class _MeanFruit:
    """Mean fruit weight by the farm's own weighings that have both a weight and a count."""

    def __init__(
        self, placed: Iterable[tuple[Picking, Any]], weights: QuerySet[HarvestWeight]
    ) -> None:
        self.weights = weights
        self.grams: Counter[tuple[Any, ...]] = Counter()
        self.fruit: Counter[tuple[Any, ...]] = Counter()
        for picking, row in placed:
            self.grams[self._key(picking)] += row.measured_g_with_fruit
            self.fruit[self._key(picking)] += row.fruit_with_scale

    def of(self, picking: Picking) -> float | None:
        """That of the season and cultivar, else that of the farm."""
        key = self._key(picking)
        if self.grams[key]:
            return self.grams[key] / self.fruit[key]
        return self._of_farms.get(picking.farm_id)

    @staticmethod
    def _key(picking: Picking) -> tuple[Any, ...]:
        return picking.farm_id, picking.season.year, picking.cultivar_id

    @cached_property
    def _of_farms(self) -> Mapping[UUID, float]:
        """Over all their seasons."""
        both = self.weights.filter(net_g__isnull=False, fruit_count__isnull=False)
        sums = (
            both.order_by().values("farm_id").annotate(grams=Sum("net_g"), fruit=Sum("fruit_count"))
        )
        return {row["farm_id"]: row["grams"] / row["fruit"] for row in sums if row["grams"]}


# A crop belongs to the season in which its bloom begins, however late it is picked.
def season_day(prefix: str = "") -> Coalesce:
    return Coalesce(
        f"{prefix}crop__bloom_began_on", f"{prefix}crop__opened_on", f"{prefix}picked_on"
    )


DAY_KEYS = (
    "farm_id",
    "block_id",
    "cultivar_id",
    "crop_id",
    "crop_name",
    "grade_id",
    "picked_on",
    "season_day",
)
TREE_KEYS = (
    "farm_id",
    "tree_id",
    "block_id",
    "cultivar_id",
    "crop_id",
    "crop_name",
    "season_day",
)


def _day_rows(weights: QuerySet[HarvestWeight], years: Years) -> Iterable[Any]:
    weighed, unweighed = Q(net_g__isnull=False), Q(net_g__isnull=True)
    by_container = unweighed & Q(estimated_from_containers_g__isnull=False)
    by_fruit = unweighed & Q(estimated_from_containers_g__isnull=True, fruit_count__isnull=False)
    both = weighed & Q(fruit_count__isnull=False)
    timed = weighed & Q(minutes__gt=0)
    totals = {
        "measured_g": Coalesce(Sum("net_g"), 0),
        "containers_g": Coalesce(Sum("estimated_from_containers_g", filter=by_container), 0),
        "fruit": Coalesce(Sum("fruit_count"), 0),
        "counts_to_estimate": ArrayAgg("fruit_count", filter=by_fruit),
        "measured_g_with_fruit": Coalesce(Sum("net_g", filter=both), 0),
        "fruit_with_scale": Coalesce(Sum("fruit_count", filter=both), 0),
        "minutes_worked": Coalesce(Sum("minutes"), 0),
        "measured_g_with_minutes": Coalesce(Sum("net_g", filter=timed), 0),
        "minutes_with_scale": Coalesce(Sum("minutes", filter=timed), 0),
        "weighings": Count("pk"),
        "weighed": Count("pk", filter=weighed),
        "by_container": Count("pk", filter=by_container),
    }
    named = weights.annotate(season_day=season_day(), crop_name=F("crop__name"))
    grouped = years.rows(named, "season_day").values(*DAY_KEYS).annotate(**totals)
    return grouped.order_by("picked_on", "grade_id").values_list(*DAY_KEYS, *totals, named=True)


def _tree_rows(weights: QuerySet[HarvestWeight], years: Years) -> Iterable[Any]:
    """Scale weights of exactly one tree."""
    weighed = weights.filter(net_g__isnull=False)
    others = HarvestWeightTree.objects.filter(weight_id=OuterRef("weight_id"))
    links = HarvestWeightTree.objects.filter(
        ~Exists(others.exclude(pk=OuterRef("pk"))), weight__in=weighed
    ).annotate(
        block_id=F("weight__block_id"),
        cultivar_id=F("weight__cultivar_id"),
        crop_id=F("weight__crop_id"),
        crop_name=F("weight__crop__name"),
        season_day=season_day("weight__"),
    )
    totals = {"measured_g": Sum("weight__net_g"), "weighings": Count("pk")}
    grouped = years.rows(links, "season_day").values(*TREE_KEYS).annotate(**totals)
    return grouped.order_by("tree_id").values_list(*TREE_KEYS, *totals, named=True)


def _add_day(picking: Picking, row: Any, grade: GradeName, mean_fruit_g: float | None) -> None:
    estimates = _estimates(row.counts_to_estimate or (), mean_fruit_g)
    picking.days.append(
        DayTotal(
            day=row.picked_on,
            grade=grade.code,
            marketable=grade.marketable,
            net_g=row.measured_g,
            estimated_g=row.containers_g + sum(estimates),
            fruit_count=row.fruit,
            net_g_with_count=row.measured_g_with_fruit,
            count_with_weight=row.fruit_with_scale,
        )
    )
    picking.counts.update(
        weighings=row.weighings,
        weighed=row.weighed,
        estimated=row.by_container + len(estimates),
    )
    if not grade.is_mapped and grade.code:
        picking.unmapped_grades.add(grade.code)


def _estimates(counts: Iterable[int], mean_fruit_g: float | None) -> list[int]:
    """Grams weighing by weighing, so that they add up alike in every grouping."""
    found = (
        estimated_g(containers=None, usual_net_g=None, fruit_count=count, mean_fruit_g=mean_fruit_g)
        for count in counts
    )
    return [grams for grams in found if grams is not None]


def _add_minutes(picking: Picking, row: Any) -> None:
    """Of the day just added; where books are closed, neither minutes nor what rests on them."""
    picking.minutes += row.minutes_worked
    picking.days[-1] = replace(
        picking.days[-1],
        net_g_with_minutes=row.measured_g_with_minutes,
        minutes_with_weight=row.minutes_with_scale,
    )
