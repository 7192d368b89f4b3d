"""`benchmarks`: how a farm stands among its co-op's members in closed seasons, by cultivar."""

from dataclasses import dataclass
from typing import Any

import django_filters
from rest_framework import serializers

from orchard.access import Area
from planning.api.computed import ComputedViewSet, ReadableFarmFilter
from planning.api.season_summaries import Rounded
from planning.compute.benchmarks import Measure
from planning.services.benchmarks import Asker, Standing, standings
from records.choices import Basis
from records.models import CoOp, Cultivar

METHOD = (
    "Kilos, trees and hectares as they were kept when the co-op closed the season; minutes of"
    " picking, of weighings that have both a weight and minutes, among farms that share all they"
    " record. Quartiles are linear between the ordered figures (Hyndman and Fan, type 7). Place 1"
    " is the highest figure."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A standing with the names of what it is about."""

    standing: Standing
    co_op_code: str
    cultivar_name: str
    method: str = METHOD


class BenchmarkFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(Area.SUMMARY, required=True)


class BenchmarkSerializer(serializers.Serializer):
    co_op = serializers.UUIDField(source="standing.group.co_op_id")
    co_op_code = serializers.CharField()
    season_year = serializers.IntegerField(
        source="standing.group.year", help_text="The year in which each farm's own season starts."
    )
    cultivar = serializers.UUIDField(source="standing.group.cultivar_id")
    cultivar_name = serializers.CharField()
    basis = serializers.ChoiceField(Basis.choices, source="standing.group.basis")
    measure = serializers.ChoiceField(
        [(each.value, each.value) for each in Measure], source="standing.measure"
    )
    value = Rounded(4, source="standing.value", help_text="The farm's own figure.")
    farms = serializers.IntegerField(
        source="standing.benchmark.farms", default=None, help_text="How many have this figure."
    )
    place = serializers.IntegerField(
        source="standing.benchmark.place",
        default=None,
        help_text="The farm's own among them; 1 is the highest figure.",
    )
    q1 = Rounded(4, source="standing.benchmark.q1", default=None)
    median = Rounded(4, source="standing.benchmark.median", default=None)
    q3 = Rounded(4, source="standing.benchmark.q3", default=None)
    reason = serializers.CharField(
        source="standing.reason", allow_null=True, help_text="Why the group is not told."
    )
    method = serializers.CharField()


class BenchmarkViewSet(ComputedViewSet):
    """A farm's figures of closed seasons, with the quartiles of its co-op's farms and its place.

    By cultivar, and with no other filter. Nothing is told of a group of fewer than five farms, or
    of which one farm has more than half of the kilos.
    """

    area = Area.SUMMARY
    serializer_class = BenchmarkSerializer
    filterset_class = BenchmarkFilter

    def rows(self, asked: dict[str, Any]) -> list[Row]:
        found = standings(asked["farm"].pk, self._asker(asked["farm"].pk))
        codes = _names(CoOp, "code", {each.group.co_op_id for each in found})
        cultivars = _names(Cultivar, "name", {each.group.cultivar_id for each in found})
        return [
            Row(
                standing=each,
                co_op_code=codes.get(each.group.co_op_id, ""),
                cultivar_name=cultivars.get(each.group.cultivar_id, ""),
            )
            for each in found
        ]

    def _asker(self, farm_id: Any) -> Asker:
        caller = self.caller
        own = {farm_id} if caller.is_platform_admin else set()
        return Asker(
            farm_ids=frozenset(own.union(caller.farms_with("reads", Area.SUMMARY))),
            staffed=frozenset(caller.co_ops_with("reads", Area.SUMMARY)),
        )


def _names(model: Any, field: str, ids: set[Any]) -> dict[Any, str]:
    return dict(model.objects.filter(pk__in=ids).values_list("pk", field)) if ids else {}
