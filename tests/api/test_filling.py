"""A block is filled with trees from rows and positions, once however often it is sent."""

import datetime as dt
import uuid
from typing import Any

import pytest

from records.models import Cultivar, Tree
from tests.cast import Cast, client_of, client_with, make_cultivar, make_species, weighing


def fill(cast: Cast, by: Any = None, **body: Any) -> Any:
    client = by or client_of(cast.ours.owner)
    values = {"rows": "2-3", "positions": "1-4", **body}
    return client.post(f"/api/v1/blocks/{cast.ours.block.pk}/fill", values)


def places(cast: Cast) -> set[tuple[int, int]]:
    trees = Tree.objects.filter(block=cast.ours.block)
    return set(trees.values_list("row", "position"))


def test_every_place_gets_a_tree(cast: Cast) -> None:
    cultivar = make_cultivar("Brumel")
    answer = fill(
        cast,
        rows="2-3, 5",
        positions=[1, 2, 4],
        cultivar=str(cultivar.pk),
        rootstock="seedling",
        planted_on="2021-02-14",
    )
    assert (answer.status_code, answer.json()["created"], answer.json()["kept"]) == (201, 9, [])
    trees = Tree.objects.filter(block=cast.ours.block).exclude(pk=cast.ours.tree.pk)
    assert {(t.row, t.position) for t in trees} == {(r, p) for r in (2, 3, 5) for p in (1, 2, 4)}
    assert {(t.cultivar, t.rootstock, t.planted_on) for t in trees} == {
        (cultivar, "seedling", dt.date(2021, 2, 14))
    }


def test_a_place_with_a_tree_is_refused_by_name_and_nothing_is_planted(cast: Cast) -> None:
    answer = fill(cast, rows=1, positions="1-3")
    assert answer.status_code == 422
    fault = answer.json()["errors"][0]
    assert (fault["pointer"], fault["code"]) == ("/positions", "place-taken")
    assert "1/1" in fault["detail"]
    assert places(cast) == {(1, 1)}


def test_trees_that_stand_there_are_kept_when_asked(cast: Cast) -> None:
    answer = fill(cast, rows=1, positions="1-3", existing="keep", rootstock="seedling")
    assert answer.json()["created"] == 2
    assert answer.json()["kept"] == [{"row": 1, "position": 1}]
    assert Tree.objects.get(pk=cast.ours.tree.pk).rootstock == ""


def test_a_removed_tree_is_not_in_the_way_of_a_later_one(cast: Cast) -> None:
    Tree.objects.filter(pk=cast.ours.tree.pk).update(removed_on=dt.date(2024, 5, 1))
    before = fill(cast, rows=1, positions=1, planted_on="2024-04-30")
    after = fill(cast, rows=1, positions=1, planted_on="2024-05-01")
    undated = fill(cast, rows=1, positions=1)
    assert (before.status_code, after.status_code, undated.status_code) == (422, 201, 422)


def test_a_phone_that_sends_it_again_plants_nothing_more(cast: Cast) -> None:
    body = {"id": str(uuid.uuid4()), "rows": "1-2", "positions": "1-3", "existing": "keep"}
    first, again = fill(cast, **body), fill(cast, **body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert len(places(cast)) == 6
    other = fill(cast, **{**body, "rootstock": "seedling"})
    assert (other.status_code, other.json()["code"]) == (409, "id-taken")


@pytest.mark.parametrize(
    ("change", "status", "pointer", "code"),
    [
        ({"rows": "6-1"}, 400, "/rows", "invalid"),
        ({"rows": True}, 400, "/rows", "invalid"),
        ({"rows": [1, -1]}, 400, "/rows", "invalid"),
        ({"positions": None}, 400, "/positions", "null"),
        ({"positions": []}, 400, "/positions", "invalid"),
        ({"rows": "1-100", "positions": "1-100"}, 422, "/positions", "too-many-trees"),
        ({"existing": "replace"}, 400, "/existing", "invalid-choice"),
        ({"planted_on": "soon"}, 400, "/planted_on", "invalid"),
        ({"spacing": 4}, 400, "/spacing", "unknown-field"),
        ({"cultivar": str(uuid.uuid4())}, 422, "/cultivar", "does-not-exist"),
    ],
)
def test_what_cannot_be_planted_is_refused_at_its_field(
    change: dict[str, Any], status: int, pointer: str, code: str, cast: Cast
) -> None:
    answer = fill(cast, **change)
    assert answer.status_code == status
    fault = answer.json()["errors"][0]
    assert (fault["pointer"], fault["code"]) == (pointer, code)
    assert places(cast) == {(1, 1)}


def test_another_farms_cultivar_is_refused(cast: Cast) -> None:
    theirs = make_cultivar("Yard seedling", cast.neighbour.farm)
    assert fill(cast, cultivar=str(theirs.pk)).status_code == 422
    # Also for somebody who sees it.
    by_admin = fill(cast, by=client_of(cast.admin), cultivar=str(theirs.pk))
    assert by_admin.json()["errors"][0]["code"] == "other-farm"


def test_nothing_is_planted_in_a_retired_block(cast: Cast) -> None:
    cast.ours.block.retired_on = dt.date(2025, 1, 1)
    cast.ours.block.save()
    assert fill(cast).json()["errors"][0]["code"] == "retired"


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("manager", 201),
        ("admin", 201),
        ("worker", 403),
        ("adviser", 403),
        ("staff", 403),  # a member's trees are the member's business
    ],
)
def test_who_may_fill_a_block(who: str, status: int, cast: Cast) -> None:
    assert fill(cast, by=client_of(getattr(cast, who))).status_code == status


def test_a_stranger_finds_no_block_to_fill(cast: Cast) -> None:
    assert fill(cast, by=client_of(cast.neighbour.owner)).status_code == 404


@pytest.mark.parametrize(
    ("scope", "status"), [("records:write", 201), ("records:read", 403), ("harvest:write", 403)]
)
def test_which_apps_may_fill_a_block(scope: str, status: int, cast: Cast) -> None:
    assert fill(cast, by=client_with(cast.ours.farm, scope)).status_code == status


def test_weighings_learn_the_cultivar_of_a_block_that_was_filled(cast: Cast) -> None:
    Tree.objects.all().delete()
    client = client_of(cast.ours.owner)
    made = client.post("/api/v1/harvest-weights", weighing(cast.ours)).json()
    assert made["cultivar"] is None
    cultivar = Cultivar.objects.create(species=make_species(), name="Ostrel")
    fill(cast, cultivar=str(cultivar.pk), planted_on="2020-01-01")
    again = client.get(f"/api/v1/harvest-weights/{made['id']}").json()
    assert again["cultivar"] == str(cultivar.pk)


def test_the_trees_of_a_filling_are_in_the_history(cast: Cast) -> None:
    fill(cast, rows=9, positions=1)
    query = {"farm": str(cast.ours.farm.pk), "kind": "trees"}
    changes = client_of(cast.ours.owner).get("/api/v1/history", query).json()["results"]
    assert [change["values"]["row"] for change in changes] == [9, 1]
