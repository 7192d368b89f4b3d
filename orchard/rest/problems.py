"""Every error is problem details (RFC 9457), whoever raised it.

Clients key on `code` (also the last part of `type`), never on the English of `detail`.
"""

import logging
from collections.abc import Iterator
from http import HTTPStatus
from typing import Any

import orjson
from django.core import exceptions as django_exceptions
from django.db import DataError, IntegrityError, OperationalError
from django.db.models import ProtectedError
from django.http import Http404, HttpRequest, HttpResponse
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import set_rollback

from orchard.rest.renderers import JSONRenderer

logger = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"

# code: (status, title). Each has a page at /api/problems/<code>.
KINDS: dict[str, tuple[int, str]] = {
    "invalid-request": (400, "The request does not fit the schema"),
    "not-authenticated": (401, "No valid credentials were sent"),
    "not-allowed": (403, "You may see this but not do it"),
    "insufficient-scope": (403, "The token lacks the scope"),
    "not-found": (404, "There is no such thing here"),
    "method-not-allowed": (405, "This address does not take that method"),
    "not-acceptable": (406, "This cannot be had in the form asked for"),
    "conflict": (409, "The request clashes with what is stored"),
    "id-taken": (409, "The id is already in use"),
    "in-use": (409, "Other records refer to this one"),
    "gone": (410, "This is no longer here"),
    "version-stale": (412, "The record was changed meanwhile"),
    "body-too-large": (413, "The body is too large"),
    "media-type-unknown": (415, "The body is in a form that is not read here"),
    "rule-broken": (422, "A rule is broken"),
    "too-many-requests": (429, "Too many requests"),
    "internal-error": (500, "Something went wrong on our side"),
    "unavailable": (503, "The service is not available for a moment"),
}

# Two libraries' names for one fault.
PLAIN_CODES = {"unique": "already-taken"}

# What a schema can say is a 400; every other fault is a rule's, a 422.
SCHEMA_CODES = frozenset(
    {
        "required",
        "null",
        "blank",
        "empty",
        "invalid",
        "invalid_choice",
        "incorrect_type",
        "invalid-value",
        "datetime",
        "date",
        "make_aware",
        "overflow",
        "max_length",
        "min_length",
        "max_value",
        "min_value",
        "max_digits",
        "max_decimal_places",
        "max_whole_digits",
        "max_string_length",
        "not_a_list",
        "not_a_dict",
        "unknown-field",
        "unknown-parameter",
        "null_characters_not_allowed",
        "surrogate_characters_not_allowed",
        "parse_error",
    }
)


class Problem(exceptions.APIException):
    """An error of a known kind, raised anywhere in the service."""

    def __init__(
        self,
        code: str,
        detail: str,
        *,
        errors: list[dict[str, str]] | None = None,
        headers: dict[str, str] | None = None,
    ) -> None:
        self.status_code = KINDS[code][0]
        self.code = code
        self.errors = errors or []
        self.headers = headers or {}
        super().__init__(detail, code)


def broken_rule(detail: str, *, field: str, code: str = "rule-broken") -> Problem:
    """A rule that the schema cannot state, broken by one field."""
    return Problem(
        "rule-broken",
        detail,
        errors=[{"pointer": f"/{field}", "code": code, "detail": detail}],
    )


def body(
    code: str,
    detail: str,
    *,
    errors: list[dict[str, str]] | None = None,
    request: HttpRequest | None = None,
) -> dict[str, Any]:
    status, title = KINDS[code]
    document: dict[str, Any] = {
        "type": f"/api/problems/{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "code": code,
        "instance": f"urn:uuid:{getattr(request, 'id', '')}",
    }
    if errors:
        document["errors"] = errors
    return document


def response(
    code: str,
    detail: str,
    *,
    request: HttpRequest | None = None,
    headers: dict[str, str] | None = None,
) -> HttpResponse:
    """For errors outside a REST view."""
    return HttpResponse(
        orjson.dumps(body(code, detail, request=request)),
        status=KINDS[code][0],
        content_type=MEDIA_TYPE,
        headers=headers,
    )


def exception_handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's hook: whatever a view raised, as problem details; None lets a crash be a 500."""
    problem = as_problem(error)
    if problem is None:
        return None
    set_rollback()
    request = context["request"]
    # Whatever form was asked for, and also where none has been agreed on yet.
    request.accepted_renderer, request.accepted_media_type = JSONRenderer(), MEDIA_TYPE
    document = body(
        problem.code, str(problem.detail), errors=problem.errors, request=request._request
    )
    return Response(
        document, status=problem.status_code, headers=problem.headers, content_type=MEDIA_TYPE
    )


def as_problem(error: Exception) -> Problem | None:
    """The problem that an exception amounts to."""
    match error:
        case Problem():
            return error
        case exceptions.ValidationError():
            return _from_validation(error.get_full_details())
        case django_exceptions.ValidationError():
            return _from_django_validation(error)
        case ProtectedError():
            return Problem("in-use", "Other records refer to this one; retire it instead.")
        case IntegrityError() | DataError():
            return _from_database(error)
        case OperationalError():
            logger.error("Database unavailable: %s", error)
            return _unavailable()
        case Http404() | exceptions.NotFound():
            return Problem("not-found", "There is no such thing here, or you may not see it.")
        case django_exceptions.RequestDataTooBig():
            return Problem("body-too-large", "The body is larger than this service accepts.")
        case django_exceptions.PermissionDenied() | exceptions.PermissionDenied():
            return Problem("not-allowed", "You may not do this.")
        case exceptions.APIException():
            return _from_api_exception(error)
    return None


BY_STATUS = {
    400: "invalid-request",
    401: "not-authenticated",
    403: "not-allowed",
    404: "not-found",
    405: "method-not-allowed",
    406: "not-acceptable",
    415: "media-type-unknown",
    429: "too-many-requests",
}


def _from_api_exception(error: exceptions.APIException) -> Problem | None:
    code = BY_STATUS.get(error.status_code)
    if code is None:
        return None
    headers: dict[str, str] = {}
    if header := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = header
    if wait := getattr(error, "wait", None):
        headers["Retry-After"] = str(int(wait) + 1)
    return Problem(code, str(error.detail), headers=headers)


def _unavailable() -> Problem:
    return Problem("unavailable", "Try again in a moment.", headers={"Retry-After": "5"})


def _from_database(error: Exception) -> Problem:
    """A constraint that a race slipped past the checks, or a value the database cannot hold."""
    diagnosis = getattr(error.__cause__, "diag", None)
    name = getattr(diagnosis, "constraint_name", None) or "constraint"
    if isinstance(error, DataError):
        return Problem("invalid-request", "A value is out of the range that can be stored.")
    if name.endswith("_pkey"):
        return Problem("id-taken", "This id is already in use.")
    logger.warning("Constraint %s refused a write", name)
    return Problem("conflict", f"The record clashes with another one ({name}).")


def _from_django_validation(error: django_exceptions.ValidationError) -> Problem:
    by_field = error.error_dict if hasattr(error, "error_dict") else {"": error.error_list}
    details = {
        field: [{"message": " ".join(e.messages), "code": e.code or "rule-broken"} for e in errors]
        for field, errors in by_field.items()
    }
    return _from_validation(details)


def _from_validation(details: Any) -> Problem:
    errors = [
        {"pointer": pointer, "code": PLAIN_CODES.get(code, code.replace("_", "-")), "detail": text}
        for pointer, code, text in _faults(details, "")
    ]
    code = _kind_of({code for _, code, _ in _faults(details, "")})
    first = errors[0]
    where = first["pointer"].strip("/") or "body"
    return Problem(code, f"{where}: {first['detail']}", errors=errors)


def _kind_of(codes: set[str]) -> str:
    if codes & SCHEMA_CODES:
        return "invalid-request"
    return "not-allowed" if "not-allowed" in codes else "rule-broken"


def _faults(details: Any, pointer: str) -> Iterator[tuple[str, str, str]]:
    """Leaves of DRF's nested error details as (JSON Pointer, code, text)."""
    if isinstance(details, dict) and set(details) == {"message", "code"}:
        yield pointer, str(details["code"]), str(details["message"])
    elif isinstance(details, dict):
        for key, inner in details.items():
            step = "" if key in {"non_field_errors", "__all__", ""} else f"/{_escape(str(key))}"
            yield from _faults(inner, pointer + step)
    else:
        # A list of leaves belongs to one place; a list of dicts is a list field's items.
        nested = any(
            isinstance(item, dict) and set(item) != {"message", "code"} for item in details
        )
        for index, item in enumerate(details):
            yield from _faults(item, f"{pointer}/{index}" if nested else pointer)


def _escape(key: str) -> str:
    return key.replace("~", "~0").replace("/", "~1")


# Django's own error pages -----------------------------------------------------------------------


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if isinstance(exception, django_exceptions.RequestDataTooBig):
        return response("body-too-large", "The body is larger than accepted.", request=request)
    return response("invalid-request", "The request could not be understood.", request=request)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return response("not-allowed", "You may not do this.", request=request)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return response("not-found", "There is nothing at this address.", request=request)


def server_error(request: HttpRequest) -> HttpResponse:
    return response(
        "internal-error",
        "The fault has been logged under the id in `instance`.",
        request=request,
    )


def in_place_of(page: HttpResponse, request: HttpRequest) -> HttpResponse:
    """The problem that another part's error page amounts to, such as a failed CSRF check."""
    code = BY_STATUS.get(page.status_code, "internal-error")
    _, title = KINDS[code]
    headers = {name: page[name] for name in ("Allow", "Retry-After") if name in page}
    return response(code, f"{title}.", request=request, headers=headers)


def explain(request: HttpRequest, code: str) -> HttpResponse:
    """The page that a problem's `type` points to."""
    if code not in KINDS:
        return not_found(request, Http404())
    status, title = KINDS[code]
    text = f"{code}\n\n{title}.\nAnswered with {status} {HTTPStatus(status).phrase}.\n"
    return HttpResponse(text, content_type="text/plain; charset=utf-8")
