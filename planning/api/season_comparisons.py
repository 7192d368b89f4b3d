"""`season-comparisons`: seasons against each other, alternate bearing, and yield by trunk."""

from collections.abc import Sequence
from typing import Any

import django_filters
from rest_framework import serializers

from orchard.access import Area
from planning.api.computed import (
    BlockFilter,
    ComputedViewSet,
    ReadableFarmFilter,
    RecordFilter,
    refused,
)
from planning.api.season_summaries import Kilos, Rounded
from planning.compute.seasons_compared import Change
from planning.models import SeasonSummary
from planning.queries.compared_seasons import LEVELS, ComparedSeason, compared_seasons
from records.choices import Basis
from records.models import Cultivar

METHOD = (
    "Complete seasons only; a missing season breaks the pair. Alternate bearing: mean of"
    " |a - b| / (a + b) over seasons that follow each other, of measured kilos (Hoblyn and others"
    " 1936). Yield efficiency: kilograms a tree by the mean trunk section of measured trees, by"
    " each trunk's last girth before picking, else its first in the season."
)


class SeasonComparisonFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(area=Area.SUMMARY)
    block = BlockFilter()
    cultivar = RecordFilter(Cultivar)
    level = django_filters.ChoiceFilter(choices=[(each.value, each.label) for each in LEVELS])
    basis = django_filters.ChoiceFilter(choices=Basis.choices)


class ChangeField(Rounded):
    """A figure of a change against other seasons."""

    def __init__(self, against: str, name: str, **kwargs: Any) -> None:
        super().__init__(1, source=f"compared.{against}.{name}", **kwargs)


def changes() -> dict[str, ChangeField]:
    """Columns `before_net_kg_percent`, `mean_net_kg_percent` ..., one a figure."""
    return {
        f"{against}_{name}": ChangeField(against, name)
        for against in ("before", "mean")
        for name in Change.__dataclass_fields__
    }


class SeasonComparisonSerializer(serializers.Serializer):
    level = serializers.CharField(source="summary.level")
    farm_code = serializers.SerializerMethodField()
    block = serializers.UUIDField(source="summary.block_id")
    block_code = serializers.CharField(source="summary.block.code", default=None)
    cultivar = serializers.UUIDField(source="summary.cultivar_id")
    cultivar_name = serializers.CharField(source="summary.cultivar.name", default=None)
    basis = serializers.CharField(source="summary.basis")
    season_year = serializers.IntegerField(source="compared.row.year")
    season_label = serializers.CharField(source="compared.row.label")
    is_complete = serializers.BooleanField(
        source="compared.is_complete", help_text="Over, and twelve months long."
    )
    net_kg = Kilos(source="compared.row.net_kg")
    kg_per_tree = Rounded(3, source="summary.kg_per_tree")
    t_per_ha = Rounded(3, source="summary.t_per_ha")
    marketable_share = Rounded(4, source="summary.marketable_share")
    first_on = serializers.DateField(source="summary.first_on")
    p50_on = serializers.DateField(source="summary.p50_on")
    last_on = serializers.DateField(source="summary.last_on")
    mean_seasons = serializers.IntegerField(
        source="compared.mean_seasons", help_text="Earlier complete seasons in the mean."
    )
    alternate_bearing = Rounded(
        4,
        source="compared.bearing.intensity",
        help_text="Up to this season: 0 even, 1 every other.",
    )
    alternate_bearing_pairs = serializers.IntegerField(source="compared.bearing.pairs")
    trees_weighed = serializers.SerializerMethodField()
    trees_cv = serializers.SerializerMethodField()
    kg_per_cm2 = Rounded(5, source="efficiency.kg_per_cm2", default=None)
    mean_section_cm2 = Rounded(2, source="efficiency.mean_section_cm2", default=None)
    trees_measured = serializers.IntegerField(source="efficiency.trees_measured", default=None)
    girths_from = serializers.DateField(source="efficiency.girths_from", default=None)
    girths_to = serializers.DateField(source="efficiency.girths_to", default=None)
    reasons = serializers.SerializerMethodField()
    method = serializers.SerializerMethodField()

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), **changes()}

    def get_farm_code(self, row: ComparedSeason) -> str | None:
        farm = row.summary.farm or row.summary.member
        return farm.code if farm else None

    def get_trees_weighed(self, row: ComparedSeason) -> int | None:
        return (row.summary.spread or {}).get("n")

    def get_trees_cv(self, row: ComparedSeason) -> float | None:
        """Spread between trees that were weighed by themselves: sd by mean."""
        cv = (row.summary.spread or {}).get("cv")
        return None if cv is None else round(cv, 4)

    def get_reasons(self, row: ComparedSeason) -> dict[str, str]:
        reasons = dict(row.compared.reasons)
        if row.efficiency is not None and row.efficiency.reason:
            reasons["kg_per_cm2"] = row.efficiency.reason
        if row.compared.bearing.intensity is None:
            reasons["alternate_bearing"] = (
                "No two complete seasons with fruit follow each other up to this one."
            )
        if row.summary.spread is None:
            reasons["trees_cv"] = "No trees were weighed by themselves."
        return reasons

    def get_method(self, row: ComparedSeason) -> str:
        return METHOD


class SeasonComparisonViewSet(ComputedViewSet):
    """Each season of a block, cultivar or farm against the one before and the mean of the earlier.

    From stored season summaries, each basis apart. With alternate-bearing intensity, the spread
    between trees, and yield efficiency by trunk section. What cannot be known says why.
    """

    area = Area.SUMMARY
    serializer_class = SeasonComparisonSerializer
    filterset_class = SeasonComparisonFilter

    def rows(self, asked: dict[str, Any]) -> Sequence[ComparedSeason]:
        if asked["farm"] is None and asked["block"] is None:
            raise refused("farm", "Name a farm or a block.", "needs-a-place")
        summaries: Any = SeasonSummary.objects.all().visible_to(self.caller)
        if asked["farm"] is not None:
            summaries = summaries.of_farm(asked["farm"].pk)
        for name in ("block", "cultivar"):
            if asked[name] is not None:
                summaries = summaries.filter(**{name: asked[name]})
        for name in ("level", "basis"):
            if asked[name]:
                summaries = summaries.filter(**{name: asked[name]})
        named = summaries.filter(level__in=LEVELS).select_related(
            "farm", "member", "block", "cultivar"
        )
        ordered = named.order_by("level", "block__code", "cultivar__name", "basis", "season_year")
        return compared_seasons(list(ordered), self.caller)
