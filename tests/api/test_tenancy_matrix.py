"""Another farm's ids answer as ids that do not exist, on every route and method there is.

The matrix is made from the URL table and the serializers: a new route, link or filter is in it by
itself, and a route without a row in `tests.api.resources` fails.
"""

import json
import re
import uuid
from collections.abc import Iterator
from typing import Any

import django_filters
import pytest
from django.apps import apps
from django.db.models import ForeignKey, Model
from rest_framework import serializers
from rest_framework.test import APIClient

from orchard.access import SCOPES
from records.models import Block, Farm
from tests.api.resources import RESOURCES, Resource, body_of, create, make, record_of
from tests.api.routes import CALLS, ROUTES, Route, call_name
from tests.cast import Cast, Place, client_of, client_with

CALLERS = ("owner", "staff", "farm's app", "co-op's app")


def client_for(caller: str, cast: Cast) -> APIClient:
    """Callers with every right that their kind can have on our side, and none on the other."""
    match caller:
        case "owner":
            return client_of(cast.ours.owner)
        case "staff":
            cast.membership.shares, cast.membership.staff_may_edit = "all", True
            cast.membership.save()
            return client_of(cast.staff)
        case "farm's app":
            return client_with(cast.ours.farm, *SCOPES)
        case _:
            return client_with(cast.co_op, *SCOPES)


def writer(resource: Resource, cast: Cast) -> APIClient:
    """Who writes such records on our side."""
    return client_of(cast.staff if resource.is_of_co_op else cast.ours.owner)


# What is compared --------------------------------------------------------------------------------


def answer_of(response: Any, *ids: Any) -> tuple[int, str, Any]:
    """Status, media type and body, but for the ids that were sent and the request's own."""
    text = response.content.decode()
    for sent in ids:
        text = text.replace(str(sent), "<id>")
    document = json.loads(text) if text else None
    if isinstance(document, dict):
        document.pop("instance", None)
    return response.status_code, response.get("Content-Type", ""), document


def rows_of(place: Place) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of a place, with its version where it has one: the farm's and its history's."""
    found = {}
    for model in apps.get_models():
        farm = "pk" if model is Farm else _farm_field(model)
        if farm:
            names = {field.name for field in model._meta.fields} & {"version", "tick", "state"}
            rows = model._base_manager.filter(**{farm: place.farm.pk})
            found[model._meta.label] = sorted(rows.values_list("pk", *sorted(names)), key=str)
    return found


def _farm_field(model: type[Model]) -> str | None:
    links = [f for f in model._meta.fields if isinstance(f, ForeignKey)]
    return next((f.name for f in links if f.name == "farm" and f.related_model is Farm), None)


# The matrix --------------------------------------------------------------------------------------


def test_every_route_is_declared_and_every_declaration_has_a_route() -> None:
    assert {route.resource for route in ROUTES} == set(RESOURCES)


def declared(route: Route) -> Resource:
    assert route.resource in RESOURCES, f"{route} needs a row in tests/api/resources.py"
    return RESOURCES[route.resource]


def with_ids() -> list[tuple[Route, str]]:
    return [
        (route, method)
        for route, method in CALLS
        if route.has_id and not declared_or_empty(route).is_reference
    ]


def declared_or_empty(route: Route) -> Resource:
    return RESOURCES.get(route.resource, Resource())


@pytest.mark.parametrize("caller", CALLERS)
@pytest.mark.parametrize(("route", "method"), with_ids(), ids=call_name)
def test_another_farms_id_in_the_path_is_not_found(
    route: Route, method: str, caller: str, cast: Cast
) -> None:
    theirs, nobodys = make(route.resource, cast.neighbour).pk, uuid.uuid4()
    before = rows_of(cast.neighbour)
    client = client_for(caller, cast)
    body = declared(route).change if method == "patch" else {}
    answers = [
        answer_of(getattr(client, method)(route.address(key), body), key)
        for key in (theirs, nobodys)
    ]
    assert answers[0] == answers[1]
    assert answers[0][0] == 404 or (answers[0][0] == 403 and caller != "owner")
    assert rows_of(cast.neighbour) == before


def links() -> Iterator[Any]:
    """Every link that a body can have: (route, method, field, model linked to, whether many)."""
    for route, method in CALLS:
        if route.actions[method] in {"create", "partial_update"}:
            for name, field in route.view.serializer_class().fields.items():
                many = isinstance(field, serializers.ManyRelatedField)
                queryset = getattr(field.child_relation if many else field, "queryset", None)
                if queryset is None or field.read_only or is_everyones(queryset.model):
                    continue
                yield pytest.param(route, method, name, queryset.model, many)


def is_everyones(model: type[Model]) -> bool:
    return any(r.is_reference for r in RESOURCES.values() if r.model is model)


@pytest.mark.parametrize(
    ("route", "method", "field", "model", "many"), list(links()), ids=call_name
)
def test_another_farms_id_in_a_body_is_unprocessable(
    route: Route, method: str, field: str, model: type[Model], many: bool, cast: Cast
) -> None:
    client = writer(declared(route), cast)
    theirs, nobodys = record_of(model, cast.neighbour, 2).pk, uuid.uuid4()
    address = route.address(make(route.resource, cast.ours).pk) if route.has_id else ""
    before = rows_of(cast.neighbour)
    answers = []
    for number, key in enumerate((theirs, nobodys), start=3):
        link = {field: [str(key)] if many else str(key)}
        if method == "post":
            answer = create(
                client, route.resource, {**body_of(route.resource, cast.ours, number), **link}
            )
        else:
            answer = client.patch(address, link)
        answers.append(answer_of(answer, key))
    assert answers[0] == answers[1]
    status, _, problem = answers[0]
    if method == "patch" and not may_change(client, address):
        assert status == 403  # whatever is sent
    else:
        assert (status, problem["code"]) == (422, "rule-broken")
        pointer = f"/{field}/0" if many else f"/{field}"
        assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert rows_of(cast.neighbour) == before


def may_change(client: APIClient, address: str) -> bool:
    return client.patch(address, {}).status_code != 403


def filters() -> Iterator[Any]:
    """Every filter by id: (route, parameter, model filtered by or None)."""
    for route in ROUTES:
        for name, item in route.filters.items():
            if isinstance(item, django_filters.ModelChoiceFilter):
                model = item.extra["queryset"](None).model
                if not is_everyones(model):
                    yield pytest.param(route, name, model)
            elif isinstance(item, django_filters.UUIDFilter):
                yield pytest.param(route, name, None)


@pytest.mark.parametrize(("route", "name", "model"), list(filters()), ids=call_name)
def test_another_farms_id_in_a_filter_is_unprocessable(
    route: Route, name: str, model: type[Model] | None, cast: Cast
) -> None:
    theirs = record_of(model or Block, cast.neighbour).pk
    query = declared(route).query(cast.ours)
    address = route.address(make(route.resource, cast.ours).pk if route.has_id else None)
    client = writer(declared(route), cast)
    answers = [
        answer_of(client.get(address, {**query, name: str(key)}), key)
        for key in (theirs, uuid.uuid4())
    ]
    assert answers[0] == answers[1]
    status, _, document = answers[0]
    if model is None:  # an id of any kind, looked for among rows that are the caller's anyway
        expected = (404, None) if route.has_id else (200, [])
        assert (status, document.get("results")) == expected
    else:
        assert (status, document["code"]) == (422, "rule-broken")
        assert [error["parameter"] for error in document["errors"]] == [name]


# A blank form has no rows.
LISTS = [
    route
    for route in ROUTES
    if not route.has_id and route.actions.get("get", "template") != "template"
]


@pytest.mark.parametrize("caller", CALLERS)
@pytest.mark.parametrize("form", ["json", "csv"])
@pytest.mark.parametrize("route", LISTS, ids=call_name)
def test_no_list_shows_another_farms_rows(route: Route, form: str, caller: str, cast: Cast) -> None:
    if declared(route).model is not None:
        make(route.resource, cast.neighbour, 1)
    theirs = {str(row[0]) for rows in rows_of(cast.neighbour).values() for row in rows}
    assert str(cast.neighbour.farm.pk) in theirs
    query = {**declared(route).query(cast.ours), "format": form}
    answer = client_for(caller, cast).get(route.address(), query)
    # What is computed for one farm is refused where its schedule may not be read.
    refused = {403, 422} if declared(route).is_computed else {403}
    assert answer.status_code in ({200, *refused} if form == "json" else {200, 406, *refused})
    ids = set(re.findall(UUID, answer.content.decode()))
    assert not ids & theirs


UUID = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"


def creations() -> list[Route]:
    return [
        route
        for route, method in CALLS
        if (method, route.has_id) == ("post", False)
        and not declared_or_empty(route).is_reference
        and not declared_or_empty(route).is_order
    ]


@pytest.mark.parametrize("route", creations(), ids=call_name)
def test_an_id_taken_by_anyone_is_a_clash(route: Route, cast: Cast) -> None:
    theirs, ours = (make(route.resource, place, 3).pk for place in (cast.neighbour, cast.ours))
    before = rows_of(cast.neighbour)
    client = writer(declared(route), cast)
    answers = []
    for number, key in enumerate((theirs, ours), start=4):
        body = body_of(route.resource, cast.ours, number)
        answers.append(answer_of(create(client, route.resource, {**body, "id": str(key)}), key))
    assert answers[0] == answers[1]
    assert (answers[0][0], answers[0][2]["code"]) == (409, "id-taken")
    assert rows_of(cast.neighbour) == before
