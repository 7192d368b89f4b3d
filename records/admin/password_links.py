"""A link by which a person chooses a new password, for whoever may hand it over."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.urls import URLPattern, path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from records.admin.doors import caller_of, visible
from records.models import Person
from records.services import passwords


class PasswordLinks:
    """A person's page makes the link; nothing of it is stored."""

    admin_site: Any
    opts: Any

    def get_urls(self) -> list[URLPattern]:
        parent: Any = super()
        view = self.admin_site.admin_view(never_cache(require_POST(self.password_link_view)))
        name = "records_person_password_link"
        return [path("<uuid:key>/password-link/", view, name=name), *parent.get_urls()]

    def render_change_form(self, request: Any, context: Any, *args: Any, **kwargs: Any) -> Any:
        parent: Any = super()
        record = context.get("original")
        context["may_hand_over"] = record is not None and _may(request, record)
        return parent.render_change_form(request, context, *args, **kwargs)

    def password_link_view(self, request: HttpRequest, key: Any) -> HttpResponse:
        person = visible(Person, caller_of(request)).filter(pk=key).first()
        if person is None:
            raise Http404
        if not _may(request, person):
            raise PermissionDenied
        context = {
            **self.admin_site.each_context(request),
            "title": f"A new password for {person}",
            "opts": self.opts,
            "person": person,
            "link": passwords.link_for(person),
        }
        return TemplateResponse(request, "admin/records/password_link.html", context)


def _may(request: HttpRequest, person: Person) -> bool:
    return passwords.may_reset(caller_of(request), person)
