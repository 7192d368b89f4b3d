"""`closed-seasons`: a co-op's seasons, closed once and for all, and what has changed since."""

from collections.abc import Sequence
from typing import Any, ClassVar

import django_filters
from django.db.models import Model
from drf_spectacular.utils import extend_schema
from rest_framework import renderers, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import NumberFilter, VisibleFilter, check, refuse_unknown
from orchard.rest.problems import Problem
from orchard.rest.renderers import CSVRenderer, Table, XLSXRenderer
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import CreatingViewSet
from planning.api.co_ops import CoOpComputedViewSet
from planning.api.computed import RecordFilter, SpeciesFilter, WholeAnswer
from planning.api.filters import FIRST_YEAR, LAST_YEAR, SeasonYearField
from planning.api.harvest_rows import FORMATS, KEY_COLUMNS, KILOS, columns_of, labelled, sort_keys
from planning.api.harvest_table import KeysFilter, question_of, table_of
from planning.api.season_summaries import Kilos
from planning.compute.harvest_table import Difference, Key, differences
from planning.models import ClosedSeason
from planning.queries.harvest_names import names_of
from planning.queries.kilo_tables import ClosedKilos, LiveKilos
from planning.queries.kilos import whose_of
from planning.services.closed_seasons import close_season, speaks_against
from records.models import Block, CoOp, CoOpGrade, Cultivar, Farm, Grade


class ObjectionSerializer(serializers.Serializer):
    """What should be settled before a season is closed."""

    code = serializers.CharField()
    text = serializers.CharField()


class ClosedSeasonSerializer(RecordSerializer):
    co_op_code = serializers.CharField(source="co_op.code", read_only=True)
    objections = ObjectionSerializer(
        many=True, read_only=True, help_text="What spoke against it when it was closed."
    )
    despite = serializers.BooleanField(
        write_only=True, default=False, help_text="Close it although something speaks against it."
    )

    class Meta(RecordSerializer.Meta):
        model = ClosedSeason
        fields = (
            *RecordSerializer.base_fields,
            "co_op",
            "co_op_code",
            "season_year",
            "basis",
            "closed_at",
            "closed_by",
            "note",
            "objections",
            "despite",
        )
        read_only_fields = ("basis", "closed_at", "closed_by")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ClosedSeason.objects.of_season(attrs["co_op"].pk, attrs["season_year"]):
            raise Problem("conflict", "This season is closed already, and is never opened again.")
        return super().validate(attrs)


class ClosedSeasonFilter(django_filters.FilterSet):
    co_op = VisibleFilter(CoOp)
    season_year = NumberFilter(min_value=FIRST_YEAR, max_value=LAST_YEAR)


class DifferenceFilter(django_filters.FilterSet):
    group_by = KeysFilter(label=f"Any of {', '.join(Key)}; member unless given.")
    member = RecordFilter(Farm)
    block = RecordFilter(Block)
    cultivar = RecordFilter(Cultivar)
    species = SpeciesFilter()
    grade = RecordFilter(CoOpGrade)
    farm_grade = RecordFilter(Grade)


class DifferenceSerializer(serializers.Serializer):
    """A group on one basis: as it was closed, as it is now, and the difference."""

    basis = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        """The keys' columns as texts, and three kilos of each kind."""
        texts = {name: _text() for names in KEY_COLUMNS.values() for name in names}
        kilos = {f"{when}_{name}": Kilos() for name in KILOS for when in ("closed", "now", "more")}
        return {**texts, **super().get_fields(), **kilos}


def _text() -> serializers.Field:
    return serializers.CharField(required=False, allow_null=True)


class ClosedSeasonViewSet(CreatingViewSet):
    """Seasons that a co-op closed: figures asked of one are as they were then.

    A closed season is not opened again, nor changed: a later correction shows as a difference.
    """

    area = Area.SETTLEMENT
    queryset = ClosedSeason.objects.select_related("co_op")
    serializer_class = ClosedSeasonSerializer
    filterset_class = ClosedSeasonFilter
    orderings = ("created_at", "season_year")

    def get_renderers(self) -> list[renderers.BaseRenderer]:
        extra = [CSVRenderer(), XLSXRenderer()] if self.action == "differences" else []
        return [*super().get_renderers(), *extra]

    def write(self, serializer: Any, **extra: Any) -> Model:
        despite = serializer.validated_data["despite"]
        season: ClosedSeason = serializer.candidate({**serializer.validated_data, **extra})
        require_closing(self.caller, season.co_op)
        season.closed_by_id = self.caller.person_id
        return close_season(season, despite=despite, today_in=clock.today)

    @extend_schema(responses=DifferenceSerializer(many=True))
    @action(
        detail=True,
        serializer_class=DifferenceSerializer,
        filterset_class=DifferenceFilter,
        filter_backends=[],
        pagination_class=WholeAnswer,
    )
    def differences(self, request: Request, pk: Any) -> Response:
        """The groups that are no longer as they were closed."""
        filterset = DifferenceFilter(
            request.query_params, queryset=Farm.objects.none(), request=request
        )
        refuse_unknown(request, filterset.filters, {"format"})
        asked = check(filterset)
        closed: ClosedSeason = self.get_object()
        asked |= {"season": closed.season_year, "co_op": closed.co_op}
        rows, keys = _differences(closed, asked), asked["group_by"]
        if request.accepted_renderer.format == "json":
            return Response({"results": rows})
        headings = [*columns_of(keys), *(name for name in DIFFERENCE_COLUMNS)]
        return Response(
            Table(
                headings=headings,
                rows=[[row[name] for name in headings] for row in rows],
                formats=dict.fromkeys(DIFFERENCE_COLUMNS[1:], FORMATS["net_kg"]),
            )
        )


DIFFERENCE_COLUMNS = (
    "basis",
    *(f"{when}_{name}" for name in KILOS for when in ("closed", "now", "more")),
)


def _differences(closed: ClosedSeason, asked: dict[str, Any]) -> list[dict[str, Any]]:
    question = question_of(asked)
    before = table_of(ClosedKilos(closed=closed), question)
    now = table_of(LiveKilos(whose=whose_of(closed.co_op)), question)
    found = differences(before.rows, now.rows)
    names = names_of(question.keys, [each.now for each in found])
    keys = labelled(question.keys, names)
    rows = [{**keys(each.key), "basis": each.basis.value, **_kilos(each)} for each in found]
    return sorted(rows, key=sort_keys(question.keys))


def _kilos(each: Difference) -> dict[str, float]:
    made: dict[str, float] = {}
    for name in KILOS:
        grams = name.replace("_kg", "_g")
        before, now = getattr(each.closed, grams), getattr(each.now, grams)
        made |= {
            f"closed_{name}": before / 1000,
            f"now_{name}": now / 1000,
            f"more_{name}": (now - before) / 1000,
        }
    return made


class OneSeasonFilter(django_filters.CharFilter):
    field_class = SeasonYearField


class ClosingFilter(django_filters.FilterSet):
    season = OneSeasonFilter(label="2026 or 2026/27; empty: the one of last year.")


class ClosingViewSet(CoOpComputedViewSet):
    """What speaks against closing a season now; nothing is closed by asking."""

    area: ClassVar[Area] = Area.SETTLEMENT
    serializer_class = ObjectionSerializer
    filterset_class = ClosingFilter

    def rows(self, asked: dict[str, Any]) -> Sequence[Any]:
        year = asked["season"] or clock.today("UTC").year - 1
        return speaks_against(ClosedSeason(co_op=asked["co_op"], season_year=year), clock.today)


def require_closing(caller: Any, co_op: CoOp) -> None:
    """Before the season's kilos are copied, and not after."""
    if caller.is_platform_admin or co_op.pk in caller.co_ops_with("writes", Area.SETTLEMENT):
        return
    raise Problem("not-allowed", "Only the co-op's staff close its seasons.")
