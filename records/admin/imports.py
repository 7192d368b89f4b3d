"""Members' files: how they are read, what became of them, and what was wrong with their rows."""

from typing import Any

from django.contrib import admin
from django.urls import reverse
from django.utils.html import format_html, format_html_join

from orchard.access import Area
from records.admin.base import ReadOnlyAdmin, RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.admin.plants import FARM
from records.models import FileLayout, HarvestImport, ImportFile, ImportProblem

FIRST_PROBLEMS = 50


@admin.register(FileLayout)
class FileLayoutAdmin(RecordAdmin):
    fields = ("farm", "kind", "series", "mapping", "decimal_mark", "date_order", "unit")
    fixed = ("kind", "series")
    autocomplete_fields = ("farm",)
    list_display = ("series", "kind", FARM, "decimal_mark", "date_order", "unit", "updated_at")
    list_select_related = ("farm",)
    list_filter = (("farm", LinkFilter), "kind", "decimal_mark", "date_order", "unit", "updated_at")
    search_fields = ("series", "farm__code")
    ordering = ("farm__code", "series")


SENT = ("farm", "kind", "series", "file_name", "file_sha256", "created_by", "co_op")
OUTCOME = (
    "state",
    "progress",
    "explanation",
    "questions",
    "rows_read",
    "rows_added",
    "rows_changed",
    "rows_unchanged",
    "rows_retired",
    "rows_refused",
    "rows_warned",
    "finished_at",
)
READING = (
    "dry_run",
    "on_problem",
    "remember",
    "encoding",
    "delimiter",
    "sheet",
    "decimal_mark",
    "date_order",
    "unit",
    "mapping",
    "found",
)


@admin.register(HarvestImport)
class HarvestImportAdmin(ReadOnlyAdmin):
    fields = (*SENT, *OUTCOME, "problems", *READING)
    sections = {
        "What became of it": OUTCOME,
        "Problems": ("problems",),
        "How it was read": READING,
    }
    date_hierarchy = "created_at"
    list_display = (
        "file_name",
        FARM,
        "kind",
        "series",
        "state",
        "rows_read",
        "rows_added",
        "rows_changed",
        "rows_refused",
        column("created_by__email", "sent by"),
        "created_at",
    )
    list_select_related = ("farm", "created_by")
    list_filter = (("farm", LinkFilter), "kind", "state", "dry_run", "created_at")
    search_fields = ("file_name", "series", "farm__code", "created_by__email")
    ordering = ("-created_at", "-id")

    @admin.display(description="progress")
    def progress(self, found: HarvestImport) -> str:
        percent = ImportFile.objects.filter(pk=found.pk).values_list("progress", flat=True).first()
        return "-" if percent is None else f"{percent} %"

    @admin.display(description="problems")
    def problems(self, found: HarvestImport) -> str:
        """The first problems, and the way to all of them."""
        rows = found.problems.order_by("row", "id")
        lines = [
            (p.row, p.column, p.value, "warning" if p.is_warning else "refused", p.detail)
            for p in rows[:FIRST_PROBLEMS]
        ]
        if not lines:
            return "none"
        address = reverse("admin:records_importproblem_changelist")
        return format_html(
            "<table><tr><th>Row</th><th>Column</th><th>Value</th><th></th><th>Why</th></tr>{}"
            '</table><p><a href="{}?harvest_import__id__exact={}">All {} problems</a></p>',
            format_html_join("", "<tr>" + "<td>{}</td>" * 5 + "</tr>", lines),
            address,
            found.pk,
            rows.count(),
        )


@admin.register(ImportProblem)
class ImportProblemAdmin(ReadOnlyAdmin):
    area = Area.IMPORT
    fields = ("farm", "harvest_import", "row", "column", "value", "is_warning", "detail", "code")
    list_display = (
        column("harvest_import__file_name", "file"),
        FARM,
        "row",
        "column",
        "value",
        "is_warning",
        "detail",
    )
    list_select_related = ("farm", "harvest_import")
    list_filter = (
        ("farm", LinkFilter),
        "is_warning",
        "code",
        ("harvest_import__created_at", admin.DateFieldListFilter),
    )
    search_fields = ("harvest_import__file_name", "column", "value", "detail", "farm__code")
    ordering = ("-harvest_import_id", "row", "id")

    def get_fieldsets(self, request: Any, obj: Any = None) -> Any:
        """Problems have no version and no times of their own."""
        return [(None, {"fields": self.get_fields(request, obj)})]

    def get_readonly_fields(self, request: Any, obj: Any = None) -> Any:
        return self.get_fields(request, obj)
