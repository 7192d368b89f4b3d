"""People's roles: dated, on their own farms only, and told by `me`."""

import datetime as dt
import uuid
from typing import Any

import pytest
from rest_framework.test import APIClient

from records.models import FarmRole, HarvestWeight
from tests.cast import Cast, client_of, make_person, weighing

V1 = "/api/v1"
TODAY = dt.date(2026, 9, 12)


@pytest.mark.parametrize(
    ("ends_on", "status"),
    [
        (None, 200),
        (TODAY, 200),  # the last day counts
        (TODAY - dt.timedelta(days=1), 404),
    ],
)
def test_a_role_lasts_until_its_last_day(ends_on: dt.date | None, status: int, cast: Cast) -> None:
    FarmRole.objects.filter(person=cast.manager).update(ends_on=ends_on)
    # A role elsewhere, so that blocks can be asked for at all.
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.manager, role="worker")
    answer = client_of(cast.manager).get(f"{V1}/blocks/{cast.ours.block.pk}")
    assert answer.status_code == status


def test_somebody_without_a_role_is_known_and_may_nothing(cast: Cast) -> None:
    client = client_of(make_person("nobody@nowhere.example"))
    assert client.get(f"{V1}/me").json()["farms"] == []
    assert client.get(f"{V1}/blocks").status_code == 403
    assert client.get(f"{V1}/species").status_code == 200


def test_a_closed_account_is_nobodys(cast: Cast) -> None:
    client = client_of(cast.manager)
    cast.manager.is_active = False
    cast.manager.save()
    assert client.get(f"{V1}/me").status_code == 401


def test_two_farms_of_one_manager_stay_apart(cast: Cast) -> None:
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.manager, role="manager")
    client = client_of(cast.manager)
    theirs = cast.neighbour
    for field, value in {
        "block": theirs.block.pk,
        "container": theirs.container.pk,
        "grade": theirs.grade.pk,
        "crop": theirs.crop.pk,
    }.items():
        answer = client.post(
            f"{V1}/harvest-weights", weighing(cast.ours, **{field: str(value), "containers": 1})
        )
        assert answer.status_code == 422
        assert (answer.json()["errors"][0]["pointer"]) == f"/{field}"
    answer = client.post(f"{V1}/harvest-weights", weighing(cast.ours, trees=[str(theirs.tree.pk)]))
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/trees"
    assert not HarvestWeight.objects.exists()


def test_a_record_does_not_change_its_farm(cast: Cast) -> None:
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.manager, role="manager")
    answer = client_of(cast.manager).patch(
        f"{V1}/blocks/{cast.ours.block.pk}", {"farm": str(cast.neighbour.farm.pk)}
    )
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/farm"


def test_roles_are_given_to_people_within_sight_only(cast: Cast) -> None:
    client = client_of(cast.ours.owner)
    body = {"farm": str(cast.ours.farm.pk), "role": "manager"}
    for person in (cast.neighbour.owner.pk, cast.admin.pk, uuid.uuid4()):
        answer = client.post(f"{V1}/farm-roles", {**body, "person": str(person)})
        assert answer.status_code == 422
        assert answer.json()["errors"][0]["code"] == "does-not-exist"


def test_me_says_what_may_be_done_where(cast: Cast) -> None:
    def me(client: APIClient) -> Any:
        return client.get(f"{V1}/me").json()

    worker = me(client_of(cast.worker))
    assert worker["person"] == str(cast.worker.pk)
    assert worker["farms"] == [
        {
            "farm": str(cast.ours.farm.pk),
            "reads": ["field", "harvest", "observation", "place", "schedule", "weather"],
            "writes": [],
            "writes_own": ["field", "harvest", "observation", "schedule"],
        }
    ]
    assert me(client_of(cast.staff))["co_ops"] == [str(cast.co_op.pk)]
    assert me(client_of(cast.admin))["is_platform_admin"] is True
