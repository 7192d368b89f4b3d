"""`file-batches`: several files or a ZIP in one step; `batch-files`: what became of each file."""

import hashlib
from typing import Any, ClassVar

import django_filters
from django.conf import settings
from django.core.exceptions import PermissionDenied, TooManyFilesSent
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Count, Model, Q
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orchard.access import Area
from orchard.rest.filters import VisibleFilter
from orchard.rest.parsers import JSONParser
from orchard.rest.problems import Problem
from orchard.rest.serializers import RecordSerializer, field_error
from orchard.rest.viewsets import ChangingViewSet, CreatingViewSet, fingerprint_of
from records.api.imports import FORM_BYTES, conflicts
from records.choices import BatchFileState, ImportState
from records.importing import batches
from records.importing.archives import MAX_FILES, SendingRefused, SentFile
from records.models import BatchFile, CoOp, Farm, FileBatch


class CandidateSerializer(serializers.Serializer):
    farm = serializers.UUIDField()
    code = serializers.CharField()
    may_send = serializers.BooleanField(help_text="Whether the sender may send files for it.")


class BatchFileSerializer(RecordSerializer):
    path = serializers.CharField(read_only=True, help_text="The ZIP, its folders, the file's name.")
    farm_code = serializers.CharField(source="farm.code", default=None, read_only=True)
    candidates = CandidateSerializer(many=True, read_only=True)
    import_state = serializers.ChoiceField(
        choices=ImportState.choices,
        source="harvest_import.state",
        default=None,
        read_only=True,
        allow_null=True,
        help_text="Of the file's import, where it has one.",
    )
    import_explanation = serializers.CharField(
        source="harvest_import.explanation", default=None, read_only=True, allow_null=True
    )
    state = serializers.ChoiceField(
        choices=BatchFileState.choices,
        required=False,
        help_text="`dropped` drops a file that waits.",
    )

    class Meta(RecordSerializer.Meta):
        model = BatchFile
        fields = (
            *RecordSerializer.base_fields,
            "batch",
            "place",
            "path",
            "archive",
            "folders",
            "file_name",
            "size_bytes",
            "file_sha256",
            "state",
            "reason",
            "candidates",
            "farm",
            "farm_code",
            "harvest_import",
            "import_state",
            "import_explanation",
        )
        read_only_fields = (
            "batch",
            "place",
            "archive",
            "folders",
            "file_name",
            "size_bytes",
            "file_sha256",
            "reason",
            "harvest_import",
        )

    instance: Any

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs.get("id", self.instance.pk) != self.instance.pk:
            raise field_error("id", "This cannot change once the record exists.", "fixed")
        if attrs.get("state", BatchFileState.DROPPED) != BatchFileState.DROPPED:
            raise field_error("state", "A file that waits can only be dropped.", "invalid_choice")
        if "farm" in attrs and "state" in attrs:
            raise field_error("state", "Name the farm or drop the file, not both.", "invalid")
        if "farm" in attrs and attrs["farm"] is None:
            raise field_error("farm", "Name the farm that the file is from.", "null")
        return attrs


@extend_schema_field({"type": "array", "items": {"type": "string", "format": "binary"}})
class FilesField(serializers.ListField):
    """One file or several, each of them a sheet or a ZIP of sheets."""

    child = serializers.FileField(max_length=255, allow_empty_file=True)


class FileBatchSerializer(RecordSerializer):
    file = FilesField(
        write_only=True,
        allow_empty=False,
        help_text="Sent once or several times: sheets, or ZIPs of sheets.",
    )
    files_sent = serializers.IntegerField(read_only=True, help_text="Those in ZIPs included.")
    files_waiting = serializers.IntegerField(read_only=True, help_text="To be told their farm.")

    class Meta(RecordSerializer.Meta):
        model = FileBatch
        fields: tuple[str, ...] = (
            *RecordSerializer.base_fields,
            "co_op",
            "file",
            *batches.OPTIONS,
            "files_sent",
            "files_waiting",
        )

    def candidate(self, attrs: dict[str, Any]) -> Any:
        return super().candidate({name: attrs[name] for name in attrs if name != "file"})


class WholeFileBatchSerializer(FileBatchSerializer):
    files = serializers.SerializerMethodField()

    class Meta(FileBatchSerializer.Meta):
        fields: tuple[str, ...] = (*FileBatchSerializer.Meta.fields, "files")

    @extend_schema_field(BatchFileSerializer(many=True))
    def get_files(self, batch: FileBatch) -> Any:
        files = FILES.visible_to(self.caller).filter(batch=batch).order_by("place")
        return BatchFileSerializer(files, many=True, context=self.context).data


FILES: Any = BatchFile.objects.select_related("farm", "harvest_import").defer(
    "content", "harvest_import__found"
)


class FileBatchViewSet(CreatingViewSet):
    """Several files or ZIPs sent in one step.

    Each file is matched to a farm: by the farm's code in a folder of the ZIP, by its code or name
    in the file's name, by files of that name that landed before. Where one farm is certain, an
    import is started; any other file waits in state `question` until its farm is named, or it is
    dropped, at `batch-files`. Where the ZIP or a file in it cannot be taken apart, nothing is kept.
    """

    area = Area.IMPORT
    queryset = FileBatch.objects.annotate(
        files_sent=Count("files"),
        files_waiting=Count("files", filter=Q(files__state=BatchFileState.QUESTION)),
    )
    serializer_class = FileBatchSerializer
    created_code = status.HTTP_202_ACCEPTED

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what is too large before any of it is read."""
        if int(request.META.get("CONTENT_LENGTH") or 0) > settings.IMPORT_MAX_BYTES + FORM_BYTES:
            megabytes = settings.IMPORT_MAX_BYTES // 2**20
            raise Problem("body-too-large", f"The files are larger than {megabytes} MB together.")
        super().initial(request, *args, **kwargs)

    def get_parsers(self) -> list[BaseParser]:
        if self.request and self.request.method == "POST":
            return [MultiPartParser()]
        return [JSONParser()]

    def get_serializer_class(self) -> Any:
        return FileBatchSerializer if self.action == "list" else WholeFileBatchSerializer

    @extend_schema(
        request={"multipart/form-data": FileBatchSerializer},
        responses={202: WholeFileBatchSerializer},
    )
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return super().create(request, *args, **kwargs)

    def sent(self, request: Request) -> dict[str, Any]:
        """A form's fields, each of them once but for the files."""
        try:
            form: Any = request.data
        except TooManyFilesSent:
            raise _too_many_files() from None
        for name, values in form.lists():
            if len(values) > 1 and name != "file":
                raise field_error(name, "This was sent more than once.", "invalid")
        if len(form.getlist("file")) > MAX_FILES:
            raise _too_many_files()
        return {name: form.getlist(name) if name == "file" else form[name] for name in form}

    def fingerprint(self, sent: dict[str, Any]) -> bytes:
        files = [_digest(file) for file in sent.get("file", [])]
        return fingerprint_of({**sent, "file": files})

    def write(self, serializer: Any, **extra: Any) -> Model:
        options = {**serializer.validated_data, **extra}
        sent = [_sent_file(file) for file in options.pop("file")]
        try:
            return batches.send(files=sent, caller=self.caller, **options)
        except SendingRefused as refusal:
            raise _refused(refusal) from None


def _digest(file: Any) -> Any:
    if not isinstance(file, UploadedFile):
        return file
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    return [file.name, digest.hexdigest()]


def _sent_file(file: UploadedFile) -> SentFile:
    file.seek(0)
    return SentFile(name=file.name or "", content=file.read())


def _refused(refusal: SendingRefused) -> Problem:
    errors = [
        {"pointer": f"/file/{fault.number}", "code": fault.code, "detail": fault.detail}
        for fault in refusal.faults
    ]
    code = "body-too-large" if refusal.is_too_large else "rule-broken"
    return Problem(code, str(refusal), errors=errors)


def _too_many_files() -> ValidationError:
    text = f"These are more than {MAX_FILES} files. Send them in several steps."
    return field_error("file", text, "too-many-files")


class BatchFileFilter(django_filters.FilterSet):
    batch = VisibleFilter(FileBatch)
    state = django_filters.ChoiceFilter(choices=BatchFileState)
    farm = VisibleFilter(Farm)
    co_op = VisibleFilter(CoOp, field_name="batch__co_op")


class BatchFileViewSet(ChangingViewSet):
    """Single files of batches.

    A file in state `question` waits for an answer: a PATCH with its `farm` starts the import, one
    with `"state": "dropped"` lets it go.
    """

    area = Area.IMPORT
    queryset = FILES.all()
    serializer_class = BatchFileSerializer
    filterset_class: ClassVar[Any] = BatchFileFilter

    def write(self, serializer: Any, **extra: Any) -> Model:
        file, attrs = serializer.instance, serializer.validated_data
        with conflicts():
            if "farm" in attrs:
                return self._answer_with(file, attrs["farm"])
            return batches.drop(file, caller=self.caller) if "state" in attrs else file

    def _answer_with(self, file: BatchFile, farm: Farm) -> BatchFile:
        try:
            return batches.answer(file, farm=farm, caller=self.caller)
        except PermissionDenied as error:
            raise Problem("not-allowed", str(error)) from None
