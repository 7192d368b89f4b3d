"""`flower-hours`: in which hours a farm brushes and gathers, and the sources that ship."""

from typing import Any, ClassVar

import django_filters
from django.db.models import Model
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import VisibleFilter, check, refuse_unknown
from orchard.rest.pagination import page_response
from orchard.rest.serializers import RecordSerializer
from orchard.rest.viewsets import RecordViewSet
from planning.api.pollination_shapes import POLLEN_DAYS
from planning.choices import SunEvent
from planning.compute.pollination_windows import (
    CAUTIONS,
    Hours,
    Source,
    in_words,
    sources_of,
)
from planning.models import FlowerHours
from planning.models.flower_hours import PARTS, fields_of
from planning.services.flower_hours import save_flower_hours
from records.models import Farm, Species


class FlowerHoursSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = FlowerHours
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "species",
            "shipped_source",
            *fields_of("brush"),
            *fields_of("gather"),
            "source",
        )
        fixed = ("species",)
        blame: ClassVar[dict[str, str]] = {
            "flower_hours_chosen_or_own": "shipped_source",
            **{
                f"flower_hours_{part}_{rule}": f"{part}_to_minutes"
                for part in PARTS
                for rule in ("is_whole", "in_range", "in_order")
            },
        }


class FlowerHoursFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm)
    species = VisibleFilter(Species)


# What ships --------------------------------------------------------------------------------------


class ShippedFilter(django_filters.FilterSet):
    species = VisibleFilter(Species)


class EdgeSerializer(serializers.Serializer):
    anchor = serializers.ChoiceField(choices=SunEvent.choices)
    minutes = serializers.IntegerField(help_text="After it; negative: before.")
    clock = serializers.FloatField(
        allow_null=True,
        help_text="The hour by the source's own clock: 26 is 02:00 of the next date.",
    )


class WindowSerializer(serializers.Serializer):
    opens = EdgeSerializer()
    closes = EdgeSerializer()
    when = serializers.ChoiceField(
        choices=POLLEN_DAYS,
        allow_null=True,
        help_text="It holds only if pollen is shed on that day, seen from the opening date.",
    )


class ShippedHoursSerializer(serializers.Serializer):
    windows = WindowSerializer(many=True)
    words = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field
    reason = serializers.CharField(allow_null=True, help_text="Why there are no hours.")

    def to_representation(self, instance: Hours) -> dict[str, Any]:
        return {
            "windows": WindowSerializer(instance.windows, many=True).data,
            "words": in_words(instance.windows),
            "source": instance.source,
            "reason": instance.reason,
        }


class SourcePlaceSerializer(serializers.Serializer):
    name = serializers.CharField()
    latitude = serializers.FloatField()
    longitude = serializers.FloatField()
    time_zone = serializers.CharField()
    day = serializers.DateField()
    noon_minutes = serializers.IntegerField(help_text="Solar noon by its clock, from midnight.")
    is_assumed = serializers.BooleanField()
    note = serializers.CharField()


class LimitSerializer(serializers.Serializer):
    reading = serializers.CharField()
    side = serializers.CharField()
    value = serializers.FloatField()


class ShippedCautionSerializer(serializers.Serializer):
    code = serializers.CharField()
    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field
    limits = LimitSerializer(many=True)


class ShippedSerializer(serializers.Serializer):
    """One source of a species' hours. A species without a row has none."""

    species = serializers.UUIDField()
    species_code = serializers.CharField()
    code = serializers.CharField()
    is_default = serializers.BooleanField()
    is_weak = serializers.BooleanField()
    why_weak = serializers.CharField(allow_null=True)
    brush = ShippedHoursSerializer()
    gather = ShippedHoursSerializer()
    place = SourcePlaceSerializer(allow_null=True)
    notes = serializers.ListField(child=serializers.CharField())
    cautions = ShippedCautionSerializer(many=True)


class ShippedPageSerializer(serializers.Serializer):
    next = serializers.URLField(allow_null=True)
    results = ShippedSerializer(many=True)


def _shipped(kind: Species, source: Source) -> dict[str, Any]:
    parts = ("code", "is_default", "is_weak", "why_weak", "brush", "gather", "place", "notes")
    return {
        "species": kind.pk,
        "species_code": kind.code,
        "cautions": [each for each in CAUTIONS if not each.species or kind.code in each.species],
        **{name: getattr(source, name) for name in parts},
    }


# -------------------------------------------------------------------------------------------------


class FlowerHoursViewSet(RecordViewSet):
    """A source that ships and that the farm goes by, or hours of its own; one row a species.

    Without a row the default that ships holds.
    """

    area = Area.SCHEDULE
    queryset = FlowerHours.objects.all()
    serializer_class = FlowerHoursSerializer
    filterset_class = FlowerHoursFilter
    tabular = True

    def write(self, serializer: Any, **extra: Any) -> Model:
        return save_flower_hours(serializer.candidate({**serializer.validated_data, **extra}))

    @extend_schema(
        responses=ShippedPageSerializer,
        parameters=[OpenApiParameter("species", OpenApiTypes.UUID)],
        filters=False,
    )
    @action(detail=False, filterset_class=ShippedFilter, pagination_class=None)
    def shipped(self, request: Request) -> Response:
        """The sources that ship, the default of each species first; every one may be chosen."""
        filterset = ShippedFilter(request.query_params, Species.objects.none(), request=request)
        refuse_unknown(request, filterset.filters, {"format"})
        chosen = check(filterset)["species"]
        kinds = [chosen] if chosen else Species.objects.order_by("code")
        rows = [_shipped(kind, source) for kind in kinds for source in sources_of(kind.code)]
        return page_response(None, ShippedSerializer(rows, many=True).data)
