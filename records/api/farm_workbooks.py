"""`farm-workbooks`: farms set up from one workbook, and a blank one to fill in."""

from typing import Any

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest import problems
from orchard.rest.callers import caller_of
from orchard.rest.problems import Problem, broken_rule
from orchard.rest.renderers import JSONRenderer, XLSXRenderer
from orchard.rest.serializers import Strict
from orchard.rest.viewsets import MayReach
from records.importing.farm_workbooks import loading
from records.importing.farm_workbooks.template import blank_workbook
from records.importing.sheets import FileRefused

FORM_BYTES = 2**16  # what a form has around its file


class FarmWorkbookSerializer(Strict):
    file = serializers.FileField(max_length=255, help_text="XLSX or ODS.")
    dry_run = serializers.BooleanField(
        default=False, help_text="Say what would be stored, and store nothing."
    )


class SheetOutcomeSerializer(serializers.Serializer):
    sheet = serializers.CharField()
    created = serializers.IntegerField()
    changed = serializers.IntegerField()
    unchanged = serializers.IntegerField()


class SheetProblemSerializer(serializers.Serializer):
    sheet = serializers.CharField()
    row = serializers.IntegerField(help_text="As the sender has it; 0 for the whole sheet.")
    column = serializers.CharField(help_text="The heading, as the sender wrote it.")
    value = serializers.CharField()
    code = serializers.CharField()
    detail = serializers.CharField()
    is_warning = serializers.BooleanField()


class InvitedSerializer(serializers.Serializer):
    id = serializers.UUIDField()
    name = serializers.CharField()
    email = serializers.CharField()
    farm = serializers.UUIDField(allow_null=True, source="farm_id")
    co_op = serializers.UUIDField(allow_null=True, source="co_op_id")
    role = serializers.CharField()
    link = serializers.CharField(help_text="Shown here and never again.")


class LoadedSerializer(serializers.Serializer):
    """What a workbook did or would do. Nothing is stored while a problem is no mere warning."""

    state = serializers.ChoiceField(choices=["checked", "loaded"])
    sheets = SheetOutcomeSerializer(many=True)
    problems = SheetProblemSerializer(many=True)
    invitations = InvitedSerializer(many=True)


class FarmWorkbookViewSet(viewsets.GenericViewSet):
    """Farms, blocks, trees, cultivars, memberships and people from one workbook."""

    area = Area.PEOPLE
    permission_classes = (permissions.IsAuthenticated, MayReach)
    serializer_class = FarmWorkbookSerializer

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what is too large before any of it is read."""
        if int(request.META.get("CONTENT_LENGTH") or 0) > loading.MAX_BYTES + FORM_BYTES:
            raise _too_large()
        super().initial(request, *args, **kwargs)

    def get_parsers(self) -> list[BaseParser]:
        return [MultiPartParser()]

    def get_renderers(self) -> list[BaseRenderer]:
        if self.action == "template":
            return [XLSXRenderer(), JSONRenderer()]
        return super().get_renderers()

    @extend_schema(
        request={"multipart/form-data": FarmWorkbookSerializer}, responses={200: LoadedSerializer}
    )
    def create(self, request: Request) -> Response:
        """Load a workbook, all of it or nothing; 422 with every problem where it is refused."""
        form: Any = request.data
        serializer = self.get_serializer(data=form.dict() if hasattr(form, "dict") else form)
        serializer.is_valid(raise_exception=True)
        file = serializer.validated_data["file"]
        if file.size > loading.MAX_BYTES:
            raise _too_large()
        try:
            outcome = loading.load(
                file.read(),
                file.name,
                caller=caller_of(request),
                dry_run=serializer.validated_data["dry_run"],
            )
        except FileRefused as error:
            raise broken_rule(error.detail, field="file", code=error.code) from None
        if outcome.state == "refused":
            return _refusal(request, outcome)
        return Response(LoadedSerializer(_shown(outcome)).data)

    @extend_schema(
        responses={(200, XLSXRenderer.media_type): OpenApiTypes.BINARY},
        operation_id="retrieve_farm_workbook_template",
    )
    @action(detail=False)
    def template(self, request: Request) -> HttpResponse:
        """A blank workbook with every sheet, its headings, and what they mean."""
        answer = HttpResponse(blank_workbook(), content_type=XLSXRenderer.media_type)
        answer["Content-Disposition"] = 'attachment; filename="farm-workbook.xlsx"'
        return answer


def _shown(outcome: loading.Outcome) -> dict[str, Any]:
    invited = []
    for invitation, link in outcome.invited:
        invitation.link = link  # type: ignore[attr-defined]  # for the answer alone
        invited.append(invitation)
    return {
        "state": outcome.state,
        "sheets": outcome.sheets,
        "problems": outcome.problems,
        "invitations": invited,
    }


def _refusal(request: Request, outcome: loading.Outcome) -> Response:
    """Problem details with the workbook's own problems beside (RFC 9457, 3.2)."""
    found: Any = SheetProblemSerializer(outcome.problems, many=True).data
    refused = [each for each in found if not each["is_warning"]]
    text = f"Nothing was stored. Problems: {len(refused)}. First: {_sentence(refused[0])}"
    document = problems.body("rule-broken", text, request=request._request)
    document["errors"] = [
        {"pointer": "/file", "code": each["code"], "detail": _sentence(each)} for each in refused
    ]
    document["sheets"] = SheetOutcomeSerializer(outcome.sheets, many=True).data
    document["problems"] = found
    return Response(
        document,
        status=status.HTTP_422_UNPROCESSABLE_ENTITY,
        content_type=problems.MEDIA_TYPE,
    )


def _sentence(problem: dict[str, Any]) -> str:
    where = [f'sheet "{problem["sheet"]}"']
    if problem["row"]:
        where.append(f"row {problem['row']}")
    if problem["column"]:
        where.append(f'column "{problem["column"]}"')
    return f"{', '.join(where)}: {problem['detail']}"


def _too_large() -> Problem:
    return Problem(
        "body-too-large", f"The workbook is larger than {loading.MAX_BYTES // 2**20} MB."
    )
