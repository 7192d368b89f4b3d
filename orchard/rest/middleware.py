"""Request ids, addresses with or without a closing slash, and who is behind a change."""

import re
from collections.abc import Callable
from uuid import UUID

import pghistory
from django.http import HttpRequest, HttpResponse
from uuid_utils.compat import uuid7

from orchard.rest import problems

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
REQUEST_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
View = Callable[[HttpRequest], HttpResponse]


class ProblemMiddleware:
    """Outermost: gives every request an id and sees that no error leaves as a page."""

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sent = request.headers.get("X-Request-ID", "").lower()
        request.id = UUID(sent) if REQUEST_ID.fullmatch(sent) else uuid7()  # type: ignore[attr-defined]
        if request.path_info.startswith("/api/v1/"):
            request.path_info = request.path_info.rstrip("/")
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            response = problems.response(
                "invalid-request", "The address has a NUL character in it.", request=request
            )
        else:
            response = self.get_response(request)
            if response.status_code >= 400 and not _is_meant(response):
                response = problems.in_place_of(response, request)
        response["X-Request-ID"] = str(request.id)  # type: ignore[attr-defined]
        return response


def _is_meant(response: HttpResponse) -> bool:
    """Problem details already, or a page that a person is to read (`is_page`)."""
    is_page = getattr(response, "is_page", False)
    return is_page or response["Content-Type"] == problems.MEDIA_TYPE


class HistoryMiddleware:
    """Notes in the audit history which request made a change; authentication adds who."""

    def __init__(self, get_response: View) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method in SAFE_METHODS:
            return self.get_response(request)
        with pghistory.context(request=str(request.id), **session_person(request)):  # type: ignore[attr-defined]
            return self.get_response(request)


def session_person(request: HttpRequest) -> dict[str, str]:
    """The signed-in person, for pages (the web admin, invitations), which REST never sees."""
    if request.path_info.startswith("/api/") or not request.user.is_authenticated:
        return {}
    return {"by": str(request.user), "person": str(request.user.pk)}
