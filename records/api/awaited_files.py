"""`co-ops/{id}/awaited-files`: which members have sent this week, and which have not."""

from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import renderers, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import refuse_unknown
from orchard.rest.pagination import bad_parameter
from orchard.rest.problems import Problem
from orchard.rest.renderers import CSVRenderer
from orchard.rest.viewsets import RecordsView
from records.choices import ImportState
from records.services.awaited_files import Sent, Week, awaited_files, clock_of, sees_members_files

PARAMETERS = ("week", "sent")
SENT = [each.value for each in Sent]


class GramsAsKilos(serializers.FloatField):
    def to_representation(self, value: Any) -> Any:
        return round(value / 1000, 3)


class FileNotInSerializer(serializers.Serializer):
    harvest_import = serializers.UUIDField()
    file_name = serializers.CharField()
    state = serializers.ChoiceField(choices=ImportState.choices)
    explanation = serializers.CharField()


class MemberWeekSerializer(serializers.Serializer):
    farm_code = serializers.CharField()
    farm = serializers.UUIDField()
    sent = serializers.ChoiceField(
        choices=SENT, help_text="The most of what came; `not-in` came but is not in."
    )
    files_landed = serializers.IntegerField()
    rows_landed = serializers.IntegerField(help_text="Of these files: added, changed, known.")
    net_kg = GramsAsKilos(source="net_g", help_text="By the scale, of the rows of these files.")
    rows_entered = serializers.IntegerField(help_text="Weighings that came by no file.")
    entered_net_kg = GramsAsKilos(source="entered_net_g")
    files_not_in = FileNotInSerializer(many=True)
    last_file_on = serializers.DateField(allow_null=True, help_text="Of any week.")
    last_picked_on = serializers.DateField(allow_null=True, help_text="The latest picking known.")


class AwaitedFilesSerializer(serializers.Serializer):
    week = serializers.CharField(help_text="As ISO 8601 writes it: 2026-W37.")
    starts_on = serializers.DateField(help_text="A Monday, by the clock of each farm.")
    ends_on = serializers.DateField()
    unmatched_files = serializers.IntegerField(help_text="They wait in batches for a farm.")
    results = MemberWeekSerializer(many=True)


class AwaitedFiles(RecordsView):
    """The part of `co-ops` that tells who has sent."""

    def get_renderers(self) -> list[renderers.BaseRenderer]:
        extra = [CSVRenderer()] if self.action == "awaited_files" else []
        return [*super().get_renderers(), *extra]

    @extend_schema(
        responses=AwaitedFilesSerializer,
        parameters=[
            OpenApiParameter("week", str, description="Such as 2026-W37; by default this week."),
            OpenApiParameter("sent", str, enum=SENT),
        ],
    )
    @action(
        detail=True,
        url_path="awaited-files",
        area=Area.IMPORT,
        serializer_class=MemberWeekSerializer,
        filter_backends=[],
    )
    def awaited_files(self, request: Request, pk: Any) -> Response:
        """What came in a week from each member in force, and from whom nothing came.

        A week runs from Monday to Sunday of the member's local date, and what counts is the day
        on which a file or an entry came. This week is that of most members' time zone.
        """
        refuse_unknown(request, PARAMETERS, {"format"})
        co_op = self.get_object()
        if not sees_members_files(self.caller, co_op):
            raise Problem("not-allowed", "Only the co-op's staff see what its members sent.")
        today = clock.today(clock_of(co_op, clock.today("UTC")))
        week, wanted = _week(request) or Week.of(today), _wanted(request)
        found = awaited_files(co_op, self.caller, week=week, today=today)
        members = [member for member in found.members if wanted in {None, member.sent}]
        rows = MemberWeekSerializer(members, many=True).data
        if request.accepted_renderer.format == "csv":
            return Response(rows)
        return Response(
            {
                "week": str(week),
                "starts_on": week.monday,
                "ends_on": week.sunday,
                "unmatched_files": found.unmatched_files,
                "results": rows,
            }
        )


def _week(request: Request) -> Week | None:
    text = request.query_params.get("week")
    try:
        return Week.read(text) if text is not None else None
    except ValueError:
        raise bad_parameter("week", "must be a week like 2026-W37.") from None


def _wanted(request: Request) -> Sent | None:
    text = request.query_params.get("sent")
    if text is not None and text not in SENT:
        raise bad_parameter("sent", f"must be one of {', '.join(SENT)}.")
    return Sent(text) if text is not None else None
