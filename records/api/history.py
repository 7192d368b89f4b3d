"""`history` of a farm, and `me`: who is asking."""

import datetime as dt

import django_filters
from django.core import signing
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import permissions, serializers, views, viewsets
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from orchard.access import Area
from orchard.rest.callers import caller_of
from orchard.rest.filters import VisibleFilter, check, refuse_unknown
from orchard.rest.pagination import bad_parameter
from orchard.rest.viewsets import MayReach
from records.models import Farm
from records.services import history

PAGE = 100
AREAS = [area.value for area in Area]


class ChangeSerializer(serializers.Serializer):
    at = serializers.DateTimeField()
    kind = serializers.ChoiceField(choices=list(history.KINDS))
    record = serializers.UUIDField()
    action = serializers.ChoiceField(choices=list(history.ACTIONS.values()))
    by = serializers.CharField(allow_null=True, help_text="Person or token, as named at the time.")
    made_by = serializers.DictField(help_text="The request or import that made the change.")
    values = serializers.DictField(help_text="The record after the change; before it, if deleted.")


class HistoryPageSerializer(serializers.Serializer):
    next = serializers.URLField(allow_null=True)
    results = ChangeSerializer(many=True)


class HistoryFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm, required=True)
    kind = django_filters.ChoiceFilter(choices=[(kind, kind) for kind in history.KINDS])
    record = django_filters.UUIDFilter()

    class Meta:
        model = Farm
        fields: tuple[str, ...] = ()


class HistoryViewSet(viewsets.ViewSet):
    """Every change on a farm, by anyone, the latest first."""

    area = Area.HISTORY
    permission_classes = (permissions.IsAuthenticated, MayReach)
    filterset_class = HistoryFilter

    @extend_schema(
        responses=HistoryPageSerializer,
        parameters=[
            OpenApiParameter("farm", OpenApiTypes.UUID, required=True),
            OpenApiParameter("kind", str, enum=list(history.KINDS)),
            OpenApiParameter("record", OpenApiTypes.UUID),
            OpenApiParameter("cursor", str, description="Where the page starts; from `next`."),
        ],
    )
    def list(self, request: Request) -> Response:
        filterset = HistoryFilter(request.query_params, Farm.objects.none(), request=request)
        refuse_unknown(request, filterset.filters)
        filters = check(filterset)
        farm = filters["farm"]
        readable = Farm.objects.all().where_caller_may("reads", Area.HISTORY, caller_of(request))
        if not readable.filter(pk=farm.pk).exists():
            raise PermissionDenied
        found = history.changes(
            farm.pk,
            kinds=[filters["kind"]] if filters["kind"] else list(history.KINDS),
            record_id=filters["record"],
            before=_position(request),
            limit=PAGE + 1,
        )
        page = {"next": _next(request, found), "results": found[:PAGE]}
        return Response(HistoryPageSerializer(page).data)


def _position(request: Request) -> history.Position | None:
    cursor = request.query_params.get("cursor")
    if not cursor:
        return None
    try:
        at, kind, event = signing.loads(cursor, salt="orchard.history")
    except signing.BadSignature:
        raise bad_parameter("cursor", "is not one that this service made.") from None
    return dt.datetime.fromisoformat(at), kind, event


def _next(request: Request, found: list[history.Change]) -> str | None:
    if len(found) <= PAGE:
        return None
    last = found[PAGE - 1]
    cursor = signing.dumps([last.at.isoformat(), last.kind, last.event], salt="orchard.history")
    return replace_query_param(request.build_absolute_uri(), "cursor", cursor)


class FarmRightsSerializer(serializers.Serializer):
    farm = serializers.UUIDField()
    reads = serializers.ListField(child=serializers.ChoiceField(choices=AREAS))
    writes = serializers.ListField(child=serializers.ChoiceField(choices=AREAS))
    writes_own = serializers.ListField(child=serializers.ChoiceField(choices=AREAS))


class MeSerializer(serializers.Serializer):
    name = serializers.CharField()
    person = serializers.UUIDField(allow_null=True)
    token = serializers.UUIDField(allow_null=True)
    is_platform_admin = serializers.BooleanField()
    farms = FarmRightsSerializer(many=True)
    co_ops = serializers.ListField(child=serializers.UUIDField())


class MeView(views.APIView):
    """Who is asking, and what they may do where."""

    @extend_schema(responses=MeSerializer, operation_id="retrieve_me")
    def get(self, request: Request) -> Response:
        caller = caller_of(request)
        farms = [
            {
                "farm": farm,
                "reads": sorted(held.reads | held.own),
                "writes": sorted(held.writes),
                "writes_own": sorted(held.own),
            }
            for farm, held in caller.farms.items()
        ]
        return Response(
            MeSerializer(
                {
                    "name": caller.name,
                    "person": caller.person_id,
                    "token": caller.token_id,
                    "is_platform_admin": caller.is_platform_admin,
                    "farms": farms,
                    "co_ops": list(caller.co_ops),
                }
            ).data
        )
