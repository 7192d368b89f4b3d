"""Every error is problem details, whatever raised it, and tells what is wrong and no more."""

import json
import uuid
from collections.abc import Callable
from typing import Any

import django_filters
import pytest
from django.db import OperationalError
from django.db.backends.utils import CursorWrapper
from django.http import HttpResponse
from django.test import Client
from rest_framework.test import APIClient

from orchard.rest import probes
from orchard.rest.problems import KINDS, MEDIA_TYPE
from orchard.rest.throttling import CallerRateThrottle
from records.api.farms import FarmViewSet
from tests.api.resources import RESOURCES, make
from tests.api.routes import ROUTES, Route
from tests.cast import Cast, client_of, weighing

V1 = "/api/v1"
Send = Callable[[APIClient, Cast], HttpResponse]


def check_problem(answer: HttpResponse, code: str, sent: Any = None) -> dict[str, Any]:
    """The answer is a problem of this kind, complete, and points only at what was sent."""
    problem: dict[str, Any] = json.loads(answer.content)
    status, title = KINDS[code]
    assert (answer.status_code, problem["status"], problem["code"]) == (status, status, code)
    assert answer["Content-Type"] == MEDIA_TYPE
    assert problem["title"] == title
    assert problem["detail"]
    assert problem["instance"] == f"urn:uuid:{answer['X-Request-ID']}"
    assert Client().get(problem["type"]).status_code == 200
    for error in problem.get("errors", []):
        if error["code"] != "required":  # what is missing has no place yet
            assert "parameter" in error or resolve(sent, error["pointer"]) is not MISSING
    return problem


MISSING = object()


def resolve(document: Any, pointer: str) -> Any:
    """What a JSON Pointer (RFC 6901) leads to."""
    for step in pointer.split("/")[1:]:
        key = step.replace("~1", "/").replace("~0", "~")
        if isinstance(document, dict) and key in document:
            document = document[key]
        elif isinstance(document, list) and key.isdigit() and int(key) < len(document):
            document = document[int(key)]
        else:
            return MISSING
    return document


def raw(body: bytes, resource: str = "blocks", kind: str = "application/json") -> Send:
    return lambda client, cast: client.generic("POST", f"{V1}/{resource}", body, content_type=kind)


def get(address: str, **headers: str) -> Send:
    return lambda client, cast: client.get(address, headers=headers)


def nested(depth: int, core: bytes = b"1") -> bytes:
    return b'{"name": ' + b"[" * depth + core + b"]" * depth + b"}"


NOT_UNDERSTOOD = {
    "broken JSON": raw(b'{"code": '),
    "nothing at all": raw(b" "),
    "a list": raw(b"[]"),
    "a text": raw(b'"blocks"'),
    "null": raw(b"null"),
    "NaN": raw(b'{"area_m2": NaN}'),
    "a raw NUL": raw(b'{"name": "a\x00b"}'),
    "an escaped NUL": raw(b'{"name": "a\\u0000b"}'),
    "an escaped NUL in a name": raw(b'{"na\\u0000me": 1}'),
    "an escaped NUL far down": raw(nested(90, b'"\\u0000"')),
    "a lone surrogate": raw(b'{"name": "\\ud800"}'),
    "half a pair of surrogates": raw(b'{"name": "\\ud83dx"}'),
    "a surrogate in UTF-8": raw(b'{"name": "\xed\xa0\x80"}'),
    "invalid UTF-8": raw(b'{"name": "\xff"}'),
    "Latin-1": raw('{"name": "pomar à beira"}'.encode("latin-1")),
    "UTF-16": raw('{"name": "a"}'.encode("utf-16")),
    "a depth of 300": raw(nested(300)),
    "a depth of 1000": raw(nested(1000)),
    "a depth of 1000 with an escaped NUL": raw(nested(1000, b'"\\u0000"')),
    "a depth of 100000": raw(nested(100_000)),
    "an outline a depth of 1000": raw(nested(1000).replace(b"name", b"boundary")),
    "a NUL in the address": get(f"{V1}/farms/%00"),
    "a NUL in a parameter": get(f"{V1}/harvest-weights?docket=%00"),
    "a host that is not ours": get(f"{V1}/farms", host="elsewhere.example"),
}


@pytest.mark.parametrize("send", NOT_UNDERSTOOD.values(), ids=NOT_UNDERSTOOD)
def test_what_cannot_be_understood_is_a_bad_request(send: Send, cast: Cast) -> None:
    check_problem(send(client_of(cast.ours.owner), cast), "invalid-request")


OTHERS: dict[str, tuple[str, Send]] = {
    "an unknown route": ("not-found", get(f"{V1}/nothing")),
    "the bare base": ("not-found", get(f"{V1}/")),
    "an unknown page": ("not-found", get("/nothing")),
    "an id that is none": ("not-found", get(f"{V1}/farms/1")),
    "an id of nothing": ("not-found", get(f"{V1}/farms/{uuid.UUID(int=0)}")),
    "an unknown kind of problem": ("not-found", get("/api/problems/nothing")),
    "broken UTF-8 in the address": ("not-found", get(f"{V1}/farms/%ff")),
    "a page instead of data": ("not-acceptable", get(f"{V1}/farms", accept="text/html")),
    "a list that is no table": ("not-acceptable", get(f"{V1}/farms", accept="text/csv")),
    "an unknown format": ("not-acceptable", get(f"{V1}/farms?format=xml")),
    "an unknown format of the schema": ("not-acceptable", get("/api/schema/?format=xml")),
    "the schema as a page": ("not-acceptable", get("/api/schema/", accept="text/html")),
    "XML": ("media-type-unknown", raw(b"<a/>", kind="application/xml")),
    "a form": ("media-type-unknown", raw(b"code=N2", kind="application/x-www-form-urlencoded")),
    "a multipart form": (
        "media-type-unknown",
        raw(b"--x--", kind="multipart/form-data; boundary=x"),
    ),
    "nonsense for a media type": ("media-type-unknown", raw(b"{}", kind=";;")),
    "more than ten megabytes": ("body-too-large", raw(b'{"name": "' + b"a" * 10_485_760 + b'"}')),
    "an over-long form": (
        "media-type-unknown",
        raw(b"a" * 10_485_761, kind="application/x-www-form-urlencoded"),
    ),
}


@pytest.mark.parametrize(("code", "send"), OTHERS.values(), ids=OTHERS)
def test_every_kind_of_error_is_a_problem(code: str, send: Send, cast: Cast) -> None:
    check_problem(send(client_of(cast.ours.owner), cast), code)


@pytest.mark.parametrize(
    ("method", "address", "allowed"),
    [
        ("put", f"{V1}/farms", "GET, POST, HEAD, OPTIONS"),
        ("post", f"{V1}/farms/{uuid.UUID(int=0)}", "GET, PATCH, DELETE, HEAD, OPTIONS"),
        ("trace", f"{V1}/farms", "GET, POST, HEAD, OPTIONS"),
        ("delete", f"{V1}/history", "GET, HEAD, OPTIONS"),
        ("post", "/api/schema/", "GET, HEAD, OPTIONS"),
        ("post", "/api/docs/", "GET, HEAD, OPTIONS"),
        # Not a REST view.
        ("post", "/livez", "GET, HEAD"),
        ("delete", "/api/problems/not-found", "GET, HEAD"),
    ],
)
def test_a_method_that_is_not_taken_says_which_are(
    method: str, address: str, allowed: str, cast: Cast
) -> None:
    answer = client_of(cast.ours.owner).generic(method.upper(), address)
    check_problem(answer, "method-not-allowed")
    assert set(answer["Allow"].split(", ")) == set(allowed.split(", "))


# Faults of single fields -------------------------------------------------------------------------

FIELDS = [
    # what is wrong, the change, its pointer, the kind of problem, the error's code
    ("a name that is no field", {"colour": "red"}, "/colour", "invalid-request", "unknown-field"),
    ("a name to be escaped", {"a/b~c": 1}, "/a~1b~0c", "invalid-request", "unknown-field"),
    ("a field only to be read", {"version": 7}, "/version", "invalid-request", "unknown-field"),
    ("who made it", {"created_by": "me"}, "/created_by", "invalid-request", "unknown-field"),
    ("its tick", {"tick": 1}, "/tick", "invalid-request", "unknown-field"),
    ("a text for a number", {"weight": "heavy"}, "/weight", "invalid-request", "invalid"),
    ("a text for infinity", {"weight": "Infinity"}, "/weight", "invalid-request", "invalid"),
    ("an object for a number", {"weight": {}}, "/weight", "invalid-request", "invalid"),
    ("a list for a text", {"docket": ["D1"]}, "/docket", "invalid-request", "invalid"),
    ("a text for a list", {"pickers": "Ana"}, "/pickers", "invalid-request", "not-a-list"),
    ("an item of a list", {"pickers": ["Ana", {}]}, "/pickers/1", "invalid-request", "invalid"),
    ("null", {"picked_on": None}, "/picked_on", "invalid-request", "null"),
    ("no date", {"picked_on": "today"}, "/picked_on", "invalid-request", "invalid"),
    ("a date day first", {"picked_on": "10/09/2026"}, "/picked_on", "invalid-request", "invalid"),
    ("a day that is none", {"picked_on": "2026-02-30"}, "/picked_on", "invalid-request", "invalid"),
    ("an unknown unit", {"unit": "stone"}, "/unit", "invalid-request", "invalid-choice"),
    ("a negative weight", {"weight": -1}, "/weight", "invalid-request", "min-value"),
    ("a weight of nothing", {"weight": 0}, "/weight", "invalid-request", "min-value"),
    ("too many digits", {"weight": "1.23456"}, "/weight", "invalid-request", "max-decimal-places"),
    ("too much fruit", {"fruit_count": 100_001}, "/fruit_count", "invalid-request", "max-value"),
    ("a number too large", {"fruit_count": 10**30}, "/fruit_count", "invalid-request", "invalid"),
    ("a text too long", {"docket": "D" * 41}, "/docket", "invalid-request", "max-length"),
    ("an id that is none", {"block": "N1"}, "/block", "invalid-request", "invalid"),
    ("a number for an id", {"block": 1}, "/block", "invalid-request", "invalid"),
    ("a number for its own id", {"id": 1}, "/id", "invalid-request", "invalid"),
    ("a list of ids for one", {"block": []}, "/block", "invalid-request", "invalid"),
    ("an own id that is none", {"id": "D1"}, "/id", "invalid-request", "invalid"),
    (
        "an id of nothing",
        {"block": str(uuid.UUID(int=0))},
        "/block",
        "rule-broken",
        "does-not-exist",
    ),
    ("a future picking", {"picked_on": "2999-01-01"}, "/picked_on", "rule-broken", "in-the-future"),
    ("an absurd weight", {"weight": 6, "unit": "t"}, "/weight", "rule-broken", "absurd-weight"),
    ("tare above gross", {"tare_g": 50_000}, "/tare_g", "rule-broken", "tare-above-gross"),
]


@pytest.mark.parametrize(
    ("change", "pointer", "code", "fault"),
    [row[1:] for row in FIELDS],
    ids=[row[0] for row in FIELDS],
)
def test_a_faulty_field_is_pointed_at(
    change: dict[str, Any], pointer: str, code: str, fault: str, cast: Cast
) -> None:
    sent = weighing(cast.ours, **change)
    answer = client_of(cast.ours.owner).post(f"{V1}/harvest-weights", sent)
    problem = check_problem(answer, code, sent)
    assert [(e["pointer"], e["code"]) for e in problem["errors"]] == [(pointer, fault)]


def test_every_faulty_field_is_named_at_once(cast: Cast) -> None:
    sent = weighing(cast.ours, weight="heavy", unit="stone", picked_on="today")
    answer = client_of(cast.ours.owner).post(f"{V1}/harvest-weights", sent)
    problem = check_problem(answer, "invalid-request", sent)
    assert {e["pointer"] for e in problem["errors"]} == {"/weight", "/unit", "/picked_on"}


def test_a_missing_field_is_named(cast: Cast) -> None:
    answer = client_of(cast.ours.owner).post(f"{V1}/harvest-weights", {})
    problem = check_problem(answer, "invalid-request", {})
    required = {e["pointer"] for e in problem["errors"] if e["code"] == "required"}
    assert required == {"/farm", "/block", "/picked_on"}


def test_a_number_of_ten_megabytes_is_refused(cast: Cast) -> None:
    body = json.dumps(weighing(cast.ours)).replace("12.5", "9" * 10_000_000).encode()
    answer = raw(body, "harvest-weights")(client_of(cast.ours.owner), cast)
    check_problem(answer, "invalid-request", {"weight": 1})


@pytest.mark.parametrize(
    ("query", "code", "fault"),
    [
        ("colour=red", "invalid-request", "unknown-parameter"),
        ("picked_on=2026-09-10", "invalid-request", "unknown-parameter"),  # a field, no filter
        ("limit=5", "invalid-request", "unknown-parameter"),  # another service's word
        ("block=N1", "invalid-request", "invalid"),
        ("retired=perhaps", "invalid-request", "invalid-choice"),
        ("picked_on_after=10/09/2026", "invalid-request", "invalid"),  # ISO 8601 or nothing
        ("picked_on_after=yesterday", "invalid-request", "invalid"),
        (f"block={uuid.UUID(int=0)}", "rule-broken", "does-not-exist"),
    ],
)
def test_a_faulty_parameter_is_named(query: str, code: str, fault: str, cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(f"{V1}/harvest-weights?{query}")
    problem = check_problem(answer, code)
    (error,) = problem["errors"]
    assert (error["parameter"], error["code"]) == (query.split("=")[0], fault)


def typed_filters() -> list[Any]:
    """Every list filter that takes something other than free text."""
    return [
        pytest.param(route, name, id=f"{route}?{name}")
        for route in ROUTES
        for name, item in route.filters.items()
        if item.method or not isinstance(item, django_filters.CharFilter)
    ]


@pytest.mark.parametrize(("route", "name"), typed_filters())
def test_no_filter_passes_over_what_it_does_not_understand(
    route: Route, name: str, cast: Cast
) -> None:
    query = {**RESOURCES[route.resource].query(cast.ours), name: "anything"}
    address = route.address(make(route.resource, cast.ours).pk if route.has_id else None)
    answer = client_of(cast.ours.owner).get(address, query)
    problem = check_problem(answer, "invalid-request")
    assert {error["parameter"] for error in problem["errors"]} == {name}


@pytest.mark.parametrize("row", ["1.5", "one", "-1", "1e50", "-1e9999999", "9" * 400])
def test_a_row_number_is_a_small_whole_number(row: str, cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(f"{V1}/trees?row={row}")
    problem = check_problem(answer, "invalid-request")
    assert problem["errors"][0]["parameter"] == "row"


# What is wrong with the caller or the service ----------------------------------------------------


def test_without_credentials_the_way_to_send_them_is_told(cast: Cast) -> None:
    answer = APIClient().get(f"{V1}/farms")
    check_problem(answer, "not-authenticated")
    assert answer["WWW-Authenticate"] == 'Bearer realm="orchard"'


def test_a_form_from_elsewhere_is_refused(cast: Cast) -> None:
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(cast.ours.owner)
    check_problem(client.post(f"{V1}/blocks", {}), "not-allowed")
    page = Client(enforce_csrf_checks=True).post("/admin/login/", {})
    check_problem(page, "not-allowed")


def test_too_many_requests_are_told_to_wait(cast: Cast, monkeypatch: Any) -> None:
    monkeypatch.setattr(CallerRateThrottle, "THROTTLE_RATES", {"caller": "2/min"})
    client = client_of(cast.ours.owner)
    answers = [client.get(f"{V1}/farms") for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    check_problem(answers[2], "too-many-requests")
    assert 1 <= int(answers[2]["Retry-After"]) <= 61


def test_a_crash_leaks_nothing(cast: Cast, monkeypatch: Any) -> None:
    def crash(*args: Any) -> None:
        raise ValueError("the secret recipe")

    monkeypatch.setattr(FarmViewSet, "get_queryset", crash)
    monkeypatch.setattr(probes, "MigrationExecutor", crash)
    client = client_of(cast.ours.owner)
    for address in (f"{V1}/farms", "/readyz"):
        answer = client.get(address)
        check_problem(answer, "internal-error")
        assert b"secret" not in answer.content


def test_a_database_that_does_not_answer_is_said_to_be_away(cast: Cast, monkeypatch: Any) -> None:
    client = client_of(cast.ours.owner)

    def refuse(*args: Any, **kwargs: Any) -> None:
        raise OperationalError("connection to secret-host failed")

    with monkeypatch.context() as patched:
        patched.setattr(CursorWrapper, "execute", refuse)
        answers = [client.get(a) for a in (f"{V1}/farms", f"{V1}/me", "/readyz")]
        alive = client.get("/livez")
    for answer in answers:
        check_problem(answer, "unavailable")
        assert int(answer["Retry-After"]) > 0
        assert b"secret" not in answer.content
    assert alive.status_code == 200
