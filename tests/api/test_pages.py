"""Walking a list page by page, whatever happens to it meanwhile."""

import datetime as dt
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from records.models import Container, HarvestWeight
from tests.cast import Place, client_of, make_place

pytestmark = pytest.mark.django_db
PATH = "/api/v1/containers"
AT_ONCE = dt.datetime(2026, 9, 2, 8, tzinfo=dt.UTC)


@pytest.fixture
def place() -> Place:
    return make_place("OURS")


def add(place: Place, numbers: range) -> None:
    Container.objects.bulk_create(
        [Container(farm=place.farm, code=f"K{number:05}", tare_g=number) for number in numbers]
    )


def walk(client: APIClient, query: str = "") -> list[list[Any]]:
    pages, address = [], f"{PATH}?{query}"
    while address:
        answer = client.get(address)
        assert answer.status_code == 200, answer.json()
        pages.append(answer.json()["results"])
        address = answer.json()["next"]
        if address:
            assert answer["Link"] == f'<{address}>; rel="next"'
    return pages


def test_rows_of_one_instant_come_once_each_and_the_walk_ends(place: Place) -> None:
    """As after a bulk import: every row has the same time."""
    add(place, range(1_500))
    codes = [row["code"] for page in walk(client_of(place.owner), "page_size=200") for row in page]
    assert len(codes) == len(set(codes)) == 1_501


@pytest.mark.parametrize("ordering", ["created_at", "-created_at"])
def test_a_walk_backwards_is_a_walk_forwards_turned_round(place: Place, ordering: str) -> None:
    add(place, range(30))
    rows = [
        r["id"] for p in walk(client_of(place.owner), f"page_size=7&ordering={ordering}") for r in p
    ]
    other = "created_at" if ordering.startswith("-") else "-created_at"
    turned = [
        r["id"] for p in walk(client_of(place.owner), f"page_size=7&ordering={other}") for r in p
    ]
    assert rows == turned[::-1]


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(events=st.lists(st.tuples(st.booleans(), st.integers(0, 39)), max_size=8))
def test_rows_that_were_there_all_the_time_come_exactly_once(
    place: Place, events: list[tuple[bool, int]]
) -> None:
    """Between pages rows are added (True) and deleted (False)."""
    Container.objects.filter(code__startswith="K").delete()
    add(place, range(40))
    lasting = {f"K{number:05}" for number in range(40)}
    client, address, seen = client_of(place.owner), f"{PATH}?page_size=5", []
    while address:
        page = client.get(address).json()
        seen += [row["code"] for row in page["results"]]
        address = page["next"]
        if events:
            is_new, number = events.pop()
            code = f"K{number:05}"
            if is_new:
                Container.objects.get_or_create(farm=place.farm, code=f"{code}+", tare_g=1)
            else:
                Container.objects.filter(code=code).delete()
                lasting.discard(code)
    assert len(seen) == len(set(seen))
    assert lasting <= set(seen)


def test_a_late_page_is_found_through_the_index_like_the_first(place: Place) -> None:
    """No page before it is read again, though all rows came at the same moment."""
    weighed = {"farm": place.farm, "block": place.block, "picked_on": "2026-09-01"}
    HarvestWeight.objects.bulk_create(
        [HarvestWeight(**weighed, fruit_count=1, created_at=AT_ONCE) for _ in range(50)]
    )
    client = client_of(place.owner)
    address = client.get("/api/v1/harvest-weights?page_size=20").json()["next"]
    with connection.execute_wrapper(remember := Remembered()):
        assert len(client.get(address).json()["results"]) == 20
    plan = next(plan for plan in remember.plans() if "harvest_weight_listed" in plan)
    assert re.search(r"Index Cond: .*ROW\(created_at, id\) > ROW\(", plan)


class Remembered:
    """The statements of a list, and how they are carried out."""

    def __init__(self) -> None:
        self.statements: list[tuple[str, Any]] = []

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        self.statements.append((sql, params))
        return execute(sql, params, many, context)

    def plans(self) -> Iterator[str]:
        with connection.cursor() as cursor:
            for other in ("seqscan", "bitmapscan", "sort"):  # of so few rows they would be cheaper
                cursor.execute(f"SET LOCAL enable_{other} = off")
            for sql, params in self.statements:
                if "records_harvestweight" in sql:
                    cursor.execute(f"EXPLAIN {sql}", params)
                    yield "\n".join(line for (line,) in cursor.fetchall())


@pytest.mark.parametrize(
    "query",
    [
        "page_size=0",  # too few
        "page_size=501",  # too many
        "page_size=000000100500",  # too many, behind zeros
        "page_size=-1",
        "page_size=ten",
        "page_size=",
        "ordering=tare_g",  # not an order of this list
        "cursor=nonsense",
    ],
)
def test_a_page_that_cannot_be_is_refused_by_name(place: Place, query: str) -> None:
    answer = client_of(place.owner).get(f"{PATH}?{query}")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == query.partition("=")[0]


def test_a_cursor_of_another_list_is_refused(place: Place) -> None:
    add(place, range(5))
    client = client_of(place.owner)
    address = client.get(f"{PATH}?page_size=2&farm={place.farm.pk}").json()["next"]
    for other in (
        address.replace("/containers", "/grades"),
        address.replace(f"&farm={place.farm.pk}", ""),
        f"{address}&ordering=-created_at",
        address.replace("cursor=", "cursor=x"),
    ):
        assert client.get(other).status_code == 400, other
