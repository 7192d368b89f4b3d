"""Versions, ETags and ids that clients make, with real commits and real races."""

import threading
import uuid
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connections

from records.models import Block, HarvestWeight, Tombstone
from tests.api.resources import RESOURCES, body_of
from tests.cast import Cast, client_of, make_cast, weighing

PATH = "/api/v1/harvest-weights"
AT_ONCE = 16


@pytest.fixture
def cast(committed: None) -> Cast:
    return make_cast()


def at_once(act: Callable[[int], Any]) -> list[Any]:
    """The same act from many threads, all let go at one moment."""
    answers: list[Any] = []
    start = threading.Barrier(AT_ONCE)

    def run(number: int) -> None:
        try:
            start.wait()
            answers.append(act(number))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


@pytest.mark.parametrize(
    "name",
    [
        "harvest-weights",  # only the id is unique
        "blocks",  # its code as well: the loser of the race breaks that rule first
        "trees",  # its place on these days
        "tokens",  # answers with a secret, once
    ],
)
def test_a_create_sent_many_times_at_once_makes_one_record(name: str, cast: Cast) -> None:
    model = RESOURCES[name].model
    before, key = model.objects.count(), str(uuid.uuid4())
    body = {**body_of(name, cast.ours, 2), "id": key}
    answers = at_once(lambda _: client_of(cast.ours.owner).post(f"/api/v1/{name}", body))
    codes = Counter(answer.status_code for answer in answers)
    assert codes == {201: 1, 200: AT_ONCE - 1}
    shown = [{**answer.json(), "secret": None} for answer in answers]
    assert shown == [shown[0]] * AT_ONCE
    assert model.objects.count() == before + 1


def test_of_different_contents_under_one_id_at_once_one_is_stored(cast: Cast) -> None:
    key = str(uuid.uuid4())

    def create(number: int) -> Any:
        body = weighing(cast.ours, id=key, fruit_count=number + 1)
        return client_of(cast.ours.owner).post(PATH, body)

    answers = at_once(create)
    assert Counter(a.status_code for a in answers) == {201: 1, 409: AT_ONCE - 1}
    (made,) = [answer.json() for answer in answers if answer.status_code == 201]
    assert HarvestWeight.objects.get(pk=key).fruit_count == made["fruit_count"]


def test_other_content_under_a_taken_id_clashes(cast: Cast) -> None:
    client, key = client_of(cast.ours.owner), str(uuid.uuid4())
    client.post(PATH, weighing(cast.ours, id=key))
    answer = client.post(PATH, weighing(cast.ours, id=key, weight=13))
    assert (answer.status_code, answer.json()["code"]) == (409, "id-taken")


def test_an_id_of_another_farm_clashes_alike(cast: Cast) -> None:
    key = str(uuid.uuid4())
    client_of(cast.neighbour.owner).post(PATH, weighing(cast.neighbour, id=key))
    answer = client_of(cast.ours.owner).post(PATH, weighing(cast.ours, id=key))
    assert (answer.status_code, answer.json()["code"]) == (409, "id-taken")
    assert HarvestWeight.objects.get(pk=key).farm_id == cast.neighbour.farm.pk


def test_a_repeated_create_is_answered_even_after_a_correction(cast: Cast) -> None:
    """A phone that never saw the answer sends again; meanwhile the manager corrected it."""
    body = weighing(cast.ours, id=str(uuid.uuid4()))
    client_of(cast.ours.owner).post(PATH, body)
    client_of(cast.manager).patch(f"{PATH}/{body['id']}", {"note": "weighed twice"})
    again = client_of(cast.ours.owner).post(PATH, body)
    assert (again.status_code, again.json()["note"]) == (200, "weighed twice")


def test_of_many_edits_of_one_version_one_succeeds(cast: Cast) -> None:
    key = client_of(cast.ours.owner).post(PATH, weighing(cast.ours)).json()["id"]

    def edit(number: int) -> Any:
        client = client_of(cast.ours.owner)
        return client.patch(f"{PATH}/{key}", {"note": str(number)}, headers={"If-Match": '"1"'})

    codes = Counter(answer.status_code for answer in at_once(edit))
    assert codes == {200: 1, 412: AT_ONCE - 1}
    assert HarvestWeight.objects.get(pk=key).version == 2


@pytest.mark.parametrize(
    ("tag", "code"),
    [
        ('"1"', 200),  # the version as read
        ('"7", "1"', 200),  # one of several
        ("*", 200),  # whatever it is
        ('"2"', 412),  # one that never was
        ('W/"1"', 412),  # a weak tag is never enough to write
        ("1", 412),  # no tag at all
    ],
)
def test_if_match_is_compared_strongly(cast: Cast, tag: str, code: int) -> None:
    client = client_of(cast.ours.owner)
    key = client.post(PATH, weighing(cast.ours)).json()["id"]
    answer = client.patch(f"{PATH}/{key}", {"note": "x"}, headers={"If-Match": tag})
    assert answer.status_code == code


def test_what_has_not_changed_is_not_sent_again(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    made = client.post(PATH, weighing(cast.ours))
    address = f"{PATH}/{made.json()['id']}"
    unchanged = client.get(address, headers={"If-None-Match": made["ETag"]})
    assert (unchanged.status_code, unchanged.content) == (304, b"")
    client.patch(address, {"note": "changed"})
    assert client.get(address, headers={"If-None-Match": made["ETag"]}).status_code == 200


def test_a_deleted_weighing_leaves_a_tombstone(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    key = client.post(PATH, weighing(cast.ours)).json()["id"]
    assert client.delete(f"{PATH}/{key}").status_code == 204
    assert client.get(f"{PATH}/{key}").status_code == 404
    assert Tombstone.objects.filter(farm=cast.ours.farm, row_id=key).exists()


def test_a_record_that_others_refer_to_is_not_deleted(cast: Cast) -> None:
    answer = client_of(cast.ours.owner).delete(f"/api/v1/blocks/{cast.ours.block.pk}")
    assert (answer.status_code, answer.json()["code"]) == (409, "in-use")
    assert Block.objects.filter(pk=cast.ours.block.pk).exists()


def told(answer: Any) -> tuple[int, str, int]:
    """The version and ETag of an answer, and the change tick behind it."""
    stored = answer.json()
    tick = HarvestWeight.objects.values_list("tick", flat=True).get(pk=stored["id"])
    return stored["version"], answer["ETag"], tick


def test_a_change_of_trees_alone_raises_version_etag_and_tick(cast: Cast) -> None:
    client, tree = client_of(cast.ours.owner), str(cast.ours.tree.pk)
    answer = client.post(PATH, weighing(cast.ours, trees=[tree]))
    address = f"{PATH}/{answer.json()['id']}"
    first = told(answer)
    assert first[:2] == (1, '"1"')
    assert told(client.patch(address, {"trees": [tree]})) == first
    second = told(client.patch(address, {"trees": []}))
    assert second[:2] == (2, '"2"')
    assert second[2] > first[2]
    assert client.get(address, headers={"If-None-Match": '"1"'}).status_code == 200
