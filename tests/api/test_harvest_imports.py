"""Members' files over the API: sent, looked at, answered, undone."""

import csv
import datetime as dt
import json
from io import StringIO
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from rest_framework.test import APIClient

from records import tasks  # noqa: F401 - registers the job that brings files in
from records.models import FileLayout, HarvestImport, HarvestWeight, Job
from records.services import jobs
from tests.cast import Cast, Place, client_of, client_with

pytestmark = pytest.mark.django_db
PATH = "/api/v1/harvest-imports"

GOOD = "Date,Block,Kilos\n2026-09-10,N1,20\n2026-09-11,N1,21\n"
UNCLEAR = "Date,Block,Kilos\n03/04/2026,N1,20\n"
WRONG = GOOD + "2026-09-12,N9,22\n2026-09-13,=N1,-4\n"


@pytest.fixture
def owner(cast: Cast) -> APIClient:
    return client_of(cast.ours.owner)


def form_of(place: Place, text: str | bytes = GOOD, *, name: str = "a.csv", **fields: Any) -> Any:
    content = text if isinstance(text, bytes) else text.encode()
    file = SimpleUploadedFile(name, content, "text/csv")
    return {"farm": str(place.farm.pk), "file": file, **fields}


def post(client: APIClient, place: Place, text: str | bytes = GOOD, **fields: Any) -> Any:
    return client.post(PATH, form_of(place, text, **fields), format="multipart")


def work_off() -> None:
    for job in Job.objects.filter(kind="harvest-import", state="waiting"):
        assert jobs.run(job.pk)


def brought_in(client: APIClient, place: Place, text: str | bytes = GOOD, **fields: Any) -> Any:
    """The import as it is once a worker has done its job."""
    accepted = post(client, place, text, **fields)
    assert accepted.status_code == 202, accepted.json()
    work_off()
    return client.get(accepted["Location"]).json()


# Sending -----------------------------------------------------------------------------------------


def test_a_file_is_accepted_and_then_lands(cast: Cast, owner: APIClient) -> None:
    accepted = post(owner, cast.ours)
    body = accepted.json()
    assert accepted.status_code == 202
    assert accepted["Location"] == f"{PATH}/{body['id']}"
    assert accepted["ETag"] == '"1"'
    assert (body["state"], body["progress"], body["found"]) == ("received", 0, None)
    assert (body["series"], body["on_problem"], body["dry_run"]) == ("harvest", "reject", False)
    assert (body["file_name"], body["rows_added"]) == ("a.csv", None)
    assert not HarvestWeight.objects.exists()
    work_off()
    landed = owner.get(accepted["Location"]).json()
    assert (landed["state"], landed["progress"]) == ("landed", 100)
    assert [landed[f"rows_{name}"] for name in ("read", "added", "changed", "unchanged")] == [
        2,
        2,
        0,
        0,
    ]
    assert [landed[f"rows_{name}"] for name in ("retired", "refused", "warned")] == [0, 0, 0]
    assert landed["explanation"] == "Of 2 rows: 2 added, 0 changed, 0 unchanged, 0 refused."
    assert landed["found"]["headings"][2] == {"heading": "Kilos", "column": "weight", "unit": "kg"}
    assert landed["finished_at"] is not None


def test_the_rows_of_an_import_can_be_listed(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    listed = owner.get("/api/v1/harvest-weights", {"harvest_import": landed["id"]}).json()
    assert [row["net_kg"] for row in listed["results"]] == [20, 21]
    history = owner.get("/api/v1/history", {"farm": cast.ours.farm.pk, "kind": "harvest-weights"})
    made_by = [change["made_by"] for change in history.json()["results"]]
    assert [one["harvest_import"] for one in made_by] == [landed["id"]] * 2
    assert {one["by"] for one in made_by} == {str(cast.ours.owner)}


def test_options_are_taken_from_the_form(cast: Cast, owner: APIClient) -> None:
    text = "Picked\tBlock\tWeight\n03/04/2026\tN1\t1.234\n"
    body = brought_in(
        owner,
        cast.ours,
        text.encode("utf-16"),
        series="2026",
        encoding="utf-16",
        delimiter="\t",
        mapping=json.dumps({"Picked": "picked_on"}),
        date_order="month-day-year",
        decimal_mark=",",
        unit="lb",
        on_problem="skip",
        dry_run="true",
    )
    assert (body["state"], body["rows_added"]) == ("checked", 1)
    assert (body["series"], body["delimiter"], body["mapping"]) == (
        "2026",
        "\t",
        {"Picked": "picked_on"},
    )


@pytest.mark.parametrize(
    ("fields", "pointer", "code"),
    [
        ({"colour": "red"}, "/colour", "unknown-field"),
        ({"state": "landed"}, "/state", "unknown-field"),
        ({"decimal_mark": "x"}, "/decimal_mark", "invalid-choice"),
        ({"date_order": "whenever"}, "/date_order", "invalid-choice"),
        ({"unit": "stone"}, "/unit", "invalid-choice"),
        ({"delimiter": "x"}, "/delimiter", "invalid-choice"),
        ({"on_problem": "shrug"}, "/on_problem", "invalid-choice"),
        ({"dry_run": "perhaps"}, "/dry_run", "invalid"),
        ({"series": "s" * 61}, "/series", "max-length"),
        ({"sheet": "a\0b"}, "/sheet", "null-characters-not-allowed"),
        ({"id": "no-uuid"}, "/id", "invalid"),
        ({"farm": "no-uuid"}, "/farm", "invalid"),
        ({"mapping": "{"}, "/mapping", "invalid"),
        ({"mapping": "[]"}, "/mapping", "not-a-dict"),
        ({"mapping": '{"Picked": "no_column"}'}, "/mapping/Picked", "invalid-choice"),
        ({"mapping": '{"a\\u0000b": "note"}'}, "/mapping", "invalid"),
        ({"mapping": json.dumps({f"h{n}": "note" for n in range(201)})}, "/mapping", "max-length"),
        ({"series": ["one", "two"]}, "/series", "invalid"),
        ({"file": "no file"}, "/file", "invalid"),
        ({"file": SimpleUploadedFile("a.csv", b"")}, "/file", "empty"),
    ],
)
def test_a_form_that_does_not_fit_is_refused(
    cast: Cast, owner: APIClient, fields: dict[str, Any], pointer: str, code: str
) -> None:
    answer = owner.post(PATH, {**form_of(cast.ours), **fields}, format="multipart")
    assert answer.status_code == 400, answer.json()
    assert (pointer, code) in [(e["pointer"], e["code"]) for e in answer.json()["errors"]]
    assert not HarvestImport.objects.exists()


def test_a_file_is_needed(cast: Cast, owner: APIClient) -> None:
    answer = owner.post(PATH, {"farm": str(cast.ours.farm.pk)}, format="multipart")
    assert answer.status_code == 400
    assert answer.json()["errors"][0] == {
        "pointer": "/file",
        "code": "required",
        "detail": "No file was submitted.",
    }


def test_json_is_no_way_to_send_a_file(cast: Cast, owner: APIClient) -> None:
    answer = owner.post(PATH, {"farm": str(cast.ours.farm.pk)}, format="json")
    assert (answer.status_code, answer.json()["code"]) == (415, "media-type-unknown")


def test_a_broken_form_is_refused(owner: APIClient) -> None:
    answer = owner.post(PATH, b"--x\r\nnonsense", content_type="multipart/form-data")
    assert (answer.status_code, answer.json()["code"]) == (400, "invalid-request")


def test_a_file_that_is_too_large_is_not_read(cast: Cast, owner: APIClient, settings: Any) -> None:
    settings.IMPORT_MAX_BYTES = 100
    answer = post(owner, cast.ours, "x" * 101)
    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")
    assert not HarvestImport.objects.exists()


def test_a_body_that_is_far_too_large_is_refused_by_its_length(
    cast: Cast, owner: APIClient, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.IMPORT_MAX_BYTES = 100
    monkeypatch.setattr("rest_framework.parsers.MultiPartParser.parse", None)
    answer = post(owner, cast.ours, "x" * (2**20 + 101))
    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


def test_a_browsers_form_needs_its_csrf_token(cast: Cast) -> None:
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(cast.ours.owner)
    assert post(client, cast.ours).status_code == 403
    token = "a" * 32
    client.cookies["csrftoken"] = token
    body = encode_multipart(BOUNDARY, form_of(cast.ours))
    accepted = client.post(
        PATH, body, content_type=MULTIPART_CONTENT, headers={"X-CSRFToken": token}
    )
    assert accepted.status_code == 202


# The same again ----------------------------------------------------------------------------------


def test_the_same_create_again_answers_with_the_stored_import(cast: Cast, owner: APIClient) -> None:
    key = str(uuid4())
    assert post(owner, cast.ours, id=key).status_code == 202
    work_off()
    again = post(owner, cast.ours, id=key)
    assert (again.status_code, again.json()["state"]) == (200, "landed")
    assert HarvestImport.objects.count() == 1


@pytest.mark.parametrize(
    "changed", [{"text": GOOD + "\n"}, {"name": "b.csv"}, {"series": "other"}, {"dry_run": "true"}]
)
def test_the_same_id_with_other_content_is_a_clash(
    cast: Cast, owner: APIClient, changed: dict[str, Any]
) -> None:
    key = str(uuid4())
    post(owner, cast.ours, id=key)
    answer = post(owner, cast.ours, id=key, **changed)
    assert (answer.status_code, answer.json()["code"]) == (409, "id-taken")


# Questions ---------------------------------------------------------------------------------------


def test_a_question_is_answered_with_a_patch(cast: Cast, owner: APIClient) -> None:
    asked = brought_in(owner, cast.ours, UNCLEAR)
    assert asked["state"] == "question"
    [question] = asked["questions"]
    assert question["setting"] == "date_order"
    assert question["examples"] == [{"row": 2, "column": "Date", "value": "03/04/2026"}]
    path = f"{PATH}/{asked['id']}"
    accepted = owner.patch(path, {"date_order": "day-month-year", "remember": True})
    assert (accepted.status_code, accepted.json()["state"]) == (202, "received")
    assert (accepted.json()["questions"], accepted.json()["progress"]) == ([], 0)
    work_off()
    landed = owner.get(path).json()
    assert (landed["state"], landed["rows_added"]) == ("landed", 1)
    assert FileLayout.objects.get().date_order == "day-month-year"
    assert brought_in(owner, cast.ours, UNCLEAR)["rows_unchanged"] == 1


def test_a_patch_takes_options_and_nothing_else(cast: Cast, owner: APIClient) -> None:
    path = f"{PATH}/{brought_in(owner, cast.ours, UNCLEAR)['id']}"
    assert owner.patch(path, {"state": "landed"}).status_code == 400
    assert owner.patch(path, {"decimal_mark": "x"}).status_code == 400
    assert owner.patch(path, {"series": "other"}).json()["errors"][0]["code"] == "fixed"
    assert owner.patch(path, {"farm": str(cast.neighbour.farm.pk)}).status_code == 422
    sent_file = owner.patch(path, {"file": "x"})
    assert sent_file.status_code == 400


def test_a_stale_patch_is_refused(cast: Cast, owner: APIClient) -> None:
    path = f"{PATH}/{brought_in(owner, cast.ours, UNCLEAR)['id']}"
    stale = owner.patch(path, {"unit": "kg"}, headers={"If-Match": '"1"'})
    assert stale.status_code == 412
    fresh = owner.patch(path, {"unit": "kg"}, headers={"If-Match": owner.get(path)["ETag"]})
    assert fresh.status_code == 202


def test_what_is_being_read_or_has_landed_is_not_changed(cast: Cast, owner: APIClient) -> None:
    path = post(owner, cast.ours)["Location"]
    early = owner.patch(path, {"dry_run": True})
    assert (early.status_code, early.json()["code"]) == (409, "conflict")
    work_off()
    late = owner.patch(path, {"dry_run": True})
    assert (late.status_code, late.json()["code"]) == (409, "conflict")
    assert "landed" in late.json()["detail"]


# Progress ----------------------------------------------------------------------------------------


def test_progress_is_never_answered_with_not_modified(cast: Cast, owner: APIClient) -> None:
    path = post(owner, cast.ours)["Location"]
    known = {"If-None-Match": owner.get(path)["ETag"]}
    HarvestImport.objects.get().file.__class__.objects.update(progress=40)
    assert owner.get(path, headers=known).json()["progress"] == 40
    work_off()
    known = {"If-None-Match": owner.get(path)["ETag"]}
    assert owner.get(path, headers=known).status_code == 304


# Problems ----------------------------------------------------------------------------------------


def test_problems_are_told_row_by_row(cast: Cast, owner: APIClient) -> None:
    refused = brought_in(owner, cast.ours, WRONG)
    assert (refused["state"], refused["rows_refused"]) == ("refused", 2)
    page = owner.get(f"{PATH}/{refused['id']}/problems").json()
    assert page["next"] is None
    assert page["results"][0] == {
        "sheet": "",
        "row": 4,
        "column": "Block",
        "value": "N9",
        "detail": "The farm has no block of this code or name. Is it N1?",
        "code": "unknown-block",
        "is_warning": False,
    }
    assert [(row["row"], row["code"]) for row in page["results"]] == [
        (4, "unknown-block"),
        (5, "negative"),
    ]


def test_problems_come_in_pages_and_by_code(cast: Cast, owner: APIClient) -> None:
    rows = "".join(f"2026-09-12,N{n},22\n" for n in range(2, 9))
    path = f"{PATH}/{brought_in(owner, cast.ours, GOOD + rows)['id']}/problems"
    seen, page = [], owner.get(path, {"page_size": 3}).json()
    while True:
        seen += [row["row"] for row in page["results"]]
        if page["next"] is None:
            break
        page = owner.get(page["next"]).json()
    assert seen == list(range(4, 11))
    assert owner.get(path, {"code": "negative"}).json()["results"] == []
    assert len(owner.get(path, {"is_warning": "false"}).json()["results"]) == 7
    assert owner.get(path, {"colour": "red"}).status_code == 400


@pytest.mark.parametrize("how", [{"data": {"format": "csv"}}, {"headers": {"Accept": "text/csv"}}])
def test_problems_can_be_had_as_csv(cast: Cast, owner: APIClient, how: dict[str, Any]) -> None:
    text = GOOD + "2026-09-12,=N9,22\n"
    path = f"{PATH}/{brought_in(owner, cast.ours, text)['id']}/problems"
    answer = owner.get(path, **how)
    assert answer["Content-Type"].startswith("text/csv")
    rows = list(csv.DictReader(StringIO(answer.content.decode())))
    assert [(row["row"], row["column"], row["value"]) for row in rows] == [("4", "Block", "'=N9")]
    assert rows[0]["detail"].startswith("The farm has no block")


def test_an_import_that_is_not_there_has_no_problems(cast: Cast, owner: APIClient) -> None:
    theirs = brought_in(client_of(cast.neighbour.owner), cast.neighbour, WRONG)
    for key in (theirs["id"], uuid4()):
        assert owner.get(f"{PATH}/{key}/problems").status_code == 404


# Undo and delete ---------------------------------------------------------------------------------


def test_a_landed_import_is_undone(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    answer = owner.post(f"{PATH}/{landed['id']}/undo")
    assert (answer.status_code, answer.json()["state"]) == (200, "undone")
    assert not HarvestWeight.objects.exists()
    again = owner.post(f"{PATH}/{landed['id']}/undo")
    assert (again.status_code, again.json()["code"]) == (409, "conflict")
    assert owner.delete(f"{PATH}/{landed['id']}").status_code == 204


def test_an_import_whose_rows_were_touched_is_not_undone(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    touched = HarvestWeight.objects.earliest("pk")
    changed = owner.patch(f"/api/v1/harvest-weights/{touched.pk}", {"note": "weighed again"})
    assert changed.status_code == 200
    answer = owner.post(f"{PATH}/{landed['id']}/undo")
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert str(touched.pk) in answer.json()["detail"]
    assert HarvestWeight.objects.count() == 2


def test_undo_takes_no_body_and_heeds_the_version(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    path = f"{PATH}/{landed['id']}/undo"
    assert owner.post(path, {"colour": "red"}).status_code == 400
    assert owner.post(path, headers={"If-Match": '"1"'}).status_code == 412
    assert owner.post(path, {}).status_code == 200


def test_a_landed_import_is_not_deleted(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    answer = owner.delete(f"{PATH}/{landed['id']}")
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    refused = brought_in(owner, cast.ours, WRONG)
    assert owner.delete(f"{PATH}/{refused['id']}").status_code == 204
    assert owner.get(f"{PATH}/{refused['id']}").status_code == 404


def test_an_imported_weighing_can_be_deleted(cast: Cast, owner: APIClient) -> None:
    brought_in(owner, cast.ours)
    weight = HarvestWeight.objects.earliest("pk")
    assert owner.delete(f"/api/v1/harvest-weights/{weight.pk}").status_code == 204


# Who may -----------------------------------------------------------------------------------------


def test_people_of_the_farm_import_by_their_roles(cast: Cast) -> None:
    assert post(client_of(cast.manager), cast.ours).status_code == 202
    for nobody in (cast.worker, cast.adviser):
        answer = post(client_of(nobody), cast.ours)
        assert (answer.status_code, answer.json()["code"]) == (403, "not-allowed")
    assert post(client_of(cast.neighbour.owner), cast.ours).status_code == 422


def test_an_adviser_sees_imports_and_changes_none(cast: Cast, owner: APIClient) -> None:
    landed = brought_in(owner, cast.ours)
    adviser = client_of(cast.adviser)
    assert adviser.get(f"{PATH}/{landed['id']}").json()["state"] == "landed"
    assert adviser.post(f"{PATH}/{landed['id']}/undo").status_code == 403
    assert HarvestWeight.objects.count() == 2


def test_staff_import_where_the_membership_lets_them(cast: Cast) -> None:
    staff = client_of(cast.staff)
    assert post(staff, cast.ours).status_code == 403
    cast.membership.staff_may_edit = True
    cast.membership.save()
    body = brought_in(staff, cast.ours)
    assert (body["state"], body["co_op"]) == ("landed", str(cast.co_op.pk))
    assert post(staff, cast.neighbour).status_code == 422


def test_staff_are_bound_to_the_dates_of_the_membership(cast: Cast, owner: APIClient) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.starts_on = dt.date(2026, 9, 11)
    cast.membership.save()
    staff = client_of(cast.staff)
    refused = brought_in(staff, cast.ours)
    assert (refused["state"], refused["rows_refused"]) == ("refused", 1)
    [problem] = staff.get(f"{PATH}/{refused['id']}/problems").json()["results"]
    assert (problem["row"], problem["code"], problem["value"]) == (
        2,
        "outside-membership",
        "2026-09-10",
    )
    # The farm's owner starts it again and is not bound.
    assert owner.patch(f"{PATH}/{refused['id']}", {}).json()["co_op"] is None
    work_off()
    assert owner.get(f"{PATH}/{refused['id']}").json()["rows_added"] == 2


@pytest.mark.parametrize(
    ("scopes", "code"),
    [(["harvest:write"], 202), (["records:write"], 202), (["harvest:read"], 403)],
)
def test_apps_import_by_their_scopes(cast: Cast, scopes: list[str], code: int) -> None:
    assert post(client_with(cast.ours.farm, *scopes), cast.ours).status_code == code


def test_a_co_ops_app_is_bound_as_its_staff_are(cast: Cast) -> None:
    cast.membership.staff_may_edit = True
    cast.membership.save()
    body = brought_in(client_with(cast.co_op, "harvest:write"), cast.ours)
    assert (body["state"], UUID(body["co_op"])) == ("landed", cast.co_op.pk)


# File layouts ------------------------------------------------------------------------------------


def test_a_layout_is_kept_by_series(cast: Cast, owner: APIClient) -> None:
    path = "/api/v1/file-layouts"
    body = {
        "farm": str(cast.ours.farm.pk),
        "series": "peso",
        "mapping": {"Apanha": "picked_on"},
        "decimal_mark": ",",
    }
    made = owner.post(path, body)
    assert made.status_code == 201, made.json()
    assert made.json()["mapping"] == {"Apanha": "picked_on"}
    twice = owner.post(path, body)
    assert twice.json()["errors"][0]["code"] == "already-taken"
    wrong = owner.patch(made["Location"], {"mapping": {"Apanha": "harvest"}})
    assert wrong.status_code == 400
    text = "Apanha;Talhão;Kilos\n2026-09-10;N1;1.234\n"
    landed = brought_in(owner, cast.ours, text, series="peso")
    assert (landed["state"], landed["found"]["decimal_mark"]) == ("landed", ",")
    assert owner.delete(made["Location"]).status_code == 204


# Replacements ------------------------------------------------------------------------------------


def test_a_replacement_shows_its_changes_and_lands_when_confirmed(
    cast: Cast, owner: APIClient
) -> None:
    brought_in(owner, cast.ours)
    newer = "Date,Block,Kilos\n2026-09-10,N1,21\n2026-09-12,N1,5\n"
    shown = brought_in(owner, cast.ours, newer, replaces="true")
    assert (shown["state"], shown["dry_run"], shown["rows_retired"]) == ("checked", True, 1)
    assert shown["found"]["replaces_from"] == "2026-09-10"
    path = f"{PATH}/{shown['id']}"
    changes = owner.get(f"{path}/changes").json()["results"]
    assert [(one["kind"], one["row"]) for one in changes] == [
        ("changed", 2),
        ("added", 3),
        ("gone", None),
    ]
    assert (changes[0]["before"]["weight"], changes[0]["after"]["weight"]) == (20, 21)
    assert changes[0]["before"]["version"] == 1
    assert changes[2]["after"] is None
    page = owner.get(f"{path}/changes", {"kind": "gone", "page_size": 1}).json()
    assert ([one["kind"] for one in page["results"]], page["next"]) == (["gone"], None)
    assert owner.patch(path, {"dry_run": False}).status_code == 202
    work_off()
    assert owner.get(path).json()["state"] == "landed"


def test_changes_come_in_pages(cast: Cast, owner: APIClient) -> None:
    rows = "".join(f"2026-09-12,N1,{kg}\n" for kg in range(1, 8))
    sent = brought_in(owner, cast.ours, f"Date,Block,Kilos\n{rows}", replaces="true")
    seen, page = [], owner.get(f"{PATH}/{sent['id']}/changes", {"page_size": 3}).json()
    while True:
        seen += [row["row"] for row in page["results"]]
        if page["next"] is None:
            break
        page = owner.get(page["next"]).json()
    assert seen == list(range(2, 9))


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({"replaces": "true", "on_problem": "skip"}, "/on_problem"),
        ({"replaces_from": "2026-09-01"}, "/replaces"),
        (
            {"replaces": "true", "replaces_from": "2026-09-02", "replaces_until": "2026-09-01"},
            "/replaces_until",
        ),
    ],
)
def test_a_replacement_that_cannot_be_is_refused(
    cast: Cast, owner: APIClient, fields: dict[str, Any], pointer: str
) -> None:
    answer = owner.post(PATH, {**form_of(cast.ours), **fields}, format="multipart")
    assert answer.status_code == 422, answer.json()
    assert [e["pointer"] for e in answer.json()["errors"]] == [pointer]
    assert not HarvestImport.objects.exists()


def test_changes_of_anothers_import_are_not_there(cast: Cast, owner: APIClient) -> None:
    theirs = brought_in(client_of(cast.neighbour.owner), cast.neighbour, replaces="true")
    assert owner.get(f"{PATH}/{theirs['id']}/changes").status_code == 404
