"""`farms` and `season-starts`."""

from typing import ClassVar

from orchard.rest.serializers import RecordSerializer
from records.api.base import BlockFilter, FarmRecordViewSet
from records.models import Farm, SeasonStart


class FarmSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Farm
        fields = (
            *RecordSerializer.base_fields,
            "code",
            "name",
            "time_zone",
            "latitude",
            "longitude",
            "business_name",
            "phone",
            "address",
            "season_start_month",
            "backdate_days",
            "adviser_writes",
            "decimal_mark",
            "date_order",
            "weight_unit",
            "retired_on",
        )
        shared = ("code",)
        fixed = ("code",)
        blame: ClassVar[dict[str, str]] = {"farm_coordinates_in_range": "latitude"}


class FarmViewSet(FarmRecordViewSet):
    """Places with coordinates and a time zone."""

    queryset = Farm.objects.all()
    serializer_class = FarmSerializer
    filterset_class = None
    orderings = ("created_at", "code")


class SeasonStartSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = SeasonStart
        fields = (*RecordSerializer.base_fields, "farm", "block", "applies_from", "month")
        shared = ()


class SeasonStartViewSet(FarmRecordViewSet):
    """From a date on, the month in which a farm's or a block's season starts."""

    queryset = SeasonStart.objects.all()
    serializer_class = SeasonStartSerializer
    filterset_class = BlockFilter
