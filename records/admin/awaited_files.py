"""A co-op's page of a week: which members have sent, and which have not."""

from typing import Any

from django.contrib import admin
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.urls import path, reverse
from django.utils.html import format_html

from orchard import clock
from records.admin.doors import caller_of
from records.models import CoOp
from records.services.awaited_files import (
    MemberWeek,
    Sent,
    Week,
    awaited_files,
    clock_of,
    sees_members_files,
)

TITLES = {
    Sent.LANDED: "Sent",
    Sent.ENTERED_DIRECTLY: "Entered directly",
    Sent.NOT_IN: "Sent, but not in",
    Sent.NOTHING: "Not sent",
}
NAME = "records_coop_awaited_files"


@admin.display(description="who has sent")
def who_has_sent(co_op: CoOp) -> str:
    return format_html('<a href="{}">This week</a>', reverse(f"admin:{NAME}", args=[co_op.pk]))


class AwaitedFilesPage(admin.ModelAdmin):
    """Adds the page to the co-ops of the web admin."""

    def get_urls(self) -> Any:
        view = self.admin_site.admin_view(self.awaited_files_view)
        return [path("<path:object_id>/awaited-files/", view, name=NAME), *super().get_urls()]

    def awaited_files_view(self, request: HttpRequest, object_id: str) -> HttpResponse:
        co_op = self.get_object(request, object_id)
        caller = caller_of(request)
        if co_op is None or not sees_members_files(caller, co_op):
            raise PermissionDenied
        today = clock.today(clock_of(co_op, clock.today("UTC")))
        week = _week(request.GET.get("week", "")) or Week.of(today)
        wanted = request.GET.get("sent", "")
        found = awaited_files(co_op, caller, week=week, today=today)
        rows = [(TITLES[m.sent], m, _kilos(m)) for m in found.members if wanted in {"", m.sent}]
        counts = {sent: sum(m.sent == sent for m in found.members) for sent in Sent}
        context = {
            **self.admin_site.each_context(request),
            "title": f"Files of {co_op.code}, week {week}",
            "opts": self.opts,
            "co_op": co_op,
            "found": found,
            "previous": week.shifted(-1),
            "next": week.shifted(1),
            "rows": rows,
            "wanted": wanted,
            "choices": [(sent, TITLES[sent], counts[sent]) for sent in Sent],
            "all": len(found.members),
        }
        return TemplateResponse(request, "admin/records/coop/awaited_files.html", context)


def _kilos(member: MemberWeek) -> dict[str, str]:
    grams = {"net": member.net_g, "entered": member.entered_net_g}
    return {name: f"{value / 1000:,.3f}" for name, value in grams.items()}


def _week(text: str) -> Week | None:
    """The week of the address; a mistyped one is passed over for this week."""
    try:
        return Week.read(text)
    except ValueError:
        return None
