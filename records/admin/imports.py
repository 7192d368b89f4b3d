"""Members' files: how they are read, what became of them, and what was wrong with their rows."""

from collections.abc import Sequence
from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from orchard.access import Area
from records.admin.base import ReadOnlyAdmin, RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.admin.plants import FARM
from records.models import FileLayout, HarvestImport, ImportFile, ImportProblem, ProposedChange

FIRST_ROWS = 50


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
    "rows_landed",
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
    "replaces",
    "replaces_from",
    "replaces_until",
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
    fields = (*SENT, *OUTCOME, "problems", "changes", "remarks", *READING)
    sections = {
        "What became of it": OUTCOME,
        "Problems": ("problems",),
        "What a replacement changes": ("changes",),
        "Left out, carried down, added up": ("remarks",),
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

    @admin.display(description="rows landed")
    def rows_landed(self, found: HarvestImport) -> str:
        """Of a large file, while it lands step by step."""
        file = ImportFile.objects.filter(pk=found.pk).first()
        return str(file.landed) if file and file.landed else "-"

    @admin.display(description="problems")
    def problems(self, found: HarvestImport) -> str:
        """The first problems, and the way to all of them."""
        rows = found.problems.order_by("row", "id")
        lines = [
            (p.sheet, p.row, p.column, p.value, "warning" if p.is_warning else "refused", p.detail)
            for p in rows[:FIRST_ROWS]
        ]
        headings = ("Sheet", "Row", "Column", "Value", "", "Why")
        return table(headings, lines) + way_to_all(ImportProblem, found, rows.count(), "problems")

    @admin.display(description="changes")
    def changes(self, found: HarvestImport) -> str:
        """The first changes of a replacement, and the way to all of them."""
        rows = found.proposed_changes.order_by("id")
        lines = [
            (one.kind, one.sheet, one.row or "", one.column, said(one.before), said(one.after))
            for one in rows[:FIRST_ROWS]
        ]
        headings = ("", "Sheet", "Row", "Column", "Before", "After")
        return table(headings, lines) + way_to_all(ProposedChange, found, rows.count(), "changes")

    @admin.display(description="remarks")
    def remarks(self, found: HarvestImport) -> str:
        """What was done by a rule."""
        told = (found.found or {}).get("remarks", [])
        return table(("Sheet", ""), [(remark["sheet"], remark["detail"]) for remark in told])


def table(headings: Sequence[str], lines: Sequence[Sequence[Any]]) -> SafeString:
    if not lines:
        return SafeString("none")
    return format_html(
        "<table><tr>{}</tr>{}</table>",
        format_html_join("", "<th>{}</th>", ((heading,) for heading in headings)),
        format_html_join("", "<tr>" + "<td>{}</td>" * len(headings) + "</tr>", lines),
    )


def way_to_all(model: type[Model], found: HarvestImport, count: int, noun: str) -> SafeString:
    if not count:
        return SafeString("")
    address = reverse(f"admin:records_{model._meta.model_name}_changelist")
    return format_html(
        '<p><a href="{}?harvest_import__id__exact={}">All {} {}</a></p>',
        address,
        found.pk,
        count,
        noun,
    )


def said(weighing: dict[str, Any] | None) -> str:
    """A weighing in a line: day, block, what was weighed."""
    if weighing is None:
        return ""
    amount = (
        f"{weighing['weight']} {weighing['unit']}"
        if weighing["weight"] is not None
        else f"{weighing['containers'] or weighing['fruit_count']} counted"
    )
    parts = (weighing["picked_on"], weighing["block"], weighing["grade"], amount)
    return ", ".join(str(part) for part in parts if part)


class BelowImportAdmin(ReadOnlyAdmin):
    """What an import tells of its rows, which has no version and no times of its own."""

    area = Area.IMPORT
    list_select_related = ("farm", "harvest_import")

    def get_fieldsets(self, request: Any, obj: Any = None) -> Any:
        return [(None, {"fields": self.get_fields(request, obj)})]

    def get_readonly_fields(self, request: Any, obj: Any = None) -> Any:
        return self.get_fields(request, obj)


@admin.register(ImportProblem)
class ImportProblemAdmin(BelowImportAdmin):
    fields = (
        *("farm", "harvest_import", "sheet", "row", "column", "value"),
        *("is_warning", "detail", "code"),
    )
    list_display = (
        column("harvest_import__file_name", "file"),
        FARM,
        "sheet",
        "row",
        "column",
        "value",
        "is_warning",
        "detail",
    )
    list_filter = (
        ("farm", LinkFilter),
        "is_warning",
        "code",
        ("harvest_import__created_at", admin.DateFieldListFilter),
    )
    search_fields = ("harvest_import__file_name", "column", "value", "detail", "farm__code")
    ordering = ("-harvest_import_id", "row", "id")


@admin.register(ProposedChange)
class ProposedChangeAdmin(BelowImportAdmin):
    fields = (
        *("farm", "harvest_import", "kind", "weight_id", "sheet", "row", "column"),
        *("before", "after", "was_edited"),
    )
    list_display = (
        column("harvest_import__file_name", "file"),
        FARM,
        "kind",
        "sheet",
        "row",
        "column",
        "before_it",
        "after_it",
        "was_edited",
    )
    list_filter = (
        ("farm", LinkFilter),
        "kind",
        "was_edited",
        ("harvest_import__created_at", admin.DateFieldListFilter),
    )
    search_fields = ("harvest_import__file_name", "sheet", "column", "farm__code")
    ordering = ("-harvest_import_id", "id")

    @admin.display(description="before")
    def before_it(self, change: ProposedChange) -> str:
        return said(change.before)

    @admin.display(description="after")
    def after_it(self, change: ProposedChange) -> str:
        return said(change.after)
