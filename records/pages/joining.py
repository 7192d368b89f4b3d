"""The page that an invitation's link opens."""

from typing import Any

import pghistory
from django import forms
from django.contrib.auth import login, password_validation
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.debug import sensitive_post_parameters

from records.models import Invitation, Person
from records.pages.answers import page, too_many
from records.services import invitations

TAKEN = "This e-mail address has an account. Sign in with it, then open the link again."


class NewPersonForm(forms.Form):
    name = forms.CharField(max_length=120, widget=forms.TextInput({"autocomplete": "name"}))
    email = forms.EmailField(
        max_length=254, label="E-mail address", widget=forms.EmailInput({"autocomplete": "email"})
    )
    password = forms.CharField(
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text=password_validation.password_validators_help_text_html(),
    )
    again = forms.CharField(
        strip=False,
        label="Password again",
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    def clean_email(self) -> str:
        email: str = Person.objects.normalize_email(self.cleaned_data["email"])
        if Person.objects.filter(email__iexact=email).exists():
            raise ValidationError(TAKEN, "already-taken")
        return email

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or {}
        password = values.get("password")
        if password and "again" in values and password != values["again"]:
            self.add_error("again", ValidationError("The two passwords differ.", "mismatch"))
        elif password:
            self._validate(password, values)
        return values

    def _validate(self, password: str, values: dict[str, Any]) -> None:
        person = Person(email=values.get("email", ""), name=values.get("name", ""))
        try:
            password_validation.validate_password(password, person)
        except ValidationError as error:
            self.add_error("password", error)


@method_decorator(sensitive_post_parameters(), name="dispatch")
class JoinView(View):
    """Looking at the link uses nothing up, as mail programs look too; sending the form does."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        return too_many(request) or super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest, key: str) -> HttpResponse:
        invitation = invitations.find_open(key)
        if invitation is None:
            return _closed(request)
        known = {"name": invitation.name, "email": invitation.email}
        return _offer(request, invitation, form=NewPersonForm(initial=known))

    def post(self, request: HttpRequest, key: str) -> HttpResponse:
        invitation = invitations.find_open(key)
        if invitation is None:
            return _closed(request)
        if isinstance(request.user, Person):
            return _join(request, key, invitation, request.user)
        return _join_anew(request, key, invitation)


def _join(request: HttpRequest, key: str, invitation: Invitation, person: Person) -> HttpResponse:
    try:
        joined = invitations.join(key, person)
    except invitations.NotJoinedError as error:
        return _offer(request, invitation, refusal=str(error))
    return redirect("welcome") if joined else _closed(request)


def _join_anew(request: HttpRequest, key: str, invitation: Invitation) -> HttpResponse:
    form = NewPersonForm(request.POST)
    if not form.is_valid():
        return _offer(request, invitation, form=form)
    names = ("email", "name", "password")
    pghistory.context(by=form.cleaned_data["email"])
    try:
        person = invitations.join_as_new_person(key, **{n: form.cleaned_data[n] for n in names})
    except IntegrityError:  # the address was taken a moment ago
        form.add_error("email", ValidationError(TAKEN, "already-taken"))
        return _offer(request, invitation, form=form)
    if person is None:
        return _closed(request)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    return redirect("welcome")


def _offer(
    request: HttpRequest,
    invitation: Invitation,
    *,
    form: NewPersonForm | None = None,
    refusal: str = "",
) -> HttpResponse:
    context = {
        "invitation": invitation,
        "place": invitations.place_of(invitation),
        "form": form,
        "refusal": refusal,
    }
    return page(request, "join.html", context)


def _closed(request: HttpRequest) -> HttpResponse:
    """The same for every link that opens nothing, so that none tells which exist."""
    return page(request, "join_closed.html", status=404)
