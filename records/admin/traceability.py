"""Which species the traceability rule is taken to cover."""

from django.contrib import admin

from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.models import TraceCoverage


@admin.register(TraceCoverage)
class TraceCoverageAdmin(RecordAdmin):
    fields = (
        "farm",
        "co_op",
        "species",
        "is_covered",
        "starts_on",
        "ends_on",
        "source",
        "created_by",
    )
    derived = ("created_by",)
    fixed = ("co_op", "species")
    offered = ("co_op",)
    autocomplete_fields = ("farm", "co_op", "species")
    list_display = (
        "species",
        column("farm__code", "farm"),
        column("co_op__code", "co-op"),
        "is_covered",
        "starts_on",
        "ends_on",
        "source",
    )
    list_select_related = ("farm", "co_op", "species")
    list_filter = (
        ("farm", LinkFilter),
        ("co_op", LinkFilter),
        "species",
        "is_covered",
        "starts_on",
    )
    search_fields = ("farm__code", "co_op__code", "species__common_name", "source")
    ordering = ("species__common_name", "-starts_on")
