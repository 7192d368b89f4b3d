"""A farm's history, page by page: who changed what, the latest first."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.cast import Cast, client_of

V1 = "/api/v1"


def pages(client: APIClient, address: str, **query: Any) -> list[list[Any]]:
    answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    found = [answer.json()["results"]]
    while following := answer.json()["next"]:
        assert answer["Link"] == f'<{following}>; rel="next"'
        answer = client.get(following)
        found.append(answer.json()["results"])
    assert "Link" not in answer
    return found


def edit_many_times(cast: Cast, times: int) -> APIClient:
    client = client_of(cast.ours.owner)
    for number in range(times):
        block = f"{V1}/blocks/{cast.ours.block.pk}"
        assert client.patch(block, {"name": f"name {number}"}).status_code == 200
    return client


@pytest.mark.parametrize("size", [1, 2, 3, 100])
def test_every_change_comes_once_whatever_the_size_of_a_page(size: int, cast: Cast) -> None:
    """All of a test's changes are made at one instant, so the ties are told apart too."""
    client = edit_many_times(cast, 5)
    query = {"farm": str(cast.ours.farm.pk), "record": str(cast.ours.block.pk)}
    found = pages(client, f"{V1}/history", page_size=size, **query)
    assert [len(page) <= size for page in found] == [True] * len(found)
    names = [row["values"]["name"] for page in found for row in page]
    assert names == [f"name {number}" for number in (4, 3, 2, 1, 0)] + [""]


def test_a_change_names_its_maker_and_its_request(cast: Cast) -> None:
    client = edit_many_times(cast, 1)
    (row, made), *_ = pages(client, f"{V1}/history", farm=cast.ours.farm.pk, kind="blocks")
    assert (row["action"], row["by"], row["record"]) == (
        "changed",
        str(cast.ours.owner),
        str(cast.ours.block.pk),
    )
    assert set(row["made_by"]) == {"request", "by", "person"}
    assert (made["action"], made["by"]) == ("created", None)


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("page_size=0", "page_size"),
        ("page_size=501", "page_size"),
        ("page_size=000000100500", "page_size"),
        ("ordering=at", "ordering"),  # it has one order
        ("kind=rumours", "kind"),
        ("cursor=nonsense", "cursor"),
    ],
)
def test_a_page_that_cannot_be_is_refused_by_name(query: str, name: str, cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(f"{V1}/history?farm={cast.ours.farm.pk}&{query}")
    assert answer.status_code == 400
    assert [error["parameter"] for error in answer.json()["errors"]] == [name]


def test_the_farm_must_be_named(cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(f"{V1}/history")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["parameter"] == "farm"


def test_a_cursor_is_good_for_its_own_filters_only(cast: Cast) -> None:
    client = edit_many_times(cast, 3)
    address = f"{V1}/history?farm={cast.ours.farm.pk}&page_size=1"
    following = client.get(address).json()["next"]
    assert client.get(following).status_code == 200
    assert client.get(f"{following}&kind=blocks").status_code == 400
    assert client.get(following.replace("cursor=", "cursor=x")).status_code == 400
