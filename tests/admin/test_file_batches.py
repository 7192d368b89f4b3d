"""Several files sent on one page, their questions answered in place, and who has not sent."""

import datetime as dt
from io import BytesIO
from typing import Any
from uuid import uuid4
from zipfile import ZipFile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from records.models import BatchFile, FileBatch, HarvestImport, Membership
from tests.admin.conftest import enter
from tests.admin.pages import add_to, list_of, page_of, text_of
from tests.api.resources import make_farm
from tests.cast import Cast
from tests.records.sending import send

GOOD = b"Date,Block,Kilos\n2026-09-10,N1,20\n"


@pytest.fixture(autouse=True)
def after_the_picking(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 12, 1)


@pytest.fixture
def editor(cast: Cast, staff: Client) -> Client:
    """The browser of staff whom the member lets import."""
    Membership.objects.filter(pk=cast.membership.pk).update(staff_may_edit=True)
    return staff


def post(client: Client, *files: tuple[str, bytes], **fields: Any) -> Any:
    sheets = [SimpleUploadedFile(name, content) for name, content in files]
    page = client.get(add_to(FileBatch)).context["form"]
    form = {"id": page.initial["id"], "series": "harvest", "on_problem": "reject"}
    return client.post(add_to(FileBatch), {**form, "sheets": sheets, **fields}, follow=True)


def answer(client: Client, file: BatchFile, **body: str) -> Any:
    address = reverse("admin:records_filebatch_answer", args=[file.batch_id, file.pk])
    return client.post(address, body, follow=True)


def week_page(cast: Cast) -> str:
    return reverse("admin:records_coop_awaited_files", args=[cast.co_op.pk])


# Sending -----------------------------------------------------------------------------------------


def test_files_are_sent_on_one_page_and_listed_on_the_next(editor: Client, cast: Cast) -> None:
    stream = BytesIO()
    with ZipFile(stream, "w") as archive:
        archive.writestr("OURS/monday.csv", GOOD)
    page = post(editor, ("week.zip", stream.getvalue()), ("x.csv", GOOD), co_op=cast.co_op.pk)
    text = text_of(page)
    assert page.redirect_chain[-1][0] == page_of(FileBatch.objects.get())
    assert "week.zip/OURS/monday.csv OURS was started as an import" in text
    assert "x.csv - waits to be told its farm" in text
    started = HarvestImport.objects.get()
    assert page_of(started) in page.content.decode()
    assert FileBatch.objects.get().co_op == cast.co_op
    listed = text_of(editor.get(list_of(FileBatch)))
    assert "COOP" in listed


def test_batches_with_waiting_files_are_found(editor: Client) -> None:
    post(editor, ("x.csv", GOOD), ("y.csv", GOOD), ("OURS.csv", GOOD))
    post(editor, ("OURS 2.csv", GOOD))
    for query in ({"files__state__exact": "question"}, {"q": "y.csv"}):
        listed = editor.get(list_of(FileBatch), query).context["cl"].result_list
        assert [(batch.sent, batch.waiting) for batch in listed] == [(3, 2)]


def test_a_form_sent_twice_is_one_sending(editor: Client) -> None:
    key = str(uuid4())
    for _ in range(2):
        page = post(editor, ("OURS.csv", GOOD), id=key)
        assert page.redirect_chain[-1][0] == page_of(FileBatch.objects.get())
    assert HarvestImport.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("a.rar", b"Rar!", '"a.rar" cannot be unpacked here.'),
        ("a.zip", b"no zip", '"a.zip" cannot be unpacked here.'),
    ],
)
def test_what_cannot_be_taken_apart_is_told_at_the_form(
    name: str, content: bytes, told: str, editor: Client
) -> None:
    page = post(editor, ("OURS.csv", GOOD), (name, content))
    assert told in text_of(page)
    assert not FileBatch.objects.exists()


def test_nothing_sent_is_told_at_the_form(editor: Client) -> None:
    assert "This field is required." in text_of(post(editor))


def test_too_much_is_told_at_the_form(
    editor: Client, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.IMPORT_MAX_BYTES = 10
    assert "larger than 0 MB together" in text_of(post(editor, ("OURS.csv", GOOD)))
    monkeypatch.setattr("records.admin.batches.MAX_FILES", 1)
    files = [(f"{number}.csv", b"x") for number in range(2)]
    assert "more than 1 files" in text_of(post(editor, *files))
    assert not FileBatch.objects.exists()


def test_only_own_co_ops_are_offered(editor: Client, owner: Client, cast: Cast) -> None:
    offered = editor.get(add_to(FileBatch)).context["form"].fields["co_op"].queryset
    assert list(offered) == [cast.co_op]
    assert "co_op" not in owner.get(add_to(FileBatch)).context["form"].fields


def test_who_may_import_nowhere_sends_nothing(cast: Cast) -> None:
    assert enter(cast.adviser).get(add_to(FileBatch)).status_code == 403


# Answering ---------------------------------------------------------------------------------------


@pytest.fixture
def waiting(editor: Client, cast: Cast) -> BatchFile:
    post(editor, ("x.csv", GOOD), co_op=cast.co_op.pk)
    return BatchFile.objects.get()


def test_a_question_is_answered_in_place(editor: Client, waiting: BatchFile) -> None:
    page = answer(editor, waiting, farm="OURS")
    assert '"x.csv": Staff said that it is from OURS.' in text_of(page)
    assert HarvestImport.objects.get().farm.code == "OURS"
    assert "waits for no answer" in text_of(answer(editor, waiting, drop="1"))


def test_a_file_is_dropped_in_place(editor: Client, waiting: BatchFile) -> None:
    assert '"x.csv": Staff dropped it.' in text_of(answer(editor, waiting, drop="1"))
    assert not HarvestImport.objects.exists()


@pytest.mark.parametrize("code", ["NEXT", "", "nowhere", "OURS\0"])
def test_a_farm_that_is_not_seen_is_no_farm(code: str, editor: Client, waiting: BatchFile) -> None:
    page = answer(editor, waiting, farm=code)
    assert page.status_code in {200, 400}
    waiting.refresh_from_db()
    assert waiting.state == "question"


def test_staff_without_edit_terms_are_told(staff: Client, cast: Cast) -> None:
    page = post(staff, ("OURS.csv", GOOD), co_op=cast.co_op.pk)
    assert "You may not send files for this farm" in text_of(page)
    assert 'value="OURS"' not in page.content.decode()
    refused = answer(staff, BatchFile.objects.get(), farm="OURS")
    assert "You may not send files for OURS." in text_of(refused)
    assert not HarvestImport.objects.exists()


def test_others_neither_see_nor_answer(owner: Client, editor: Client, waiting: BatchFile) -> None:
    assert owner.get(page_of(waiting.batch)).status_code in {302, 403}
    assert answer(owner, waiting, drop="1").status_code == 404
    assert (
        editor.get(
            reverse("admin:records_filebatch_answer", args=[waiting.batch_id, waiting.pk])
        ).status_code
        == 405
    )
    waiting.refresh_from_db()
    assert waiting.state == "question"


def test_a_file_of_a_batch_is_shown_as_text(editor: Client) -> None:
    page = post(editor, ("<b>OURS</b>.csv", GOOD))
    assert "<b>OURS" not in page.content.decode()


def test_a_page_of_many_files_costs_as_many_queries_as_one_of_few(
    editor: Client, cast: Cast
) -> None:
    counts = []
    for number in (2, 40):
        files = [(f"{each} x.csv", GOOD + bytes([10])) for each in range(number - 1)]
        post(editor, ("OURS.csv", GOOD * number), *files, co_op=cast.co_op.pk)
        batch = FileBatch.objects.order_by("-id")[0]
        editor.get(page_of(batch))
        with CaptureQueriesContext(connection) as queries:
            assert editor.get(page_of(batch)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


# Who has not sent --------------------------------------------------------------------------------


def test_the_week_tells_who_has_sent_and_who_has_not(
    staff: Client, cast: Cast, settings: Any
) -> None:
    settings.AS_OF = None
    make_farm(cast.ours, 1)
    settings.AS_OF = dt.date(2026, 12, 1)
    send(cast.ours.farm, GOOD)
    settings.AS_OF = None  # what came, came today
    page = staff.get(week_page(cast))
    assert [(title, m.farm_code) for title, m, _ in page.context["rows"]] == [
        ("Sent", "OURS"),
        ("Not sent", "OURS-1"),
    ]
    text = text_of(page)
    assert "OURS Sent 1 1 20.000" in text
    assert "All 2" in text
    only = staff.get(week_page(cast), {"sent": "nothing"})
    assert [m.farm_code for _, m, _ in only.context["rows"]] == ["OURS-1"]
    before = staff.get(week_page(cast), {"week": str(page.context["previous"])})
    assert {title for title, _, _ in before.context["rows"]} == {"Not sent"}


def test_the_week_points_to_files_without_a_farm(
    editor: Client, cast: Cast, waiting: BatchFile
) -> None:
    assert "Files that wait to be told their farm: 1" in text_of(editor.get(week_page(cast)))


def test_a_week_that_is_none_shows_this_one(staff: Client, cast: Cast) -> None:
    found = [staff.get(week_page(cast), query) for query in ({"week": "2026-W99"}, {})]
    assert found[0].context["found"].week == found[1].context["found"].week


def test_the_week_is_for_the_co_ops_own_people(
    admin: Client, staff: Client, owner: Client, cast: Cast
) -> None:
    codes = [client.get(week_page(cast)).status_code for client in (admin, staff, owner)]
    assert codes == [200, 200, 403]
    theirs = Membership.objects.get(farm=cast.neighbour.farm).co_op
    address = reverse("admin:records_coop_awaited_files", args=[theirs.pk])
    assert staff.get(address).status_code == 403
    assert "This week" in text_of(staff.get(reverse("admin:records_coop_changelist")))


def test_a_batch_has_a_history_for_platform_admins(admin: Client, waiting: BatchFile) -> None:
    answer = admin.get(page_of(waiting.batch, "history"))
    assert answer.status_code == 200
    assert [line.action for line in answer.context["page"].lines] == ["created"]
