"""`species-figures` and `figures-in-force`: what planning goes by, species by species."""

from typing import Any, ClassVar

import django_filters
from django.db.models import Model
from rest_framework import serializers

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import RecordViewSet
from planning.api.computed import ComputedViewSet, ReadableFarmFilter, SpeciesFilter
from planning.compute.figures import DECLARED, Figure
from planning.models import SpeciesFigure
from planning.queries.figures import figures_of
from planning.services.species_figures import save_figure
from records.models import Farm, Species


class SpeciesFigureSerializer(RecordSerializer):
    unit = serializers.SerializerMethodField()

    class Meta(RecordSerializer.Meta):
        model = SpeciesFigure
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "species",
            "cultivar",
            "name",
            "value",
            "unit",
            "source",
        )
        fixed = ("species", "cultivar", "name")
        blame: ClassVar[dict[str, str]] = {
            "species_figure_once": "name",
            "species_figure_has_a_source": "source",
        }

    def get_unit(self, row: SpeciesFigure) -> str:
        return DECLARED[row.name].unit


class FigureInForceSerializer(serializers.Serializer):
    name = serializers.CharField()
    meaning = serializers.SerializerMethodField()
    value = serializers.FloatField(allow_null=True)
    unit = serializers.CharField()
    # The stubs know a field's own `source` only; declared fields are no attributes of the class.
    source = serializers.CharField()  # type: ignore[assignment]
    is_own = serializers.BooleanField(help_text="The farm's own, and not the shipped one.")
    is_weak = serializers.BooleanField(help_text="Assumed, or from a source of little weight.")
    reason = serializers.CharField(help_text="Why there is no value, or why it does not apply.")

    def get_meaning(self, figure: Figure) -> str:
        return DECLARED[figure.name].meaning


class SpeciesFigureFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)
    species = VisibleFilter(Species)
    name = django_filters.CharFilter()


class SpeciesFigureViewSet(RecordViewSet):
    """A farm's own figures of a species: temperatures, labour, set, cut-back and their like.

    Where a farm has none, the shipped one holds: `figures-in-force` lists all with their sources. A
    changed figure changes forecasts, plans and tasks by itself.
    """

    area = Area.SCHEDULE
    queryset = SpeciesFigure.objects.all()
    serializer_class = SpeciesFigureSerializer
    filterset_class = SpeciesFigureFilter
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        return save_figure(serializer.candidate({**serializer.validated_data, **extra}))


class FigureFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    species = SpeciesFilter(required=True)


class FigureInForceViewSet(ComputedViewSet):
    """Every figure of a species as it holds on a farm: its own, else the shipped one.

    Each has its source; one without a value says why, or that it does not apply.
    """

    serializer_class = FigureInForceSerializer
    filterset_class = FigureFilter

    def rows(self, asked: dict[str, Any]) -> list[Figure]:
        return figures_of(asked["farm"].pk).all_of(asked["species"].code)
