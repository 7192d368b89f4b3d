"""Signing in and out, and where one is then."""

from typing import Any

from django.contrib.auth import views
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from records.models import CoOpRole, FarmRole
from records.pages.answers import kept_private, page, too_many


class LoginView(views.LoginView):
    template_name = "pages/login.html"

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        guessed = request.POST.get("username", "")[:254].casefold()
        return too_many(request, guessed) or super().post(request, *args, **kwargs)

    def render_to_response(self, *args: Any, **kwargs: Any) -> Any:
        return kept_private(super().render_to_response(*args, **kwargs))


class LogoutView(views.LogoutView):
    next_page = "login"


@require_safe
@login_required
def welcome(request: HttpRequest) -> HttpResponse:
    """What the person belongs to, and the ways on from here."""
    person: Any = request.user
    roles = FarmRole.objects.filter(person=person).select_related("farm")
    staff_of = CoOpRole.objects.filter(person=person).select_related("co_op")
    context = {"roles": roles.order_by("farm__code"), "staff_of": staff_of.order_by("co_op__code")}
    return page(request, "welcome.html", context)
