"""Mean fruit weight by the farm's own weighings that have both a weight and a count."""

from collections import Counter
from dataclasses import replace
from uuid import UUID

from planning.compute.bases import Basis
from planning.queries.kilo_relations import FruitMeans, Question, Whose, Window
from records.models import HarvestWeight


def fruit_means(whose: Whose) -> FruitMeans | None:
    """Of the farms that counted fruit without weighing any of it; None where none did."""
    farms = _farms_with_bare_counts(whose)
    if not farms:
        return None
    weighings = Question(
        whose=replace(whose, farm_ids=farms),
        window=Window(bases=(Basis.PICKED,)),
        columns=("farm_id", "cultivar_id", "season_year", "counted_g", "counted_fruit"),
    ).relation()
    found = weighings.rows(
        """
        SELECT farm_id, season_year, cultivar_id, sum(counted_g)::bigint,
               sum(counted_fruit)::bigint
        FROM {kilos} GROUP BY farm_id, season_year, cultivar_id HAVING sum(counted_g) > 0
        """
    )
    return _means(found)


def _farms_with_bare_counts(whose: Whose) -> list[UUID]:
    rows = HarvestWeight.objects.kept().filter(
        net_g__isnull=True, estimated_from_containers_g__isnull=True, farm_id__in=whose.farm_ids
    )
    return list(rows.values_list("farm_id", flat=True).distinct())


def _means(found: list[tuple[UUID, int, UUID | None, int, int]]) -> FruitMeans:
    grams: Counter[UUID] = Counter()
    fruit: Counter[UUID] = Counter()
    for farm_id, _, _, net_g, count in found:
        grams[farm_id] += net_g
        fruit[farm_id] += count
    return FruitMeans(
        of_seasons={(farm, year, cultivar): g / n for farm, year, cultivar, g, n in found},
        of_farms={farm_id: grams[farm_id] / fruit[farm_id] for farm_id in grams},
    )
