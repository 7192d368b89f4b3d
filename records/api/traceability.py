"""`trace-coverages`: whether the traceability rule is taken to cover a species."""

from typing import ClassVar

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer
from records.api.base import FarmFilter, FarmRecordViewSet
from records.models import CoOp, Species, TraceCoverage


class TraceCoverageSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = TraceCoverage
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "species",
            "is_covered",
            "starts_on",
            "ends_on",
            "source",
            "created_by",
        )
        read_only_fields = ("created_by",)
        fixed = ("co_op", "species")
        blame: ClassVar[dict[str, str]] = {
            "trace_coverage_of_one_farm_or_one_co_op": "farm",
            "trace_coverage_ends_after_it_starts": "ends_on",
            "trace_coverage_has_a_source": "source",
            "trace_coverage_once_at_a_time_of_farm": "starts_on",
            "trace_coverage_once_at_a_time_of_co_op": "starts_on",
        }


class TraceCoverageFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    species = VisibleFilter(Species)


class TraceCoverageViewSet(FarmRecordViewSet):
    """What a farm or a co-op says of a species: covered by the traceability rule or not, and when.

    It is theirs to decide, with whoever advises them on the law; nothing is built in. A species
    without an entry is "not stated".
    """

    area = Area.HARVEST
    queryset = TraceCoverage.objects.all()
    serializer_class = TraceCoverageSerializer
    filterset_class = TraceCoverageFilter
    orderings = ("created_at", "starts_on")
    tabular = True
