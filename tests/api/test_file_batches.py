"""Several files or a ZIP in one step: matched, asked about, answered, never twice, never lost."""

import datetime as dt
from io import BytesIO
from typing import Any
from uuid import uuid4
from zipfile import ZipFile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from records import tasks  # noqa: F401 - registers the job that brings files in
from records.models import (
    BatchFile,
    Block,
    CoOpRole,
    Farm,
    FileBatch,
    HarvestImport,
    HarvestWeight,
    ImportFilePart,
    Job,
    Membership,
)
from records.services import jobs
from tests.api.resources import make_farm
from tests.cast import Cast, client_of, client_with, make_person

pytestmark = pytest.mark.django_db
PATH, FILES = "/api/v1/file-batches", "/api/v1/batch-files"
GOOD = b"Date,Block,Kilos\n2026-09-10,N1,20\n"


@pytest.fixture
def staff(cast: Cast) -> APIClient:
    """Staff of a co-op with two members, OURS and OURS-2, that let them import."""
    other = make_farm(cast.ours, 2)
    Block.objects.create(farm=other, code="N1")
    Membership.objects.filter(co_op=cast.co_op).update(staff_may_edit=True)
    return client_of(cast.staff)


def zip_of(entries: dict[str, bytes]) -> bytes:
    stream = BytesIO()
    with ZipFile(stream, "w") as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return stream.getvalue()


def sheet(kilos: int) -> bytes:
    return f"Date,Block,Kilos\n2026-09-10,N1,{kilos}\n".encode()


def post(client: APIClient, files: dict[str, bytes], **fields: Any) -> Any:
    sent = [SimpleUploadedFile(name, content) for name, content in files.items()]
    return client.post(PATH, {"file": sent, **fields}, format="multipart")


def posted(client: APIClient, files: dict[str, bytes], **fields: Any) -> Any:
    answer = post(client, files, **fields)
    assert answer.status_code == 202, answer.json()
    return answer.json()


def work_off() -> None:
    for job in Job.objects.filter(kind="harvest-import", state="waiting"):
        assert jobs.run(job.pk)


def states(batch: Any) -> dict[str, tuple[str, str | None]]:
    return {file["path"]: (file["state"], file["farm_code"]) for file in batch["files"]}


def answer(client: APIClient, file: Any, **body: Any) -> Any:
    return client.patch(f"{FILES}/{file['id']}", body)


# Matching ----------------------------------------------------------------------------------------


def test_every_file_is_listed_with_its_farm_or_a_question(cast: Cast, staff: APIClient) -> None:
    batch = posted(
        staff,
        {
            "week 37.zip": zip_of(
                {
                    "OURS/monday.csv": sheet(1),
                    "co-op/OURS-2/monday.csv": sheet(2),
                    "OURS 2 tuesday.csv": sheet(5),
                    "somebody.csv": sheet(3),
                    "__MACOSX/._somebody.csv": b"x",
                }
            ),
            "OURS 2026-09-14.csv": sheet(4),
        },
    )
    assert states(batch) == {
        "week 37.zip/OURS/monday.csv": ("started", "OURS"),
        "week 37.zip/co-op/OURS-2/monday.csv": ("started", "OURS-2"),
        "week 37.zip/OURS 2 tuesday.csv": ("question", None),
        "week 37.zip/somebody.csv": ("question", None),
        "week 37.zip/__MACOSX/._somebody.csv": ("ignored", None),
        "OURS 2026-09-14.csv": ("started", "OURS"),
    }
    first, _, similar, unknown, _, last = batch["files"]
    assert first["reason"] == "The folder has the code of OURS."
    assert last["reason"] == "The file name has the code or name of OURS."
    assert [(c["code"], c["may_send"]) for c in similar["candidates"]] == [
        ("OURS", True),
        ("OURS-2", True),
    ]
    assert unknown["reason"] == (
        "Neither the folder nor the name of the file says whose it is. "
        "Say which farm it is from, or drop it."
    )
    assert (batch["files_sent"], batch["files_waiting"]) == (6, 2)
    work_off()
    read = staff.get(f"{PATH}/{batch['id']}").json()
    assert [file["import_state"] for file in read["files"]] == [
        "landed",
        "landed",
        None,
        None,
        None,
        "landed",
    ]
    assert HarvestWeight.objects.count() == 2  # the later file of OURS corrects the same row
    assert staff.get(f"/api/v1/harvest-imports/{first['harvest_import']}").status_code == 200


def test_the_options_hold_for_every_import(cast: Cast, staff: APIClient) -> None:
    batch = posted(
        staff,
        {"OURS.csv": sheet(1) + b"2026-09-11,N9,2\n", "x.csv": sheet(2)},
        series="2026",
        on_problem="skip",
        dry_run="true",
    )
    answer(staff, batch["files"][1], farm=str(cast.ours.farm.pk))
    found = HarvestImport.objects.values_list("series", "on_problem", "dry_run")
    assert list(found) == [("2026", "skip", True)] * 2
    work_off()
    assert not HarvestWeight.objects.exists()


def test_a_name_that_landed_before_is_known_again(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {"Rui week 36.csv": sheet(1)})
    assert batch["files"][0]["state"] == "question"
    answer(staff, batch["files"][0], farm=str(cast.ours.farm.pk))
    assert posted(staff, {"Rui week 37.csv": sheet(2)})["files"][0]["state"] == "question"
    work_off()  # only what landed tells
    (file,) = posted(staff, {"Rui week 38.csv": sheet(3)})["files"]
    assert (file["state"], file["farm_code"]) == ("started", "OURS")
    assert file["reason"] == "Files of this name, but for digits and dates, landed for OURS."


def test_a_farmer_with_one_farm_needs_no_names(cast: Cast) -> None:
    batch = posted(client_of(cast.ours.owner), {"monday.csv": sheet(1), "b.csv": sheet(2)})
    assert set(states(batch).values()) == {("started", "OURS")}
    assert batch["co_op"] is None


def test_a_farmer_with_several_farms_is_asked(cast: Cast) -> None:
    make_farm(cast.ours, 7)
    batch = posted(client_of(cast.ours.owner), {"monday.csv": sheet(1)})
    assert batch["files"][0]["state"] == "question"


@pytest.mark.parametrize("scope", ["harvest:write", "records:write"])
def test_apps_send_too(scope: str, cast: Cast, staff: APIClient) -> None:
    of_farm = client_with(cast.ours.farm, scope)
    batch = posted(of_farm, {"monday.csv": sheet(1)})
    assert states(batch) == {"monday.csv": ("started", "OURS")}
    assert of_farm.get(f"{PATH}/{batch['id']}").status_code == 200
    of_co_op = posted(client_with(cast.co_op, scope), {"OURS.csv": sheet(2)})
    assert states(of_co_op) == {"OURS.csv": ("started", "OURS")}
    assert of_co_op["co_op"] == str(cast.co_op.pk)
    # What the co-op's app sent, its staff see.
    assert staff.get(f"{PATH}/{of_co_op['id']}").status_code == 200
    assert staff.get(f"{PATH}/{batch['id']}").status_code == 404


def test_a_platform_admin_sends_for_anyone(cast: Cast) -> None:
    batch = posted(client_of(cast.admin), {"OURS.csv": sheet(1), "NEXT.csv": sheet(2)})
    assert set(states(batch).values()) == {("started", "OURS"), ("started", "NEXT")}


def test_of_a_co_ops_files_only_its_members_are_thought_of(cast: Cast, staff: APIClient) -> None:
    batch = posted(client_of(cast.admin), {"NEXT.csv": sheet(2)}, co_op=str(cast.co_op.pk))
    assert batch["files"][0]["state"] == "question"
    refused = answer(client_of(cast.admin), batch["files"][0], farm=str(cast.neighbour.farm.pk))
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (422, "no-member")


def test_a_name_withheld_from_staff_tells_them_nothing(cast: Cast, staff: APIClient) -> None:
    Farm.objects.filter(pk=cast.ours.farm.pk).update(name="Quinta Verdelha")
    batch = posted(staff, {"Quinta Verdelha.csv": sheet(1)})
    assert batch["files"][0]["state"] == "question"
    assert batch["files"][0]["candidates"] == []
    Membership.objects.filter(pk=cast.membership.pk).update(shares="all")
    batch = posted(staff, {"quinta verdelha.csv": sheet(1)})
    assert states(batch) == {"quinta verdelha.csv": ("started", "OURS")}


def test_unicode_names_survive(cast: Cast, staff: APIClient) -> None:
    name = "OURS colheita São João 樹木.csv"
    batch = posted(staff, {name: sheet(1)})
    assert (batch["files"][0]["path"], batch["files"][0]["state"]) == (name, "started")
    assert HarvestImport.objects.get().file_name == name


def test_two_hundred_files_are_taken_at_once(cast: Cast, staff: APIClient) -> None:
    files = {f"OURS {number:03}.csv": sheet(number + 1) for number in range(200)}
    batch = posted(staff, files)
    assert len(batch["files"]) == 200
    assert {file["state"] for file in batch["files"]} == {"started"}
    assert [file["path"] for file in batch["files"]] == list(files)
    assert HarvestImport.objects.count() == 200


# Answering ---------------------------------------------------------------------------------------


def test_naming_the_farm_starts_the_import(cast: Cast, staff: APIClient) -> None:
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    told = answer(staff, file, farm=str(cast.ours.farm.pk))
    assert (told.status_code, told.json()["state"]) == (200, "started")
    assert told.json()["reason"] == "Staff said that it is from OURS."
    (part,) = ImportFilePart.objects.filter(file=told.json()["harvest_import"])
    assert bytes(part.content) == GOOD
    assert BatchFile.objects.get().content is None
    work_off()
    assert staff.get(f"{FILES}/{file['id']}").json()["import_state"] == "landed"


def test_a_file_is_dropped(cast: Cast, staff: APIClient) -> None:
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    assert answer(staff, file, state="dropped").json()["state"] == "dropped"
    assert BatchFile.objects.get().content is None
    assert not HarvestImport.objects.exists()


def test_the_same_answer_again_is_no_second_import(cast: Cast, staff: APIClient) -> None:
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    for _ in range(2):
        assert answer(staff, file, farm=str(cast.ours.farm.pk)).status_code == 200
    assert HarvestImport.objects.count() == 1
    other = Farm.objects.get(code="OURS-2")
    late = [answer(staff, file, farm=str(other.pk)), answer(staff, file, state="dropped")]
    assert [one.status_code for one in late] == [409, 409]
    assert late[0].json()["detail"] == (
        "The file waits for no answer: it was started as an import."
    )


def test_an_answer_to_an_older_version_is_stale(cast: Cast, staff: APIClient) -> None:
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    stale = staff.patch(f"{FILES}/{file['id']}", {"state": "dropped"}, headers={"If-Match": '"7"'})
    assert stale.status_code == 412


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"state": "started"}, "/state", "invalid-choice"),
        ({"state": "lost"}, "/state", "invalid-choice"),
        ({"farm": None}, "/farm", "null"),
        ({"reason": "x"}, "/reason", "unknown-field"),
        ({"id": str(uuid4())}, "/id", "fixed"),
    ],
)
def test_an_answer_that_is_none_is_refused(
    body: Any, pointer: str, code: str, cast: Cast, staff: APIClient
) -> None:
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    refused = answer(staff, file, **body)
    assert refused.status_code in {400, 422}
    assert [(e["pointer"], e["code"]) for e in refused.json()["errors"]] == [(pointer, code)]
    assert BatchFile.objects.get().state == "question"


def test_the_waiting_files_can_be_listed(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {"x.csv": GOOD, "OURS.csv": GOOD})
    query = {"state": "question", "batch": batch["id"], "co_op": str(cast.co_op.pk)}
    listed = staff.get(FILES, query).json()["results"]
    assert [file["path"] for file in listed] == ["x.csv"]
    assert staff.get(FILES, {"farm": str(cast.ours.farm.pk)}).json()["results"][0]["path"] == (
        "OURS.csv"
    )


# Terms -------------------------------------------------------------------------------------------


def test_staff_whom_a_member_lets_not_import_are_told_so(cast: Cast) -> None:
    staff = client_of(cast.staff)
    batch = posted(staff, {"OURS.csv": GOOD})
    (file,) = batch["files"]
    assert file["state"] == "question"
    assert file["reason"] == (
        "The file name has the code or name of OURS. "
        "You may not send files for this farm: say whose it is, or drop it."
    )
    assert [(c["code"], c["may_send"]) for c in file["candidates"]] == [("OURS", False)]
    refused = answer(staff, file, farm=str(cast.ours.farm.pk))
    assert (refused.status_code, refused.json()["code"]) == (403, "not-allowed")
    assert BatchFile.objects.get().state == "question"
    assert bytes(BatchFile.objects.get().content) == GOOD
    assert not HarvestImport.objects.exists()
    # Once the terms allow it, the same file goes in.
    Membership.objects.filter(pk=cast.membership.pk).update(staff_may_edit=True)
    assert answer(staff, file, farm=str(cast.ours.farm.pk)).status_code == 200


def test_a_batch_is_seen_by_its_sender_or_by_the_co_ops_staff(cast: Cast, staff: APIClient) -> None:
    colleague = make_person("colleague@co-op.example")
    CoOpRole.objects.create(person=colleague, co_op=cast.co_op)
    theirs = posted(staff, {"x.csv": GOOD})
    own = posted(client_of(cast.ours.owner), {"OURS.csv": GOOD})
    seen = {
        who: {row["id"] for row in client.get(PATH).json()["results"]}
        for who, client in (
            ("colleague", client_of(colleague)),
            ("owner", client_of(cast.ours.owner)),
            ("manager", client_of(cast.manager)),
            ("admin", client_of(cast.admin)),
        )
    }
    assert seen == {
        "colleague": {theirs["id"]},
        "owner": {own["id"]},
        "manager": set(),
        "admin": {theirs["id"], own["id"]},
    }
    (file,) = theirs["files"]
    assert answer(client_of(colleague), file, state="dropped").status_code == 200


def test_who_has_left_a_farm_sees_its_files_no_more(cast: Cast) -> None:
    make_farm(cast.ours, 7)
    owner = client_of(cast.ours.owner)
    batch = posted(owner, {"OURS.csv": GOOD, "x.csv": sheet(2)})
    cast.ours.owner.farm_roles.filter(farm=cast.ours.farm).update(ends_on=dt.date(2026, 9, 1))
    assert list(states(owner.get(f"{PATH}/{batch['id']}").json())) == ["x.csv"]
    assert owner.get(f"{FILES}/{batch['files'][0]['id']}").status_code == 404


def test_a_member_sends_not_in_the_co_ops_name(cast: Cast) -> None:
    refused = post(client_of(cast.ours.owner), {"OURS.csv": GOOD}, co_op=str(cast.co_op.pk))
    assert refused.status_code == 403
    assert not FileBatch.objects.exists()
    assert not HarvestImport.objects.exists()


# Twice -------------------------------------------------------------------------------------------


def test_what_has_landed_is_not_imported_again(cast: Cast, staff: APIClient) -> None:
    first = posted(staff, {"OURS.csv": GOOD})["files"][0]
    work_off()
    again = posted(staff, {"ours copy.csv": GOOD, "x.csv": GOOD})["files"]
    assert (again[0]["state"], again[0]["harvest_import"]) == (
        "already-sent",
        first["harvest_import"],
    )
    assert again[0]["reason"].endswith(
        "The same file was sent before, so it is not imported again."
    )
    told = answer(staff, again[1], farm=str(cast.ours.farm.pk)).json()
    assert told["state"] == "already-sent"
    assert HarvestImport.objects.count() == 1


def test_what_did_not_land_may_be_sent_again(cast: Cast, staff: APIClient) -> None:
    wrong = b"Date,Block,Kilos\n2026-09-10,N9,20\n"
    posted(staff, {"OURS.csv": wrong})
    work_off()
    assert posted(staff, {"OURS.csv": wrong})["files"][0]["state"] == "started"


def test_another_farms_equal_file_is_another_file(cast: Cast, staff: APIClient) -> None:
    posted(staff, {"OURS.csv": GOOD})
    work_off()
    (file,) = posted(staff, {"x.csv": GOOD})["files"]
    other = Farm.objects.get(code="OURS-2")
    assert answer(staff, file, farm=str(other.pk)).json()["state"] == "started"


def test_one_file_twice_in_a_batch_is_imported_once(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {"OURS a.csv": GOOD, "OURS b.csv": GOOD})
    assert [file["state"] for file in batch["files"]] == ["started", "already-sent"]
    assert len({file["harvest_import"] for file in batch["files"]}) == 1


def test_a_phone_that_sends_again_gets_the_same_batch(cast: Cast, staff: APIClient) -> None:
    key = str(uuid4())
    files = {"OURS.csv": GOOD, "x.csv": sheet(2)}
    first, again = post(staff, files, id=key), post(staff, files, id=key)
    assert (first.status_code, again.status_code) == (202, 200)
    assert first.json() == again.json()
    assert (FileBatch.objects.count(), HarvestImport.objects.count()) == (1, 1)
    other = post(staff, {"OURS.csv": GOOD, "x.csv": sheet(3)}, id=key)
    assert (other.status_code, other.json()["code"]) == (409, "id-taken")


def test_a_deleted_import_leaves_its_line_in_the_batch(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {"OURS.csv": GOOD})
    import_id = batch["files"][0]["harvest_import"]
    assert staff.delete(f"/api/v1/harvest-imports/{import_id}").status_code == 204
    (file,) = staff.get(f"{PATH}/{batch['id']}").json()["files"]
    assert (file["state"], file["harvest_import"], file["import_state"]) == ("started", None, None)


# Refusals ----------------------------------------------------------------------------------------


def test_a_zip_that_cannot_be_taken_apart_leaves_nothing(cast: Cast, staff: APIClient) -> None:
    nested = zip_of({"OURS/inner.zip": zip_of({"a.csv": GOOD})})
    refused = post(staff, {"OURS.csv": GOOD, "all.zip": nested})
    assert (refused.status_code, refused.json()["code"]) == (422, "rule-broken")
    (error,) = refused.json()["errors"]
    assert (error["pointer"], error["code"]) == ("/file/1", "nested-archive")
    assert not FileBatch.objects.exists()
    assert not HarvestImport.objects.exists()


def test_too_much_is_refused_with_413(
    cast: Cast, staff: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("records.importing.archives.MAX_UNPACKED_BYTES", 100)
    refused = post(staff, {"all.zip": zip_of({"a.csv": b"x" * 101})})
    assert (refused.status_code, refused.json()["code"]) == (413, "body-too-large")


def test_a_body_that_is_far_too_large_is_refused_by_its_length(
    cast: Cast, staff: APIClient, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.IMPORT_MAX_BYTES = 100
    monkeypatch.setattr("rest_framework.parsers.MultiPartParser.parse", None)
    refused = post(staff, {"a.csv": b"x" * (2**20 + 101)})
    assert (refused.status_code, refused.json()["code"]) == (413, "body-too-large")


@pytest.mark.parametrize("number", [501, 1001])
def test_too_many_files_are_refused(number: int, cast: Cast, staff: APIClient) -> None:
    refused = post(staff, {f"{n}.csv": b"x" for n in range(number)})
    assert refused.status_code in {400, 422}
    assert "more than 500 files" in refused.json()["detail"]


@pytest.mark.parametrize(
    ("fields", "pointer", "code"),
    [
        ({"file": []}, "/file", "required"),
        ({"file": "no file"}, "/file/0", "invalid"),
        ({"series": ["a", "b"]}, "/series", "invalid"),
        ({"on_problem": "shrug"}, "/on_problem", "invalid-choice"),
        ({"colour": "red"}, "/colour", "unknown-field"),
        ({"co_op": str(uuid4())}, "/co_op", "does-not-exist"),
    ],
)
def test_a_form_that_does_not_fit_is_refused(
    fields: Any, pointer: str, code: str, cast: Cast, staff: APIClient
) -> None:
    form = {"file": [SimpleUploadedFile("OURS.csv", GOOD)], **fields}
    refused = staff.post(PATH, form, format="multipart")
    assert refused.status_code in {400, 422}, refused.json()
    assert (pointer, code) in [(e["pointer"], e["code"]) for e in refused.json()["errors"]]
    assert not FileBatch.objects.exists()


def test_a_batch_of_litter_only_is_kept_and_says_so(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {".DS_Store": b"x"})
    assert (batch["files"][0]["state"], batch["files_waiting"]) == ("ignored", 0)


def test_an_empty_file_gets_its_imports_answer(cast: Cast, staff: APIClient) -> None:
    batch = posted(staff, {"OURS.csv": b""})
    work_off()
    (file,) = staff.get(f"{PATH}/{batch['id']}").json()["files"]
    assert file["import_state"] == "refused"
    assert file["import_explanation"] == "The file is empty. Send the sheet with its rows."
