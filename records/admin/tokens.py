"""Apps' keys. The secret is shown once, when the token is made; later it can only be revoked."""

import datetime as dt
from typing import Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.html import format_html

from records.admin.base import RecordAdmin
from records.admin.columns import column
from records.admin.filters import LinkFilter
from records.admin.forms import RecordForm
from records.admin.plants import FARM
from records.choices import Scope
from records.models import Token
from records.models.people import TOKEN_DAYS


def latest_expiry() -> dt.datetime:
    return timezone.now() + dt.timedelta(days=TOKEN_DAYS)


class TokenForm(RecordForm):
    scopes = forms.MultipleChoiceField(
        choices=[(scope, scope) for scope in Scope.values],
        widget=forms.CheckboxSelectMultiple,
        label="Scopes",
    )

    def clean_expires_at(self) -> dt.datetime:
        expires_at: dt.datetime = self.cleaned_data["expires_at"]
        if not timezone.now() < expires_at <= latest_expiry() + dt.timedelta(minutes=1):
            text = f"A token expires within {TOKEN_DAYS} days from now."
            raise ValidationError(text, "expiry-out-of-range")
        return expires_at


@admin.register(Token)
class TokenAdmin(RecordAdmin):
    form = TokenForm
    fields = (
        "farm",
        "co_op",
        "name",
        "scopes",
        "expires_at",
        "revoked_at",
        "last_used_at",
        "created_by",
    )
    derived = ("revoked_at", "last_used_at", "created_by")
    autocomplete_fields = ("farm",)
    actions = ("revoke",)
    list_display = (
        "name",
        FARM,
        column("co_op__code", "co-op"),
        "scopes",
        "expires_at",
        "revoked_at",
        "last_used_at",
    )
    list_select_related = ("farm", "co_op", "created_by")
    list_filter = (
        ("farm", LinkFilter),
        ("co_op", LinkFilter),
        "expires_at",
        "revoked_at",
        "last_used_at",
    )
    search_fields = ("name", "farm__code", "co_op__code")
    ordering = ("-created_at", "-id")

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_revoke_permission(self, request: HttpRequest) -> bool:
        return self.has_add_permission(request)

    def get_changeform_initial_data(self, request: HttpRequest) -> Any:
        return {"expires_at": latest_expiry(), **super().get_changeform_initial_data(request)}

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        secret = obj.issue()
        super().save_model(request, obj, form, change)
        text = "Copy the secret of this token now, it is not shown again: <code>{}</code>"
        messages.warning(request, format_html(text, secret))

    @admin.action(description="Revoke", permissions=["revoke"])
    def revoke(self, request: HttpRequest, queryset: QuerySet[Token]) -> None:
        """Apps that hold the tokens are turned away from now on."""
        usable = Token.objects.filter(pk__in=queryset.values("pk"), revoked_at=None)
        messages.success(request, f"Tokens revoked: {usable.update(revoked_at=timezone.now())}.")
