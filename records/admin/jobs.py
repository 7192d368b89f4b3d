"""Background work, for platform admins: what waits, what failed, and another try for the dead."""

from typing import Any

from django.contrib import admin, messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from records.admin.base import ReadOnlyAdmin
from records.admin.doors import caller_of
from records.choices import JobState
from records.models import Job
from records.services import jobs


@admin.register(Job)
class JobAdmin(ReadOnlyAdmin):
    fields = (
        "id",
        "kind",
        "key",
        "payload",
        "state",
        "attempts",
        "error",
        "queued_at",
        "run_after",
        "lease_until",
        "finished_at",
    )
    actions = ("run_again",)
    list_display = ("kind", "key", "state", "attempts", "queued_at", "run_after", "finished_at")
    list_filter = ("state", "kind", "queued_at", "finished_at")
    search_fields = ("kind", "key", "error")
    ordering = ("-queued_at", "-id")

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return caller_of(request).is_platform_admin

    def has_run_permission(self, request: HttpRequest) -> bool:
        return caller_of(request).is_platform_admin

    def get_fieldsets(self, request: Any, obj: Any = None) -> Any:
        return [(None, {"fields": self.get_fields(request, obj)})]

    def get_readonly_fields(self, request: Any, obj: Any = None) -> Any:
        return self.get_fields(request, obj)

    @admin.action(description="Run dead jobs again", permissions=["run"])
    def run_again(self, request: HttpRequest, queryset: QuerySet[Job]) -> None:
        """Queue the work anew; a dead job itself is never claimed again."""
        with transaction.atomic():
            dead = list(queryset.filter(state=JobState.DEAD).select_for_update())
            for job in dead:
                _queue_again(job)
            jobs.wake()
        messages.success(request, f"Dead jobs queued again: {len(dead)}.")


def _queue_again(job: Job) -> None:
    """In the dead job's place; where the same work waits already, that will do."""
    if not Job.objects.filter(kind=job.kind, key=job.key, state=JobState.WAITING).exists():
        jobs.enqueue(job.kind, job.key, job.payload)
    job.delete()
