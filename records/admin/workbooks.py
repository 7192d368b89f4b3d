"""The page that loads farms from a workbook, and says what was created and what is wrong."""

from typing import Any

from django import forms
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.urls import URLPattern, path

from records.admin.doors import caller_of
from records.importing.farm_workbooks import loading
from records.importing.farm_workbooks.template import blank_workbook
from records.importing.sheets import FileRefused
from records.services import invitations

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class WorkbookForm(forms.Form):
    file = forms.FileField(label="Workbook", max_length=255, help_text="XLSX or ODS.")
    dry_run = forms.BooleanField(
        label="Dry run", required=False, initial=True, help_text="Say what would be stored."
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > loading.MAX_BYTES:
            megabytes = loading.MAX_BYTES // 2**20
            raise ValidationError(f"The workbook is larger than {megabytes} MB.", "too-large")
        return file


class Loadable:
    """The list of farms leads to the page, for whoever may set up a farm."""

    admin_site: Any
    opts: Any

    def get_urls(self) -> list[URLPattern]:
        parent: Any = super()
        view = self.admin_site.admin_view
        return [
            path("workbook/", view(self.workbook_view), name="records_farm_workbook"),
            path("workbook/blank/", view(self.blank_view), name="records_farm_workbook_blank"),
            *parent.get_urls(),
        ]

    def changelist_view(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        parent: Any = super()
        may_load = loading.may_load(caller_of(request))
        answer: HttpResponse = parent.changelist_view(
            request, {**(extra_context or {}), "may_load": may_load}
        )
        return answer

    def blank_view(self, request: HttpRequest) -> HttpResponse:
        _require_loader(request)
        answer = HttpResponse(blank_workbook(), content_type=XLSX)
        answer["Content-Disposition"] = 'attachment; filename="farm-workbook.xlsx"'
        return answer

    def workbook_view(self, request: HttpRequest) -> HttpResponse:
        _require_loader(request)
        form = WorkbookForm(request.POST or None, request.FILES or None)
        outcome = _load(request, form) if request.method == "POST" and form.is_valid() else None
        context = {
            **self.admin_site.each_context(request),
            "title": "Set farms up from a workbook",
            "opts": self.opts,
            "form": form,
            "outcome": outcome,
            "deliveries": _deliveries(outcome),
        }
        return TemplateResponse(request, "admin/records/workbook.html", context)


def _require_loader(request: HttpRequest) -> None:
    if not loading.may_load(caller_of(request)):
        raise PermissionDenied


def _load(request: HttpRequest, form: WorkbookForm) -> loading.Outcome | None:
    file = form.cleaned_data["file"]
    try:
        return loading.load(
            file.read(),
            file.name,
            caller=caller_of(request),
            dry_run=form.cleaned_data["dry_run"],
        )
    except FileRefused as error:
        form.add_error("file", ValidationError(error.detail, error.code))
        return None


def _deliveries(outcome: loading.Outcome | None) -> list[tuple[Any, str, str]]:
    invited = outcome.invited if outcome else []
    return [(each, link, invitations.delivery(each)) for each, link in invited]
