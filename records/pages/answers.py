"""How pages answer: never kept, told to nobody else, and not without end."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from orchard.rest.throttling import PageThrottle


def page(
    request: HttpRequest, template: str, context: dict[str, Any] | None = None, status: int = 200
) -> HttpResponse:
    answer = render(request, f"pages/{template}", context, status=status)
    return kept_private(answer)


def kept_private(answer: Any) -> Any:
    """An address with a secret in it is neither stored nor passed on."""
    answer.is_page = True
    answer["Cache-Control"] = "no-store"
    answer["Referrer-Policy"] = "same-origin"
    return answer


def too_many(request: HttpRequest, *about: str) -> HttpResponse | None:
    """The answer to somebody who tries too often; None while they may go on."""
    asking: Any = request  # the throttle looks at its address alone
    throttles = [PageThrottle(), *map(PageThrottle, filter(None, about))]
    if all(throttle.allow_request(asking, None) for throttle in throttles):
        return None
    return page(request, "too_many.html", status=429)
