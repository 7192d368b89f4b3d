"""Every list does a fixed number of queries, whatever its length.

Of each: the session, the person, their roles on farms and in co-ops, and the rows themselves.
What comes on top is said beside it.
"""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from records.models import ImportProblem, ProposedChange
from tests.api.resources import RESOURCES, make
from tests.api.routes import ROUTES, Route
from tests.cast import Cast, Place, client_of

LISTING = {"list", "problems", "changes", "sheet"}
LISTS = [route for route in ROUTES if route.actions.get("get") in LISTING]

# By the route's template: as owner, as co-op staff (None: not theirs to see).
COUNTS: dict[str, tuple[int | None, int | None]] = {
    "co-ops": (5, 5),
    "closed-seasons": (None, 5),
    # The co-op, members, their grades, season starts, time zones; what each check looks at.
    "co-ops/<uuid:co_op>/closing": (None, 14),
    # The co-op, members, their grades and season starts, whether what is stored is up to date,
    # whether there are intakes, bare counts; each basis summed up; names.
    "co-ops/<uuid:co_op>/harvest": (None, 16),
    # The co-op, its members, and all that was sent and received, with how this is to be planned.
    "co-ops/<uuid:co_op>/reconciliation": (None, 11),
    "memberships": (5, 5),
    "co-op-grades": (5, 5),
    "farms": (5, 5),
    "season-starts": (5, 5),
    "farm-roles": (5, 5),
    "species": (5, 5),
    "cultivars": (5, 5),
    "blocks": (5, 5),
    "planting-lines": (5, 5),
    "trees": (5, 5),
    "grafts": (5, 5),
    "containers": (5, 5),
    "grades": (5, 5),
    "grade-mappings": (5, 5),
    "crops": (5, 5),
    "harvest-weights": (5, 5),  # their trees with them
    "harvest-weights/sheet": (5, 5),  # the same
    "deliveries": (7, 7),  # weighings, and intakes
    "intakes": (6, 6),  # what sorting found
    "lots": (6, 6),  # lines
    "trace-coverages": (5, 5),
    # The block, what was picked from it and received of it, the walk, and the farm's code.
    "traces": (9, 9),
    "trace-records": (9, 9),
    "task-logs": (6, 5),  # trees
    "growth-stages": (5, 5),
    "trunk-girths": (5, 5),
    "pollen-batches": (7, 5),  # donor trees, and donor cultivars
    "pollination-rounds": (7, 5),  # trees, and the flowers of each
    "fruit-counts": (7, 5),  # rounds, and trees
    "fruit-samples": (5, 5),
    "weather-stations": (6, 5),  # the farms that go by them
    "weather-days": (5, 5),
    "harvest-imports": (5, 5),
    "harvest-imports/<uuid:pk>/problems": (6, 6),  # whether the import is there
    "harvest-imports/<uuid:pk>/changes": (6, 6),  # the same
    "file-batches": (5, 5),
    "batch-files": (5, 5),
    "file-layouts": (5, 5),
    "tokens": (5, 5),
    "invitations": (5, 5),
    "season-summaries": (5, 5),
    # The block; its seasons, grades, weighings (days, and trees), girths, and trees.
    "yield-efficiencies": (11, None),
    "benchmarks": (7, 7),  # the farm, the co-ops of the caller's farms, and what they closed
    "season-comparisons": (6, 6),  # the farm; girths only where blocks have seasons
    # No member sees a pool, so nothing is looked for; staff: grades.
    "pools": (4, 6),
    "pool-deductions": (4, 5),
    "statements": (5, 5),
    "statement-lines": (5, 5),
    "findings": (5, 5),
    "task-rules": (5, 5),
    "schedule-settings": (5, 5),
    "species-figures": (5, 5),
    "figures-in-force": (7, None),  # the farm, and the species
    "next-tasks": (5, 5),
    "undated-tasks": (5, 5),
    "stage-forecasts": (5, 5),
    # The farm; what its forecasts are made from: blocks, trees, figures, records and seasons.
    "stage-backtests": (18, None),
    "degree-days": (6, None),  # the farm, and its stations
    # The farm; its blocks and trees, forecasts, figures, counts, rounds, seasons and crew. No bloom
    # is known, so that no hours are looked up.
    "labour-plans": (21, None),
    # The farm; its blocks and trees, forecasts, figures, rules, seasons, and what was pruned.
    "pruning-windows": (15, None),
    # The farm; its blocks and trees, figures, and pruning logs.
    "cut-backs": (13, None),
    # What opens a crop, the block's crops and forecasts, and what forecasts are made from.
    "crop-plans": (21, 5),
    "alerts": (5, 5),
    "flower-hours": (5, 5),
    # The farm, what of it may be read (three areas), species, its own hours, its working hours,
    # weather, and what was counted; the farm has no coordinates, so that no count has an hour.
    "pollination-windows": (12, None),
    "history": (7, None),  # the farm, and whether its history may be read
}


def test_every_list_is_in_the_table() -> None:
    assert {route.template for route in LISTS} == set(COUNTS)


def address_of(route: Route, place: Place) -> str:
    return route.address(make(route.resource, place, 100).pk if route.has_id else None)


def fill(route: Route, address: str, place: Place, numbers: range) -> None:
    for number in numbers:
        if route.resource == "pollination-windows":
            make("species", place, number)
        elif route.resource == "history" or RESOURCES[route.resource].is_computed:
            make("blocks", place, number)
        elif route.resource == "co-ops" and route.has_id:
            make("harvest-weights", place, number)
        elif route.has_id:
            fill_below(route, address.split("/")[-2], place, number)
        else:
            make(route.resource, place, number)


def fill_below(route: Route, import_id: str, place: Place, number: int) -> None:
    ours = {"farm": place.farm, "harvest_import_id": import_id, "row": number}
    if route.actions["get"] == "changes":
        ProposedChange.objects.create(**ours, kind="added")
    else:
        ImportProblem.objects.create(**ours, code="x", detail="x")


def queries(client: APIClient, address: str, query: dict[str, Any]) -> tuple[int, list[Any]]:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    return len(seen), answer.json()["results"]


def pinned() -> list[Any]:
    return [
        pytest.param(route, caller, count, id=f"{route}, {caller}")
        for route in LISTS
        for caller, count in zip(("owner", "staff"), COUNTS.get(route.template, ()), strict=False)
        if count is not None
    ]


@pytest.mark.parametrize(("route", "caller", "expected"), pinned())
def test_a_list_of_ten_costs_as_many_queries_as_one_of_one(
    route: Route, caller: str, expected: int, cast: Cast
) -> None:
    client = client_of(cast.ours.owner if caller == "owner" else cast.staff)
    address, query = address_of(route, cast.ours), RESOURCES[route.resource].query(cast.ours)
    fill(route, address, cast.ours, range(1, 2))
    of_one, first = queries(client, address, query)
    fill(route, address, cast.ours, range(2, 11))
    of_ten, rows = queries(client, address, query)
    assert (of_one, of_ten) == (expected, expected)
    if (route.resource, caller) not in UNSEEN and not is_computed(route):
        assert len(rows) >= len(first) + 9


def is_computed(route: Route) -> bool:
    """Whether rows are no records, so that ten of these may be one of them."""
    below_co_op = route.resource == "co-ops" and route.has_id
    return below_co_op or RESOURCES[route.resource].is_computed


# Lists that may be asked for and hold no rows of the other side.
UNSEEN = {
    # A pool is the co-op's, and tells what all members bring.
    ("pools", "owner"),
    ("pool-deductions", "owner"),
} | {
    (name, "staff")
    for name in (
        "farm-roles",
        "tokens",
        # Sent by the farm's own people, for themselves.
        "file-batches",
        "batch-files",
        "invitations",
        # A harvest share shows none of these.
        "task-logs",
        "growth-stages",
        "trunk-girths",
        "pollen-batches",
        "pollination-rounds",
        "fruit-counts",
        "fruit-samples",
        "weather-stations",
        "weather-days",
        "task-rules",
        "schedule-settings",
        "species-figures",
        "figures-in-force",
        "next-tasks",
        "undated-tasks",
        "stage-forecasts",
        "crop-plans",
        "alerts",
        "flower-hours",
    )
}
