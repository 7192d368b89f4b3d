"""Files of other kinds over the API and from the command line."""

import datetime as dt
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from rest_framework.test import APIClient

from records import tasks  # noqa: F401 - registers the job that brings files in
from records.models import Job, TaskLog
from records.services import jobs
from tests.cast import Cast, client_of

pytestmark = pytest.mark.django_db
PATH = "/api/v1/harvest-imports"
LAYOUTS = "/api/v1/file-layouts"
WORK = "Date,Block,Work,Minutes\n2026-02-10,N1,pruning,60\n"


@pytest.fixture(autouse=True)
def _after_the_pruning(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 9, 12)


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def post(client: APIClient, cast: Cast, text: str = WORK, **fields: Any) -> Any:
    file = SimpleUploadedFile("work.csv", text.encode(), "text/csv")
    form = {"farm": str(cast.ours.farm.pk), "file": file, **fields}
    return client.post(PATH, form, format="multipart")


def test_work_is_sent_looked_at_and_undone(cast: Cast, owner: APIClient) -> None:
    accepted = post(owner, cast, kind="task-logs")
    assert (accepted.json()["kind"], accepted.json()["series"]) == ("task-logs", "task-logs")
    assert jobs.run(Job.objects.get(kind="harvest-import").pk)
    landed = owner.get(accepted["Location"]).json()
    assert (landed["state"], landed["rows_added"]) == ("landed", 1), landed["explanation"]
    assert [row["kind"] for row in owner.get("/api/v1/task-logs").json()["results"]] == ["pruning"]
    undone = owner.post(f"{accepted['Location']}/undo")
    assert (undone.status_code, undone.json()["state"]) == (200, "undone")
    assert not TaskLog.objects.exists()


def test_an_import_is_of_weighings_unless_it_says_otherwise(cast: Cast, owner: APIClient) -> None:
    body = post(owner, cast).json()
    assert (body["kind"], body["series"]) == ("harvest-weights", "harvest")
    assert post(owner, cast, kind="sales").json()["errors"][0]["pointer"] == "/kind"


def test_the_kind_is_fixed(cast: Cast, owner: APIClient) -> None:
    sent = post(owner, cast, kind="task-logs")
    changed = owner.patch(sent["Location"], {"kind": "growth-stages"})
    assert (changed.status_code, changed.json()["errors"][0]["code"]) == (422, "fixed")


def test_imports_are_listed_by_kind(cast: Cast, owner: APIClient) -> None:
    post(owner, cast, kind="task-logs")
    post(owner, cast)
    listed = owner.get(PATH, {"kind": "task-logs"}).json()["results"]
    assert [one["kind"] for one in listed] == ["task-logs"]


@pytest.mark.parametrize(
    ("mapping", "status"),
    [({"Tag": "done_on"}, 201), ({"Tag": "picked_on"}, 400), ({"Tag": ""}, 201)],
)
def test_a_mapping_names_columns_of_its_kind(
    mapping: dict[str, str], status: int, cast: Cast, owner: APIClient
) -> None:
    body = {"farm": str(cast.ours.farm.pk), "kind": "task-logs", "mapping": mapping}
    made = owner.post(LAYOUTS, body)
    assert made.status_code == status, made.json()
    if status == 201:
        assert made.json()["series"] == "task-logs"
    else:
        assert made.json()["errors"][0]["pointer"] == "/mapping/Tag"


def test_layouts_of_two_kinds_may_share_a_series(cast: Cast, owner: APIClient) -> None:
    body = {"farm": str(cast.ours.farm.pk), "series": "2026"}
    kinds = ("task-logs", "growth-stages", "task-logs")
    made = [owner.post(LAYOUTS, {**body, "kind": kind}).status_code for kind in kinds]
    assert made == [201, 201, 422]


def test_a_replacement_is_of_weighings_alone(cast: Cast, owner: APIClient) -> None:
    refused = post(owner, cast, kind="task-logs", replaces="true")
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "/replaces"


def test_the_command_takes_any_kind(cast: Cast, tmp_path: Path) -> None:
    path = tmp_path / "work.csv"
    path.write_text(WORK)
    told = StringIO()
    options = ("--farm", "OURS", "--kind", "task-logs")
    call_command("import_harvest", str(path), *options, stdout=told)
    assert told.getvalue().startswith("landed: Of 1 rows: 1 added")
    assert TaskLog.objects.get().harvest_import.series == "task-logs"
