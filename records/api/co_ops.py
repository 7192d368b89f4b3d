"""`co-ops`, `memberships`, `co-op-grades` and the roles of people."""

from typing import ClassVar

import django_filters

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.serializers import RecordSerializer, VisibleRelatedField
from records.api.awaited_files import AwaitedFiles
from records.api.base import FarmFilter, FarmRecordViewSet, ReferenceViewSet
from records.models import CoOp, CoOpGrade, FarmRole, Membership, Person
from records.querysets import PersonQuerySet


class CoOpSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = CoOp
        fields = (
            *RecordSerializer.base_fields,
            "code",
            "name",
            "basis",
            "phone",
            "address",
            "retired_on",
        )


class CoOpViewSet(AwaitedFiles, ReferenceViewSet):
    """Groups of farms that consolidate their harvests."""

    area = None
    queryset = CoOp.objects.all()
    serializer_class = CoOpSerializer
    orderings = ("created_at", "code")


class MembershipSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = Membership
        fields = (
            *RecordSerializer.base_fields,
            "co_op",
            "farm",
            "starts_on",
            "ends_on",
            "shares",
            "staff_may_edit",
            "is_associate",
        )
        fixed = ("co_op",)
        blame: ClassVar[dict[str, str]] = {
            "membership_ends_after_it_starts": "ends_on",
            "membership_once_at_a_time": "starts_on",
        }


class MembershipFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)


class MembershipViewSet(FarmRecordViewSet):
    """Farms' times in co-ops, and what they share there."""

    queryset = Membership.objects.all()
    serializer_class = MembershipSerializer
    filterset_class = MembershipFilter


class CoOpGradeSerializer(RecordSerializer):
    class Meta(RecordSerializer.Meta):
        model = CoOpGrade
        fields = (*RecordSerializer.base_fields, "co_op", "code", "name", "is_marketable")
        fixed = ("co_op",)


class CoOpGradeFilter(django_filters.FilterSet):
    co_op = VisibleFilter(CoOp)


class CoOpGradeViewSet(ReferenceViewSet):
    """Co-ops' own grades, to which their members' grades are mapped."""

    area = None
    queryset = CoOpGrade.objects.all()
    serializer_class = CoOpGradeSerializer
    filterset_class = CoOpGradeFilter


class FarmRoleSerializer(RecordSerializer):
    person = VisibleRelatedField(queryset=PersonQuerySet(Person))

    class Meta(RecordSerializer.Meta):
        model = FarmRole
        fields = (*RecordSerializer.base_fields, "farm", "person", "role", "ends_on")
        fixed = ("person",)


class FarmRoleViewSet(FarmRecordViewSet):
    """What people may do on a farm."""

    area = Area.PEOPLE
    queryset = FarmRole.objects.all()
    serializer_class = FarmRoleSerializer
