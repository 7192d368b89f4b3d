"""Who sends or sees a kind of file writes or sees the records that its rows become."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from orchard.access import IMPORTED, Area
from records.choices import ImportKind
from records.models import CoOpRole, FarmRole, HarvestImport, HarvestWeight, Membership
from records.services.undoing_records import MODELS
from tests.cast import Cast, client_of, client_with

PATH = "/api/v1/harvest-imports"
LAYOUTS = "/api/v1/file-layouts"
RECORDS_ARE = {ImportKind.HARVEST_WEIGHTS: HarvestWeight, **MODELS}
HARVEST = {"harvest-weights", "intakes"}
EVERY = set(IMPORTED)


def test_a_file_is_of_the_area_of_its_records() -> None:
    assert {kind: model.area for kind, model in RECORDS_ARE.items()} == IMPORTED
    assert set(IMPORTED) == set(ImportKind.values)


def sendable(client: APIClient, cast: Cast) -> set[str]:
    """The kinds of files that are taken; all others are a 403 and leave nothing behind."""
    taken = set()
    for kind in ImportKind.values:
        file = SimpleUploadedFile("a.csv", b"Date\n2026-09-10\n")
        form = {"farm": str(cast.ours.farm.pk), "file": file, "kind": kind}
        status = client.post(PATH, form, format="multipart").status_code
        assert status in (202, 403, 422), status  # 422: a farm that the caller does not see
        if status == 202:
            taken.add(kind)
    assert set(HarvestImport.objects.values_list("kind", flat=True)) == taken
    return taken


def seen(client: APIClient, cast: Cast) -> set[str]:
    for kind in ImportKind.values:
        HarvestImport.objects.create(farm=cast.ours.farm, file_name="a.csv", kind=kind)
    return {row["kind"] for row in client.get(PATH).json().get("results", [])}


@pytest.mark.parametrize(
    ("role", "sends", "sees"),
    [
        ("owner", EVERY, EVERY),
        ("manager", EVERY, EVERY),
        ("worker", set(), set()),  # writes what is his, but sends no files
        ("adviser", set(), EVERY),
    ],
)
def test_people_of_the_farm(role: str, sends: set[str], sees: set[str], cast: Cast) -> None:
    person = cast.ours.owner if role == "owner" else getattr(cast, role)
    assert sendable(client_of(person), cast) == sends
    HarvestImport.objects.all().delete()
    assert seen(client_of(person), cast) == sees


@pytest.mark.parametrize(
    ("terms", "sends", "sees"),
    [
        ({"shares": "harvest"}, set(), HARVEST),
        ({"shares": "all"}, set(), EVERY),
        ({"shares": "harvest", "staff_may_edit": True}, HARVEST, HARVEST),
        ({"shares": "all", "staff_may_edit": True}, HARVEST, EVERY),
    ],
)
def test_staff_of_a_co_op_send_harvest_alone(
    terms: dict[str, Any], sends: set[str], sees: set[str], cast: Cast
) -> None:
    Membership.objects.update(**terms)
    assert sendable(client_of(cast.staff), cast) == sends
    HarvestImport.objects.all().delete()
    assert seen(client_of(cast.staff), cast) == sees


def test_a_field_worker_who_is_staff_too_sends_no_more_than_staff(cast: Cast) -> None:
    Membership.objects.update(shares="harvest", staff_may_edit=True)
    CoOpRole.objects.create(co_op=cast.co_op, person=cast.worker)
    assert FarmRole.objects.filter(person=cast.worker, role="worker").exists()
    assert sendable(client_of(cast.worker), cast) == HARVEST


@pytest.mark.parametrize(
    ("scopes", "sends", "sees"),
    [
        (["records:write"], EVERY, EVERY),
        (["records:read"], set(), EVERY),
        (["harvest:write"], HARVEST, HARVEST),
        (["harvest:read"], set(), HARVEST),
        (["schedule:write"], set(), set()),
    ],
)
def test_apps_of_the_farm(scopes: list[str], sends: set[str], sees: set[str], cast: Cast) -> None:
    client = client_with(cast.ours.farm, *scopes)
    assert sendable(client, cast) == sends
    HarvestImport.objects.all().delete()
    assert seen(client, cast) == sees


def test_the_neighbour_sees_and_sends_none(cast: Cast) -> None:
    assert sendable(client_of(cast.neighbour.owner), cast) == set()
    assert seen(client_of(cast.neighbour.owner), cast) == set()


def test_layouts_go_by_the_same_rights(cast: Cast) -> None:
    client = client_with(cast.ours.farm, "harvest:write")
    body = {"farm": str(cast.ours.farm.pk), "decimal_mark": ","}
    made = [client.post(LAYOUTS, {**body, "kind": kind}).status_code for kind in IMPORTED]
    assert made == [201 if area == Area.HARVEST else 403 for area in IMPORTED.values()]


def test_problems_of_a_file_are_seen_with_it(cast: Cast) -> None:
    found = HarvestImport.objects.create(farm=cast.ours.farm, file_name="a.csv", kind="task-logs")
    found.problems.create(farm=cast.ours.farm, row=2, column="Workers", code="x", detail="Ana")
    path = f"{PATH}/{found.pk}/problems"
    assert client_of(cast.ours.owner).get(path).json()["results"][0]["detail"] == "Ana"
    assert client_of(cast.staff).get(path).status_code == 404  # shares its harvest alone
