"""Co-ops, their members and grades."""

from django.contrib import admin

from orchard.access import Area
from records.admin.awaited_files import AwaitedFilesPage, who_has_sent
from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.admin.links import PlatformInline
from records.models import CoOp, CoOpGrade, CoOpRole, Membership


class MembershipInline(PlatformInline):
    model = Membership
    fields = ("co_op", "farm", "starts_on", "ends_on", "shares", "staff_may_edit", "is_associate")
    autocomplete_fields = ("co_op", "farm")


class StaffInline(PlatformInline):
    model = CoOpRole
    fields = ("person", "co_op", "ends_on")
    autocomplete_fields = ("person", "co_op")


@admin.register(CoOp)
class CoOpAdmin(AwaitedFilesPage, RecordAdmin):
    added_by_platform = True
    fields = ("code", "name", "basis", "phone", "address", "retired_on")
    inlines = (MembershipInline, StaffInline)
    list_display = ("code", "name", "basis", "retired_on", who_has_sent)
    list_filter = ("basis", "retired_on")
    search_fields = ("code", "name")
    ordering = ("code",)


@admin.register(Membership)
class MembershipAdmin(RecordAdmin):
    added_by_platform = True
    fields = ("co_op", "farm", "starts_on", "ends_on", "shares", "staff_may_edit", "is_associate")
    fixed = ("co_op",)
    autocomplete_fields = ("co_op", "farm")
    list_display = (
        column("farm__code", "farm"),
        column("co_op__code", "co-op"),
        "starts_on",
        "ends_on",
        "shares",
        "staff_may_edit",
        "is_associate",
    )
    list_select_related = ("farm", "co_op")
    list_filter = (
        ("co_op", LinkFilter),
        ("farm", LinkFilter),
        "shares",
        "staff_may_edit",
        "is_associate",
        "starts_on",
        "ends_on",
    )
    search_fields = ("farm__code", "co_op__code", "co_op__name")
    ordering = ("co_op__code", "farm__code", "starts_on")


@admin.register(CoOpGrade)
class CoOpGradeAdmin(RecordAdmin):
    area = Area.HARVEST
    fields = ("co_op", "code", "name", "is_marketable")
    fixed = ("co_op",)
    list_display = ("code", column("co_op__code", "co-op"), "name", "is_marketable")
    list_select_related = ("co_op",)
    list_filter = (("co_op", LinkFilter), "is_marketable")
    search_fields = ("code", "name", "co_op__code")
    ordering = ("co_op__code", "code")
