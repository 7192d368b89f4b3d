"""`harvest-imports`, what was wrong with their rows, and `file-layouts`."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, ClassVar

import django_filters
import orjson
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.db.models import Model, QuerySet
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import renderers, serializers, status
from rest_framework.decorators import action
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import FlagFilter, VisibleFilter
from orchard.rest.parsers import JSONParser
from orchard.rest.problems import Problem
from orchard.rest.renderers import CSVRenderer, JSONRenderer, XLSXRenderer
from orchard.rest.serializers import RecordSerializer, field_error
from orchard.rest.viewsets import fingerprint_of
from records.api.base import FarmFilter, FarmRecordViewSet
from records.choices import ChangeKind, ImportKind, ImportState
from records.importing.columns import MAX_HEADING_CHARS, FileKind, spread_name
from records.importing.kinds import KINDS
from records.importing.sheets import MAX_COLUMNS
from records.models import CoOp, FileLayout, HarvestImport, ImportProblem, ProposedChange
from records.services import imports, undoing

FORM_BYTES = 2**20  # what a form has around its file


class MappingField(serializers.DictField):
    """The sender's headings and the columns they mean; in a form, as JSON text."""

    child = serializers.CharField(allow_blank=True, help_text="A column of the kind of file.")

    def to_internal_value(self, data: Any) -> dict[str, str]:
        mapping: dict[str, str] = super().to_internal_value(_from_text(data))
        if len(mapping) > MAX_COLUMNS or any(len(text) > MAX_HEADING_CHARS for text in mapping):
            raise ValidationError("There are too many headings, or too long ones.", "max_length")
        if any("\0" in text for text in mapping):
            raise ValidationError("A heading has a NUL character in it.", "invalid")
        return mapping


def _from_text(data: Any) -> Any:
    try:
        return orjson.loads(data) if isinstance(data, str) else data
    except orjson.JSONDecodeError:
        raise ValidationError("This is no valid JSON.", "invalid") from None


class OfKindSerializer(RecordSerializer):
    """What is of one kind of file: its columns, and its usual series where none is named."""

    mapping = MappingField(required=False)

    class Meta(RecordSerializer.Meta):
        fixed = ("kind", "series")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        kind = (
            self.instance.kind if self.instance else attrs.get("kind", ImportKind.HARVEST_WEIGHTS)
        )
        if self.instance is None:
            attrs.setdefault("series", ImportKind(kind).usual_series)
        check_mapping(attrs.get("mapping", {}), KINDS[kind].file)
        return super().validate(attrs)


def check_mapping(mapping: dict[str, str], file: FileKind) -> None:
    for heading, name in mapping.items():
        if name and name not in file.by_name and spread_name(name, file) is None:
            known = ", ".join(file.by_name)
            text = f'"{name}" is no column of such files, which have: {known}.'
            raise ValidationError({"mapping": {heading: [ErrorDetail(text, "invalid_choice")]}})


class FileLayoutSerializer(OfKindSerializer):
    class Meta(OfKindSerializer.Meta):
        model = FileLayout
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "kind",
            "series",
            "mapping",
            "decimal_mark",
            "date_order",
            "unit",
        )


class FileLayoutViewSet(FarmRecordViewSet):
    """How a farm's files of a series are read where a file itself does not tell."""

    area = Area.IMPORT
    queryset = FileLayout.objects.all()
    serializer_class = FileLayoutSerializer


class UsedHeadingSerializer(serializers.Serializer):
    heading = serializers.CharField(help_text="As the sender wrote it.")
    column = serializers.CharField(help_text="What it was taken for.")
    unit = serializers.CharField(allow_null=True, help_text="Where the heading names one.")


class RemarkSerializer(serializers.Serializer):
    """What was done by a rule: rows left out, cells carried down, totals, sheets not read."""

    code = serializers.CharField()
    sheet = serializers.CharField(help_text="Of a workbook.")
    detail = serializers.CharField()
    count = serializers.IntegerField(help_text="How many rows it is about.")
    rows = serializers.ListField(child=serializers.IntegerField(), help_text="The first of them.")


class FoundSerializer(serializers.Serializer):
    """How a file was read. Null where it does not apply or nothing depends on it."""

    encoding = serializers.CharField(allow_null=True)
    delimiter = serializers.CharField(allow_null=True)
    line_ends = serializers.CharField(allow_null=True, help_text="lf, crlf, cr or mixed.")
    sheet = serializers.CharField(allow_null=True)
    heading_row = serializers.IntegerField()
    decimal_mark = serializers.CharField(allow_null=True)
    date_order = serializers.CharField(allow_null=True)
    unit = serializers.CharField(allow_null=True, help_text="Of weights whose row names none.")
    headings = UsedHeadingSerializer(many=True)
    unused_headings = serializers.ListField(child=serializers.CharField())
    sheets = serializers.ListField(
        child=serializers.CharField(), required=False, help_text="Those that are read."
    )
    remarks = RemarkSerializer(many=True, required=False)
    replaces_from = serializers.DateField(
        required=False, allow_null=True, help_text="First day that a replacement replaces."
    )
    replaces_until = serializers.DateField(required=False, allow_null=True)


class ExampleSerializer(serializers.Serializer):
    row = serializers.IntegerField(help_text="Row number in the sender's file.")
    column = serializers.CharField(help_text="The heading, as the sender wrote it.")
    value = serializers.CharField()


class QuestionSerializer(serializers.Serializer):
    setting = serializers.CharField(help_text="The field of the import that answers it.")
    detail = serializers.CharField()
    examples = ExampleSerializer(many=True)


COUNTS = tuple(f"rows_{name}" for name in imports.COUNTS)


class HarvestImportSerializer(OfKindSerializer):
    file = serializers.FileField(write_only=True, max_length=255)
    found = FoundSerializer(read_only=True, allow_null=True)
    questions = QuestionSerializer(many=True, read_only=True)
    progress = serializers.IntegerField(
        source="file.progress", read_only=True, help_text="Percent of the way to the outcome."
    )
    rows_landed = serializers.IntegerField(
        source="file.landed",
        read_only=True,
        help_text="While a large file lands step by step: weighings written so far.",
    )

    class Meta(OfKindSerializer.Meta):
        model = HarvestImport
        fields = (
            *RecordSerializer.base_fields,
            "farm",
            "co_op",
            "kind",
            "file",
            "series",
            *imports.OPTIONS,
            "file_name",
            "file_sha256",
            "state",
            "progress",
            "rows_landed",
            "found",
            "questions",
            "explanation",
            *COUNTS,
            "finished_at",
        )
        fixed = ("kind", "series", "co_op")  # type: ignore[assignment]  # one more
        read_only_fields = ("file_name",)
        blame: ClassVar[dict[str, str]] = {
            "harvest_import_of_farm_or_co_op": "farm",
            "file_of_many_farms_is_of_weighings": "kind",
            "replacement_is_of_one_farm": "replaces",
            "replacement_is_of_weighings": "replaces",
            "replacement_leaves_no_row_out": "on_problem",
            "replaced_span_is_of_a_replacement": "replaces",
            "replaced_span_ends_after_it_starts": "replaces_until",
        }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if self.instance is not None and "file" in attrs:
            raise field_error("file", "Send another file as another import.", "fixed")
        if self.instance is None and attrs.get("farm") and attrs.get("co_op"):
            text = "A file is a farm's, or a co-op's whose rows name their farms: say one of them."
            raise field_error("co_op", text, "invalid")
        return super().validate(attrs)

    def candidate(self, attrs: dict[str, Any]) -> Any:
        return super().candidate({name: attrs[name] for name in attrs if name != "file"})


class ImportProblemSerializer(serializers.ModelSerializer):
    class Meta:
        model = ImportProblem
        fields = ("sheet", "row", "column", "value", "detail", "code", "is_warning")


class WeighingShownSerializer(serializers.Serializer):
    """A weighing in the farm's own words; `version` is that of one which is stored."""

    picked_on = serializers.DateField()
    block = serializers.CharField()
    trees = serializers.ListField(child=serializers.CharField(), help_text="Number, or place.")
    cultivar = serializers.CharField(allow_null=True, help_text="As entered.")
    grade = serializers.CharField(allow_null=True)
    crop = serializers.CharField(allow_null=True, help_text="Where a person chose it.")
    weight = serializers.FloatField(allow_null=True)
    unit = serializers.CharField()
    weight_kind = serializers.CharField()
    tare_g = serializers.IntegerField(allow_null=True)
    net_g = serializers.IntegerField(allow_null=True)
    containers = serializers.IntegerField(allow_null=True)
    container = serializers.CharField(allow_null=True)
    fruit_count = serializers.IntegerField(allow_null=True)
    docket = serializers.CharField()
    ticket = serializers.CharField()
    pickers = serializers.ListField(child=serializers.CharField())
    minutes = serializers.IntegerField(allow_null=True)
    note = serializers.CharField()
    version = serializers.IntegerField(required=False)


class ProposedChangeSerializer(serializers.ModelSerializer):
    before = WeighingShownSerializer(allow_null=True)
    after = WeighingShownSerializer(allow_null=True)

    class Meta:
        model = ProposedChange
        fields = (
            *("kind", "weight_id", "sheet", "row", "column", "before", "after", "was_edited"),
        )


class HarvestImportFilter(FarmFilter):
    co_op = VisibleFilter(CoOp)
    kind = django_filters.ChoiceFilter(choices=ImportKind)
    series = django_filters.CharFilter()
    state = django_filters.ChoiceFilter(choices=ImportState)


class ImportProblemFilter(django_filters.FilterSet):
    sheet = django_filters.CharFilter()
    code = django_filters.CharFilter()
    is_warning = FlagFilter()


class ProposedChangeFilter(django_filters.FilterSet):
    kind = django_filters.ChoiceFilter(choices=ChangeKind)
    was_edited = FlagFilter()


class HarvestImportViewSet(FarmRecordViewSet):
    """Members' files on their way in: of weighings, or of the `kind` of records that they name.

    Who sends a kind of file must be allowed to write such records. A file of weighings of many
    farms is sent for a `co_op`, without a `farm`: each row then names a member, by code or name.

    A file is read in the background; look at `state` until it is `question`, `checked`, `refused`,
    `landed`, `stopped` or `failed`. A large one is `landing` for a while: it has passed all checks,
    and `rows_landed` says how far it is. A PATCH answers questions or changes how the file is read,
    and starts it again.

    A file that `replaces` stops at `checked` with its `changes`; a PATCH of `dry_run` to false has
    just those land. If others turn out to be due, it stops again.
    """

    area = Area.IMPORT
    queryset = HarvestImport.objects.select_related("file")
    serializer_class = HarvestImportSerializer
    filterset_class = HarvestImportFilter
    created_code = changed_code = status.HTTP_202_ACCEPTED

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what is too large before any of it is read."""
        if int(request.META.get("CONTENT_LENGTH") or 0) > settings.IMPORT_MAX_BYTES + FORM_BYTES:
            raise _too_large()
        super().initial(request, *args, **kwargs)

    def get_parsers(self) -> list[BaseParser]:
        is_create = bool(self.request) and self.action_map.get("post") == "create"
        if is_create and self.request.method == "POST":
            return [MultiPartParser()]
        return [JSONParser()]

    def get_renderers(self) -> list[renderers.BaseRenderer]:
        if self.action == "problems":
            return [JSONRenderer(), CSVRenderer(), XLSXRenderer()]
        return super().get_renderers()

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if self.action in {"problems", "changes"}:
            return rows.filter(harvest_import=self.kwargs.get("pk"))
        return rows

    @extend_schema(
        request={"multipart/form-data": HarvestImportSerializer},
        responses={202: HarvestImportSerializer},
    )
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().create(request, *args, **kwargs)

    @extend_schema(responses={202: HarvestImportSerializer})
    def partial_update(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().partial_update(request, *args, **kwargs)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """While a file is being read its progress moves, though its version does not."""
        answer = super().retrieve(request, *args, **kwargs)
        if answer.status_code != status.HTTP_304_NOT_MODIFIED:
            return answer
        record = self.get_object()
        if record.state not in imports.UNDER_WAY:
            return answer
        return Response(self.get_serializer(record).data, headers={"ETag": answer["ETag"]})

    @extend_schema(responses=ImportProblemSerializer(many=True))
    @action(
        detail=True,
        queryset=ImportProblem.objects.all(),
        serializer_class=ImportProblemSerializer,
        filterset_class=ImportProblemFilter,
        orderings=("row",),
    )
    def problems(self, request: Request, pk: Any) -> Response:
        """Why rows were refused, and what is odd about others, by row of the sender's file."""
        return self._rows_of(request, pk)

    @extend_schema(responses=ProposedChangeSerializer(many=True))
    @action(
        detail=True,
        queryset=ProposedChange.objects.all(),
        serializer_class=ProposedChangeSerializer,
        filterset_class=ProposedChangeFilter,
        orderings=("id",),
    )
    def changes(self, request: Request, pk: Any) -> Response:
        """What a replacement would change or has changed: first what is in the file, then what is
        gone from it."""
        return self._rows_of(request, pk)

    def _rows_of(self, request: Request, pk: Any) -> Response:
        """A list below an import, which is there only if the import is."""
        if not HarvestImport.objects.visible_to(self.caller).filter(pk=pk).exists():
            raise Http404
        return self.list(request)

    @extend_schema(request=None, responses=HarvestImportSerializer)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: Any) -> Response:
        """Take a landed import back, while none of its rows was touched since."""
        _require_empty(request)
        with transaction.atomic(), conflicts():
            undoing.undo(self._locked(request))
        return self._answer(pk, status.HTTP_200_OK)

    @extend_schema(request=None, responses={202: HarvestImportSerializer})
    @action(detail=True, methods=["post"])
    def resume(self, request: Request, pk: Any) -> Response:
        """Let an import that stopped on its way go on with what has not landed yet."""
        _require_empty(request)
        with transaction.atomic(), conflicts():
            imports.resume(self._locked(request), caller=self.caller)
        return self._answer(pk, status.HTTP_202_ACCEPTED)

    def sent(self, request: Request) -> dict[str, Any]:
        """A form's fields, each of them once."""
        form: Any = request.data
        for name, values in form.lists():
            if len(values) > 1:
                raise field_error(name, "This was sent more than once.", "invalid")
        return {name: form[name] for name in form}

    def fingerprint(self, sent: dict[str, Any]) -> bytes:
        file = sent.get("file")
        if not isinstance(file, UploadedFile):
            return fingerprint_of(sent)
        digest = hashlib.sha256()
        for chunk in file.chunks():
            digest.update(chunk)
        return fingerprint_of({**sent, "file": [file.name, digest.hexdigest()]})

    def write(self, serializer: Any, **extra: Any) -> Model:
        options = {**serializer.validated_data, **extra}
        if serializer.instance is not None:
            with conflicts():
                return imports.read_again(serializer.instance, caller=self.caller, **options)
        file = options.pop("file")
        if file.size > settings.IMPORT_MAX_BYTES:
            raise _too_large()
        return imports.start_import(
            file_name=file.name, content=file, caller=self.caller, **options
        )

    def remove(self, record: Any) -> None:
        with conflicts():
            imports.discard(record)


def _require_empty(request: Request) -> None:
    if request.data:
        unknown = ErrorDetail("There is no such field to write.", "unknown-field")
        raise ValidationError({name: [unknown] for name in request.data})


@contextmanager
def conflicts() -> Iterator[None]:
    """What comes too late, or too early, is a conflict with the import's state."""
    try:
        yield
    except imports.ImportConflictError as error:
        raise Problem("conflict", str(error)) from None


def _too_large() -> Problem:
    megabytes = settings.IMPORT_MAX_BYTES // 2**20
    return Problem("body-too-large", f"The file is larger than {megabytes} MB.")
