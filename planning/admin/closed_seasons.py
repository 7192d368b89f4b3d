"""Closed seasons, to look at: none is opened again or changed."""

from typing import Any, ClassVar

from django.contrib import admin

from planning.models import ClosedSeason
from records.admin.base import ReadOnlyAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter


@admin.register(ClosedSeason)
class ClosedSeasonAdmin(ReadOnlyAdmin):
    fields: ClassVar[Any] = (
        "co_op",
        "season_year",
        "basis",
        "closed_at",
        "closed_by",
        "note",
        "objections",
    )
    list_display = (column("co_op__code", "co-op"), "season_year", "basis", "closed_at")
    list_select_related = ("co_op", "closed_by")
    list_filter = (("co_op", LinkFilter), "season_year")
    search_fields = ("co_op__code", "note")
    ordering = ("-season_year", "id")
