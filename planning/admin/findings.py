"""Findings: what looks wrong in weighings and intakes, with actions for what is decided."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest

from orchard import clock
from planning.admin.decisions import BLOCK, FARM, DecisionAdmin, ReasonForm
from planning.models import Finding
from planning.services.finding_decisions import FindingConflictError, apply, dismiss, reverse
from planning.services.findings import lock_findings
from records.admin.columns import column, kilos
from records.admin.doors import caller_of
from records.admin.filters import LinkFilter, OfFarmFilter

EFFECT: Any = kilos("effect_g", "kg by the fix")


@admin.register(Finding)
class FindingAdmin(DecisionAdmin):
    action_form = ReasonForm
    fields = (
        *("farm", "co_op", "block", "harvest_import", "season_label", "about_on"),
        *("kind", "state", "sure", "sentence", "evidence", "fix", EFFECT, "rows"),
        *("note", "decided_by", "decided_at", "applied"),
    )
    sections = {
        "What was found": ("sentence", "evidence", "rows"),
        "How to put it right": ("fix", EFFECT),
        "What was decided": ("note", "decided_by", "decided_at", "applied"),
    }
    list_display = (
        *("sentence", "kind", "state", "sure", FARM, BLOCK, "about_on"),
        column("decided_by", "decided by"),
    )
    list_select_related = ("farm", "co_op", "block__farm", "harvest_import")
    list_filter = (
        *("state", "kind", "sure", "season_year"),
        ("farm", LinkFilter),
        ("block", OfFarmFilter),
        "about_on",
    )
    date_hierarchy = "about_on"
    search_fields = ("sentence", "farm__code", "block__code", "note")
    ordering = ("about_on", "id")
    actions = ("apply", "dismiss", "reverse")
    needed = ("apply", "dismiss", "reverse")

    def _may_ever(self, kind: str, request: HttpRequest) -> bool:
        """No finding is a worker's own, as weighings are."""
        return caller_of(request).may_ever(kind, self.held_area)

    @admin.action(description="Apply the fix")
    def apply(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        self.decide(request, rows, lambda row: self._decide(request, row, self._apply))

    @admin.action(description="Dismiss, for the reason given")
    def dismiss(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        self.decide(request, rows, lambda row: self._decide(request, row, dismiss))

    @admin.action(description="Take the fix back, or open it again")
    def reverse(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        self.decide(request, rows, lambda row: self._decide(request, row, reverse))

    def lock(self, farm_id: UUID) -> None:
        lock_findings(farm_id)

    def _decide(self, request: HttpRequest, row: Finding, decision: Callable[..., Finding]) -> None:
        current = Finding.objects.select_related("farm").select_for_update(of=("self",))
        note = request.POST.get("because", "").strip()
        try:
            decision(current.get(pk=row.pk), caller=caller_of(request), note=note)
        except FindingConflictError as error:
            raise ValidationError(str(error)) from None

    def _apply(self, finding: Finding, **told: Any) -> Finding:
        return apply(finding, today=clock.today(finding.farm.time_zone), **told)
