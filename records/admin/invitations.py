"""Invitations. The link is shown once, when it is made; later it is revoked or made anew."""

import datetime as dt
from typing import Any

from django.contrib import admin, messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.html import format_html

from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.doors import caller_of
from records.admin.filters import LinkFilter
from records.admin.forms import RecordForm
from records.admin.plants import FARM
from records.models import Farm, Invitation
from records.models.invitations import MAX_INVITATION_DAYS
from records.services import invitations


class InvitationForm(RecordForm):
    def clean_expires_at(self) -> dt.datetime:
        expires_at: dt.datetime = self.cleaned_data["expires_at"]
        if not invitations.may_expire_at(expires_at):
            text = f"An invitation expires within {MAX_INVITATION_DAYS} days from now."
            raise ValidationError(text, "expiry-out-of-range")
        return expires_at


@admin.register(Invitation)
class InvitationAdmin(RecordAdmin):
    form = InvitationForm
    fields = (
        "farm",
        "co_op",
        "role",
        "name",
        "email",
        "expires_at",
        "mailed_at",
        "accepted_at",
        "accepted_by",
        "revoked_at",
        "created_by",
    )
    derived = ("mailed_at", "accepted_at", "accepted_by", "revoked_at", "created_by")
    actions = ("revoke", "resend")
    list_display = (
        "__str__",
        FARM,
        column("co_op__code", "co-op"),
        "role",
        "email",
        "state",
        "expires_at",
        column("accepted_by__email", "accepted by"),
    )
    list_select_related = ("farm", "co_op", "created_by", "accepted_by")
    list_filter = (
        ("farm", LinkFilter),
        ("co_op", LinkFilter),
        "role",
        "accepted_at",
        "revoked_at",
        "expires_at",
    )
    search_fields = ("name", "email", "farm__code", "co_op__code")
    ordering = ("-created_at", "-id")

    @admin.display(description="state")
    def state(self, invitation: Invitation) -> str:
        return invitation.state_at(timezone.now())

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_revoke_permission(self, request: HttpRequest) -> bool:
        return self.has_add_permission(request)

    def get_changeform_initial_data(self, request: HttpRequest) -> Any:
        initial = super().get_changeform_initial_data(request)
        return {"expires_at": invitations.default_expiry(), **initial}

    def _rows_for(self, link: Any, request: HttpRequest) -> QuerySet[Any]:
        """Besides the own farms, those of members whose owner the co-op's staff may invite."""
        if link.remote_field.model is not Farm:
            return super()._rows_for(link, request)
        return Farm.objects.set_up_by(caller_of(request)).order_by("code")

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        obj.created_by_id = caller_of(request).person_id
        link = invitations.invite(obj)
        self.require_writable(request, obj)
        tell_link(request, obj, link)

    @admin.action(description="Revoke", permissions=["revoke"])
    def revoke(self, request: HttpRequest, queryset: QuerySet[Invitation]) -> None:
        """The links open nothing from now on."""
        revoked = invitations.revoke(Invitation.objects.filter(pk__in=queryset.values("pk")))
        messages.success(request, f"Invitations revoked: {revoked}.")

    @admin.action(description="Make a new link", permissions=["revoke"])
    def resend(self, request: HttpRequest, queryset: QuerySet[Invitation]) -> None:
        """The old links are dead from now on."""
        with transaction.atomic():
            for invitation in queryset:
                try:
                    link = invitations.resend(invitation)
                except invitations.NotJoinedError as error:
                    messages.error(request, f"{invitation}: {error}")
                else:
                    tell_link(request, invitation, link)


def tell_link(request: HttpRequest, invitation: Invitation, link: str) -> None:
    text = "The link for {}, not shown again: <code>{}</code> {}"
    told = format_html(text, str(invitation), link, invitations.delivery(invitation))
    messages.warning(request, told)
