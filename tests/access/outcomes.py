"""What a caller gets from a resource of our farm, in five letters: the words of the tables."""

from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.http import HttpResponse
from rest_framework.test import APIClient

from tests.api.resources import RESOURCES, body_of, create, make
from tests.cast import Cast

LETTERS = {
    200: "y",  # done
    201: "y",
    202: "y",
    204: "y",
    401: "!",  # who is asking?
    403: "-",  # not allowed
    404: ".",  # not there, for this caller; in a list, not among its rows
    405: "x",  # nobody can
    409: "b",  # bound: other records refer to it
    422: "u",  # what the body or filter names is not there, for this caller
}


def row_of(name: str, cast: Cast, callers: list[Callable[[Cast], APIClient]]) -> list[str]:
    """What each caller gets, each time from the same start."""
    record = record_for(name, cast)
    return [_from_the_start(name, cast, record, caller) for caller in callers]


def _from_the_start(name: str, cast: Cast, record: Any, caller: Callable[[Cast], APIClient]) -> str:
    with transaction.atomic():
        letters = outcomes(caller(cast), name, cast, record)
        transaction.set_rollback(True)
    return letters


def outcomes(client: APIClient, name: str, cast: Cast, record: Any) -> str:
    """Letters for list, retrieve, create, update and delete."""
    resource = RESOURCES[name]
    body = body_of(name, cast.ours, 2) if resource.body else {}
    base = f"/api/v1/{name}"
    listed = client.get(base, resource.query(cast.ours))
    created = create(client, name, body)
    if record is None:  # a resource without addresses of its own for single records
        return f"{_letter(listed)}x{_letter(created)}xx"
    one = f"{base}/{record.pk}"
    return "".join(
        [
            _letter_of_list(listed, record),
            _letter(client.get(one)),
            _letter(created),
            _letter(client.patch(one, resource.change)),
            _letter(client.delete(one)),
        ]
    )


def record_for(name: str, cast: Cast) -> Any:
    """The farm and co-op that the cast has roles in; of all else, a fresh record."""
    there = {"farms": cast.ours.farm, "co-ops": cast.co_op}
    if name in there or RESOURCES[name].model is None:
        return there.get(name)
    return make(name, cast.ours)


def _letter(answer: HttpResponse) -> str:
    return LETTERS.get(answer.status_code, f"<{answer.status_code}>")


def _letter_of_list(answer: Any, record: Any) -> str:
    if answer.status_code != 200:
        return _letter(answer)
    ids = {row["id"] for row in answer.json()["results"]}
    return "y" if str(record.pk) in ids else "."


def table(text: str) -> tuple[list[str], dict[str, list[str]]]:
    """The callers at the heads of the columns, and the letters of each resource."""
    heading, *rows = [line.split() for line in text.strip().splitlines()]
    return heading, {row[0]: row[1:] for row in rows}
