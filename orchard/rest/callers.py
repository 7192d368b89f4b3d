"""The caller of a request, as authentication left it."""

from typing import Any

from rest_framework.request import Request

from orchard.access import Caller


def caller_of(request: Request) -> Caller:
    """Who is asking; only behind authentication."""
    caller: Any = request.auth
    return caller
