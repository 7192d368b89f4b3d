"""Next tasks and alerts: computed rows, with actions for what people decide about them."""

from collections.abc import Callable
from typing import Any, ClassVar
from uuid import UUID

from django import forms
from django.contrib import admin, messages
from django.contrib.admin.helpers import ActionForm
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from orchard import clock
from planning.models import Alert, NextTask, UndatedTask
from planning.querysets import assignable_by
from planning.services.schedules import lock_schedule
from planning.services.task_choices import choose, handle
from records.admin.base import ReadOnlyAdmin
from records.admin.columns import column
from records.admin.doors import caller_of, writable
from records.admin.filters import LinkFilter, OfFarmFilter
from records.models import Person

FARM = column("farm__code", "farm")
BLOCK = column("block__code", "block")
NAMES = column("assigned_names", "given to")


class ReasonForm(ActionForm):
    """Why something is decided."""

    because = forms.CharField(max_length=200, required=False, label="Reason")


class DecisionForm(ReasonForm):
    """What an action needs to know besides the rows."""

    person = forms.CharField(required=False, label="Person's e-mail")
    until = forms.CharField(required=False, label="Until", help_text="2026-03-14")


class DecisionAdmin(ReadOnlyAdmin):
    """Computed rows, with actions for what people may decide about them."""

    action_form: ClassVar[type[ActionForm]] = DecisionForm
    needed: ClassVar[tuple[str, ...]] = ()

    def get_actions(self, request: HttpRequest) -> Any:
        caller = caller_of(request)
        may = caller.may_ever("writes", self.held_area)
        actions = super().get_actions(request)
        return {name: each for name, each in actions.items() if name in self.needed} if may else {}

    def lock(self, farm_id: UUID) -> None:
        """What a rebuild of the rows locks first."""
        lock_schedule(farm_id)

    def decide(
        self, request: HttpRequest, rows: QuerySet[Any], decision: Callable[[Any], Any]
    ) -> None:
        """Decide about each row by itself; what is refused is told, and the others go on."""
        done = 0
        allowed = set(writable(self.model, caller_of(request)).values_list("pk", flat=True))
        for row in list(rows):
            try:
                if row.pk not in allowed:
                    raise ValidationError("You may not decide here.")
                with transaction.atomic():
                    self.lock(row.farm_id)
                    decision(row)
                done += 1
            except ValidationError as error:
                messages.error(request, f"{row}: {' '.join(error.messages)}")
        if done:
            messages.success(request, f"Noted for {done} of them.")


@admin.register(NextTask)
class NextTaskAdmin(DecisionAdmin):
    fields = (
        *("farm", "block", "crop", "season_label", "crop_name", "rule", "kind", "title"),
        *("number", "of", "opens_on", "best_on", "closes_on", "state", "reason"),
        *("hours", "expected_minutes", "expected_people"),
        *("done_on", "done_by_kind", "done_by", "days_late", "skipped_because"),
        "assigned_names",
    )
    list_display = ("title", FARM, BLOCK, "state", "opens_on", "best_on", "closes_on", NAMES)
    list_select_related = ("farm", "block__farm", "crop__block", "crop__farm", "rule")
    list_filter = (
        "state",
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        "kind",
        "season_year",
        "best_on",
    )
    date_hierarchy = "best_on"
    search_fields = ("title", "farm__code", "block__code", "reason")
    ordering = ("best_on", "id")
    actions = ("skip", "take_up", "give_to")
    needed = ("skip", "take_up", "give_to")

    @admin.action(description="Skip, for the reason given")
    def skip(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        because = request.POST.get("because", "").strip()
        if not because:
            messages.error(request, "Give the reason for skipping.")
            return
        self.decide(request, rows, lambda row: self._choose(row, skipped_because=because))

    @admin.action(description="Do not skip after all")
    def take_up(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        self.decide(request, rows, lambda row: self._choose(row, skipped_because=""))

    @admin.action(description="Give to the person named (none: to nobody)")
    def give_to(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        email = request.POST.get("person", "").strip()
        people = assignable_by(Person.objects.all(), caller_of(request))
        found = list(people.filter(email__iexact=email)) if email else []
        if email and not found:
            messages.error(request, f"Nobody with the address {email} works on a farm of yours.")
            return
        self.decide(request, rows, lambda row: self._choose(row, assigned_to=found))

    def _choose(self, row: NextTask, **wanted: Any) -> None:
        choose(row, today=clock.today(row.farm.time_zone), **wanted)


@admin.register(UndatedTask)
class UndatedTaskAdmin(ReadOnlyAdmin):
    fields = ("farm", "block", "why", "season_year", "crop_name", "about", "reason")
    list_display = ("reason", FARM, BLOCK, "why", "about", "crop_name")
    list_select_related = ("farm", "block__farm")
    list_filter = ("why", ("farm", LinkFilter), ("block", OfFarmFilter))
    search_fields = ("reason", "farm__code", "block__code")
    ordering = ("farm__code", "block__code", "about", "id")


@admin.register(Alert)
class AlertAdmin(DecisionAdmin):
    fields = (
        *("farm", "block", "task", "kind", "about_on", "state", "message", "reason"),
        *("assigned_names", "snoozed_until", "acknowledged_at", "acknowledged_by", "closed_on"),
    )
    list_display = ("message", FARM, BLOCK, "kind", "state", "about_on", NAMES)
    list_select_related = ("farm", "block__farm", "task")
    list_filter = ("state", "kind", ("farm", LinkFilter), ("block", OfFarmFilter), "about_on")
    date_hierarchy = "about_on"
    search_fields = ("message", "farm__code", "block__code")
    ordering = ("-about_on", "id")
    actions = ("acknowledge", "snooze")
    needed = ("acknowledge", "snooze")

    @admin.action(description="Acknowledge")
    def acknowledge(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        self.decide(request, rows, lambda row: self._handle(request, row, is_acknowledged=True))

    @admin.action(description="Snooze until the day given")
    def snooze(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        try:
            until = forms.DateField().clean(request.POST.get("until", ""))
        except ValidationError:
            messages.error(request, "Give the day until which to snooze, as 2026-03-14.")
            return
        self.decide(request, rows, lambda row: self._handle(request, row, snoozed_until=until))

    def _handle(self, request: HttpRequest, row: Alert, **wanted: Any) -> None:
        by = caller_of(request).name
        handle(row, today=clock.today(row.farm.time_zone), by=by, **wanted)
