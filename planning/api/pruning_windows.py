"""`pruning-windows`: when each block is best pruned this season."""

from typing import Any

import django_filters
from rest_framework import serializers

from orchard import clock
from planning.api.computed import ComputedViewSet, ReadableFarmFilter
from planning.api.filters import SeasonYearFilter
from planning.api.species_figures import FigureInForceSerializer
from planning.compute.pruning_window import Method
from planning.services.pruning_windows import BlockWindow, pruning_windows


class PruningWindowSerializer(serializers.Serializer):
    block = serializers.UUIDField(source="block.pk")
    block_code = serializers.CharField(source="block.code")
    species = serializers.CharField(source="species.code", default=None)
    season_label = serializers.CharField(source="season.label")
    opens_on = serializers.DateField(source="window.opens_on", allow_null=True)
    best_on = serializers.DateField(source="window.best_on", allow_null=True)
    latest_on = serializers.DateField(source="window.latest_on", allow_null=True)
    pruned_on = serializers.DateField(
        allow_null=True, help_text="The season's first pruning on record."
    )
    method = serializers.ChoiceField(
        source="window.method", choices=[(method.value, method.value) for method in Method]
    )
    reason = serializers.CharField(source="window.reason")
    inputs = FigureInForceSerializer(source="figures", many=True)


class PruningWindowFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    season = SeasonYearFilter()


class PruningWindowViewSet(ComputedViewSet):
    """When to prune, block by block: from leaf-out seen or forecast, else the farm's calendar.

    The days before and after leaf-out are common practice, as figures that a farm may change.
    """

    serializer_class = PruningWindowSerializer
    filterset_class = PruningWindowFilter

    def rows(self, asked: dict[str, Any]) -> list[BlockWindow]:
        farm = asked["farm"]
        return pruning_windows(farm, clock.today(farm.time_zone), asked["season"])
