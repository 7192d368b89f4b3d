"""Several files or a ZIP sent in one step: the page to send them, and what became of each."""

from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import Count, Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import path
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_POST
from uuid_utils.compat import uuid7

from orchard.access import Area, Caller
from records.admin.base import ReadOnlyAdmin
from records.admin.columns import column, page_of
from records.admin.doors import caller_of, visible, writable
from records.admin.filters import LinkFilter
from records.admin.forms import LabelledChoice
from records.choices import BatchFileState, OnProblem
from records.importing import batches
from records.importing.archives import MAX_FILES, SendingRefused, SentFile
from records.models import BatchFile, CoOp, Farm, FileBatch
from records.services.imports import ImportConflictError


class SeveralFiles(forms.FileField):
    """One file or several, as a list."""

    class Input(forms.ClearableFileInput):
        allow_multiple_selected = True

    widget = Input

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        files = (data if isinstance(data, list | tuple) else [data]) or [None]
        return [super(SeveralFiles, self).clean(file, initial) for file in files]


class SendingForm(forms.Form):
    # Made by the page, so that a form sent twice is one sending.
    id = forms.UUIDField(widget=forms.HiddenInput)
    sheets = SeveralFiles(
        label="Files",
        allow_empty_file=True,
        max_length=255,
        help_text="Sheets (CSV, TSV, XLSX, ODS), or ZIPs of sheets. Choose as many as you like.",
    )
    co_op = LabelledChoice(
        queryset=CoOp.objects.none(),
        required=False,
        label="Co-op",
        help_text="Whose members' files these are. Its staff then see them and can answer too.",
    )
    series = forms.CharField(max_length=60, initial="harvest")
    dry_run = forms.BooleanField(required=False, help_text="Only check; nothing is written.")
    on_problem = forms.ChoiceField(choices=OnProblem.choices, label="Where a row is refused")

    def __init__(self, *args: Any, caller: Caller, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        co_ops = CoOp.objects.order_by("code")
        if not caller.is_platform_admin:
            co_ops = co_ops.filter(pk__in=caller.co_ops_with("writes", Area.IMPORT))
        field: Any = self.fields["co_op"]
        field.queryset = co_ops
        if not co_ops.exists():
            del self.fields["co_op"]
        elif not caller.is_platform_admin:
            field.initial = co_ops.first()

    def clean_sheets(self) -> list[Any]:
        files: list[Any] = self.cleaned_data["sheets"]
        if len(files) > MAX_FILES:
            text = f"These are more than {MAX_FILES} files. Send them in several steps."
            raise ValidationError(text, "too-many-files")
        if sum(file.size for file in files) > settings.IMPORT_MAX_BYTES:
            megabytes = settings.IMPORT_MAX_BYTES // 2**20
            text = f"The files are larger than {megabytes} MB together."
            raise ValidationError(text, "too-large")
        return files

    def send(self, caller: Caller) -> FileBatch | None:
        """The batch; None where it was refused, with the reasons at the form."""
        options = dict(self.cleaned_data)
        files = [SentFile(name=f.name, content=f.read()) for f in options.pop("sheets")]
        try:
            return batches.send(files=files, caller=caller, **options)
        except SendingRefused as refusal:
            for fault in refusal.faults:
                self.add_error("sheets", ValidationError(fault.detail, fault.code))
            return None


@admin.register(FileBatch)
class FileBatchAdmin(ReadOnlyAdmin):
    fields = ("co_op", "created_by", "created_by_token", "series", "dry_run", "on_problem")
    date_hierarchy = "created_at"
    list_display = (
        "created_at",
        column("co_op__code", "co-op"),
        column("created_by__email", "sent by"),
        "series",
        "dry_run",
        "files_sent",
        "files_waiting",
    )
    list_select_related = ("co_op", "created_by")
    list_filter = (("co_op", LinkFilter), "dry_run", "files__state", "created_at")
    search_fields = ("files__file_name", "files__farm__code", "co_op__code", "created_by__email")
    ordering = ("-created_at", "-id")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        """With counts that a filter or a search by files leaves as they are."""
        waits = Q(files__state=BatchFileState.QUESTION)
        rows: QuerySet[Any] = super().get_queryset(request)
        return rows.annotate(
            sent=Count("files", distinct=True),
            waiting=Count("files", filter=waits, distinct=True),
        )

    @admin.display(description="files")
    def files_sent(self, batch: Any) -> int:
        sent: int = batch.sent
        return sent

    @admin.display(description="waiting for a farm")
    def files_waiting(self, batch: Any) -> int:
        waiting: int = batch.waiting
        return waiting

    def get_urls(self) -> Any:
        answer = self.admin_site.admin_view(self.answer_view)
        address = "<uuid:batch_id>/files/<uuid:file_id>/"
        return [path(address, answer, name="records_filebatch_answer"), *super().get_urls()]

    # Sending -------------------------------------------------------------------------------

    def has_add_permission(self, request: HttpRequest) -> bool:
        return caller_of(request).may_ever("writes", Area.IMPORT)

    def add_view(
        self, request: HttpRequest, form_url: str = "", extra_context: Any = None
    ) -> HttpResponse:
        if not self.has_add_permission(request):
            raise PermissionDenied
        caller = caller_of(request)
        if request.method == "POST":
            form = SendingForm(request.POST, request.FILES, caller=caller)
            if form.is_valid() and (batch := self._sent(form, caller)):
                return HttpResponseRedirect(page_of(FileBatch, batch.pk))
        else:
            form = SendingForm(initial={"id": uuid7()}, caller=caller)
        context = {
            **self.admin_site.each_context(request),
            "title": "Send files",
            "opts": self.opts,
            "form": form,
        }
        return TemplateResponse(request, "admin/records/filebatch/send.html", context)

    def _sent(self, form: SendingForm, caller: Caller) -> FileBatch | None:
        rows = visible(FileBatch, caller)
        before: FileBatch | None = rows.filter(pk=form.cleaned_data["id"]).first()
        return before or form.send(caller)

    # What became of the files --------------------------------------------------------------

    def change_view(
        self,
        request: HttpRequest,
        object_id: str,
        form_url: str = "",
        extra_context: dict[str, Any] | None = None,
    ) -> HttpResponse:
        batch: Any = self.get_object(request, object_id)
        context = self._files_of(batch, request) if batch is not None else {}
        return super().change_view(
            request, object_id, form_url, {**context, **(extra_context or {})}
        )

    def _files_of(self, batch: FileBatch, request: HttpRequest) -> dict[str, Any]:
        caller = caller_of(request)
        files = visible(BatchFile, caller).filter(batch=batch).order_by("place")
        found = list(files.select_related("farm", "harvest_import").defer("content"))
        waits = any(file.state == BatchFileState.QUESTION for file in found)
        may_answer = waits and writable(FileBatch, caller).filter(pk=batch.pk).exists()
        farms = batches.sendable_farms(batch, caller) if may_answer else Farm.objects.none()
        return {"files": found, "may_answer": may_answer, "farms": farms.only("code")}

    @method_decorator(require_POST)
    def answer_view(self, request: HttpRequest, batch_id: UUID, file_id: UUID) -> HttpResponse:
        """A file's farm, by its code, or that the file is dropped."""
        caller = caller_of(request)
        files = writable(BatchFile, caller).filter(batch_id=batch_id, pk=file_id)
        file = files.defer("content").first()
        if file is None:
            raise Http404
        try:
            messages.success(request, _answered(file, request, caller))
        except (ImportConflictError, PermissionDenied) as error:
            messages.error(request, str(error))
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        return HttpResponseRedirect(page_of(FileBatch, batch_id))


def _answered(file: BatchFile, request: HttpRequest, caller: Caller) -> str:
    if "drop" in request.POST:
        return f'"{file.path}": {batches.drop(file, caller=caller).reason}'
    field = forms.CharField(error_messages={"required": "Say which farm the file is from."})
    code = field.clean(request.POST.get("farm", ""))
    farm = visible(Farm, caller).filter(code=code).first()
    if farm is None:
        raise ValidationError(f'There is no farm with the code "{code}".', "unknown-farm")
    return f'"{file.path}": {batches.answer(file, farm=farm, caller=caller).reason}'
