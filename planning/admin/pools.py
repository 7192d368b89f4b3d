"""Pools with what is kept back, the draft of their statements, and statements as issued."""

from dataclasses import asdict
from decimal import Decimal
from typing import Any, ClassVar
from uuid import UUID

from django.contrib import admin, messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.html import format_html

from planning.compute.settlement import money
from planning.models import Pool, PoolDeduction, Statement
from planning.services.settlement import (
    KEPT,
    Draft,
    draft,
    issue,
    printed_statement,
    save_deduction,
    save_pool,
)
from records.admin.base import ReadOnlyAdmin, RecordAdmin
from records.admin.columns import Shown, column, kilos, page_of
from records.admin.doors import caller_of, visible
from records.admin.filters import LinkFilter
from records.admin.lines import LinkedForm, OnItsPage, linked

CO_OP = column("co_op__code", "co-op")
ISSUE = ("state", "basis", "issued_at", "issued_by")


class DeductionInline(OnItsPage):
    """What is kept back, on its pool's page, for whoever writes the pool."""

    model = PoolDeduction
    fields = ("what_for", "kind", "rate", "member")
    autocomplete_fields = ("member",)
    offered = ("member",)


class PoolForm(LinkedForm):
    links = {"paid_grades": "grades"}
    aliases = {"grades": "paid_grades"}

    paid_grades = linked(
        Pool, "grades", "Grades", "Of the co-op. None: every payable grade, and ungraded fruit."
    )


@admin.register(Pool)
class PoolAdmin(RecordAdmin):
    form = PoolForm
    change_form_template = "admin/planning/pool/change_form.html"
    fields = (
        *("co_op", "name", "species", "cultivar", "paid_grades", "starts_on", "ends_on"),
        *("currency", "price_per_kg", "amount", *ISSUE),
    )
    derived = ISSUE
    fixed = ("co_op",)
    sections = {"What it pays": ("currency", "price_per_kg", "amount"), "Issued": ISSUE}
    inlines = (DeductionInline,)
    leads_to = ((Statement, "pool"),)
    autocomplete_fields = ("co_op", "cultivar")
    date_hierarchy = "starts_on"
    list_display = (
        *("name", CO_OP, "starts_on", "ends_on", "price_per_kg", "amount", "currency", "state"),
    )
    list_select_related = ("co_op", "species", "cultivar__farm", "issued_by")
    list_filter = (("co_op", LinkFilter), "state", "currency", "starts_on")
    search_fields = ("name", "co_op__code", "cultivar__name")
    ordering = ("-starts_on", "-id")

    # Rights: a pool is the staff's of its co-op, not its members' --------------------------

    def _may_ever(self, kind: str, request: HttpRequest) -> bool:
        caller = caller_of(request)
        return caller.is_platform_admin or bool(caller.co_ops_with(kind, self.held_area))

    def _is_read_only(self, name: str, request: HttpRequest, obj: Any) -> bool:
        kept = {column.removesuffix("_id") for column in KEPT} | {"paid_grades"}
        is_kept = obj is not None and obj.is_issued and name in kept
        return is_kept or super()._is_read_only(name, request, obj)

    # Writing -------------------------------------------------------------------------------

    def save_model(self, request: Any, obj: Any, form: Any, change: bool) -> None:
        save_pool(obj, None if obj.is_issued else form.linked_rows().get("grades"))
        self.require_writable(request, obj)

    def save_formset(self, request: Any, form: Any, formset: Any, change: bool) -> None:
        formset.save(commit=False)
        for deduction in formset.deleted_objects:
            deduction.delete()
        for deduction in [*formset.new_objects, *(each for each, _ in formset.changed_objects)]:
            save_deduction(deduction)

    # The draft, and issuing it -------------------------------------------------------------

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view(self.draft_view)
        return [path("<uuid:key>/draft/", view, name="planning_pool_draft"), *super().get_urls()]

    def draft_view(self, request: HttpRequest, key: UUID) -> HttpResponse:
        """The statements as they would be issued; a POST issues them."""
        pool = visible(Pool, caller_of(request)).select_related("co_op").filter(pk=key).first()
        if pool is None:
            raise Http404
        may_issue = self.has_change_permission(request, pool)
        if request.method == "POST" and may_issue:
            return self._issue(request, pool)
        context = {
            **self.admin_site.each_context(request),
            **_told(draft(pool)),
            "title": f"Draft of {pool.name}",
            "opts": self.opts,
            "may_issue": may_issue,
        }
        return TemplateResponse(request, "admin/planning/pool/draft.html", context)

    def _issue(self, request: HttpRequest, pool: Pool) -> HttpResponse:
        try:
            issue(pool, by=caller_of(request).person_id, now=timezone.now())
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(request, f"Statements issued: {pool.statements.count()}.")
        return HttpResponseRedirect(page_of(Pool, pool.pk))


def _told(drafted: Draft) -> dict[str, Any]:
    currency = drafted.pool.currency
    rows = [
        {
            "member_code": each.member.code,
            "number": each.number,
            "payable_kg": f"{Decimal(each.totals.payable_g) / 1000:,.3f}",
            **{
                name.removesuffix("_minor"): f"{money(minor, currency):,f}"
                for name, minor in asdict(each.totals).items()
                if name.endswith("_minor")
            },
        }
        for each in drafted.statements
    ]
    return {
        "pool": drafted.pool,
        "problems": drafted.problems,
        "notes": drafted.notes,
        "rows": rows,
    }


def amount(name: str, title: str) -> Shown:
    """Minor units at rest, the amount in its currency on the page."""

    def shown(statement: Statement) -> str:
        return f"{money(getattr(statement, name), statement.currency):,f}"

    shown.__name__ = name
    return admin.display(description=title, ordering=name)(shown)


@admin.display(description="as printed")
def as_printed(statement: Statement) -> str:
    return format_html("<pre>{}</pre>", "\n".join(printed_statement(statement)))


PAYABLE = kilos("payable_g", "payable kg")
NET, TO_PAY = amount("net_minor", "net"), amount("to_pay_minor", "to pay")
CARRIED = amount("carried_out_minor", "carried forward")


@admin.register(Statement)
class StatementAdmin(ReadOnlyAdmin):
    """As issued; a statement never changes."""

    fields: ClassVar[Any] = (
        *("co_op", "member", "number", "issued_at", "issued_by"),
        *("currency", PAYABLE, NET, TO_PAY, CARRIED, as_printed),
    )
    list_display = (
        *("member_code", "number", CO_OP, column("pool__name", "pool"), PAYABLE),
        *(NET, TO_PAY, CARRIED, "currency", "issued_at"),
    )
    list_select_related = ("co_op", "pool__co_op", "member", "issued_by")
    list_filter = (("co_op", LinkFilter), ("member", LinkFilter), "currency", "issued_at")
    search_fields = ("member_code", "member_name", "pool__name", "co_op__code")
    ordering = ("-issued_at", "member_code", "id")
