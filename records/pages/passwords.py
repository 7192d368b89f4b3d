"""A forgotten password: Django's own views, with the same answer for every address."""

from typing import Any

from django.contrib.auth import views
from django.contrib.auth.forms import PasswordResetForm
from django.http import HttpRequest, HttpResponse
from django.urls import reverse_lazy

from records.pages.answers import kept_private, too_many
from records.services import mail, passwords


class ForgottenForm(PasswordResetForm):
    """Leaves the sending to a job, so that the answer takes as long whoever is asked for."""

    def save(self, *args: Any, **kwargs: Any) -> None:
        passwords.request_reset(self.cleaned_data["email"])


class Private:
    def render_to_response(self, *args: Any, **kwargs: Any) -> Any:
        parent: Any = super()
        return kept_private(parent.render_to_response(*args, **kwargs))


class ForgottenView(Private, views.PasswordResetView):
    template_name = "pages/forgotten.html"
    form_class = ForgottenForm
    success_url = reverse_lazy("password_reset_done")
    extra_context = {"has_mail": mail.is_set_up}

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        asked_for = request.POST.get("email", "")[:254].casefold()
        if refused := too_many(request, asked_for and f"reset {asked_for}"):
            return refused
        if not mail.is_set_up():
            return self.get(request)
        return super().post(request, *args, **kwargs)


class SentView(Private, views.PasswordResetDoneView):
    template_name = "pages/forgotten_sent.html"


class ResetView(Private, views.PasswordResetConfirmView):
    """A new password; every session of the person ends with the old one."""

    template_name = "pages/new_password.html"
    success_url = reverse_lazy("password_reset_complete")


class DoneView(Private, views.PasswordResetCompleteView):
    template_name = "pages/new_password_done.html"
