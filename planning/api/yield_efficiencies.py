"""`yield-efficiencies`: kilograms by trunk section, tree by tree."""

from collections.abc import Sequence
from typing import Any

import django_filters
from rest_framework import serializers

from orchard import clock
from orchard.access import Area
from planning.api.computed import ComputedViewSet, ReadableBlockFilter
from planning.api.filters import SeasonYearFilter
from planning.api.season_summaries import Kilos, Rounded
from planning.queries.tree_yields import TreeYield, tree_yields
from records.calendars import calendar
from records.models import Block


class YieldEfficiencyFilter(django_filters.FilterSet):
    block = ReadableBlockFilter(Area.FIELD, required=True)
    season = SeasonYearFilter()


class YieldEfficiencySerializer(serializers.Serializer):
    tree = serializers.UUIDField(source="tree.pk")
    row = serializers.IntegerField(source="tree.row")
    position = serializers.IntegerField(source="tree.position")
    number = serializers.CharField(source="tree.number")
    season_label = serializers.CharField(source="season.label")
    net_kg = Kilos(source="efficiency.kg", help_text="Of weighings made of this tree alone.")
    section_cm2 = Rounded(2, source="efficiency.section.section_cm2", default=None)
    trunks = serializers.IntegerField(source="efficiency.section.trunks", default=None)
    girths_from = serializers.DateField(source="efficiency.section.first_on", default=None)
    girths_to = serializers.DateField(source="efficiency.section.last_on", default=None)
    kg_per_cm2 = Rounded(5, source="efficiency.kg_per_cm2")
    reason = serializers.CharField(source="efficiency.reason", allow_null=True)


class YieldEfficiencyViewSet(ComputedViewSet):
    """What each tree of a block bore in a season by square centimetre of its trunks.

    Sections of a tree's trunks add up. Of each trunk the last girth before picking counts, else the
    first in the season; its date is told.
    """

    area = Area.FIELD
    serializer_class = YieldEfficiencySerializer
    filterset_class = YieldEfficiencyFilter

    def rows(self, asked: dict[str, Any]) -> Sequence[TreeYield]:
        block: Block = asked["block"]
        seasons, place = calendar([block.farm]), (block.farm_id, block.pk)
        if asked["season"]:
            season = seasons.season_span(*place, asked["season"])
        else:
            season = seasons.season_of(*place, clock.today(block.farm.time_zone))
        return tree_yields(block, season, seasons, self.caller)
