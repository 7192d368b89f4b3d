"""Workbooks, invitations, filled blocks and links to new passwords, on pages."""

import io
import re
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from records.models import Farm, FarmRole, Invitation, Membership, Tree
from tests.admin.conftest import enter
from tests.admin.pages import add_to, faults, list_of, page_of, row_of, sent, text_of
from tests.cast import Cast
from tests.importing.making import as_xlsx
from tests.records.workbooks import FARM, with_sheets

LINK = re.compile(r"http://127\.0\.0\.1:8000(/join/[0-9a-f]{32}-[\w-]{43})")
WORKBOOK = "/admin/records/farm/workbook/"


def upload(client: Client, sheets: Any, **values: Any) -> str:
    file = SimpleUploadedFile("farm.xlsx", as_xlsx(sheets))
    answer = client.post(WORKBOOK, {"file": file, **values})
    assert answer.status_code == 200
    return text_of(answer)


# Workbooks ---------------------------------------------------------------------------------------


def test_the_list_of_farms_leads_to_the_workbook(admin: Client, owner: Client, cast: Cast) -> None:
    for client in (admin, owner):
        assert WORKBOOK in client.get(list_of(Farm)).content.decode()
    assert WORKBOOK not in enter(cast.worker).get(list_of(Farm)).content.decode()


def test_a_dry_run_comes_first_and_shows_what_would_be(admin: Client) -> None:
    assert 'name="dry_run"' in admin.get(WORKBOOK).content.decode()
    text = upload(admin, FARM, dry_run="on")
    assert "Dry run: nothing was stored" in text
    assert "trees 300 0 0" in text
    assert not Farm.objects.filter(code="LANT").exists()


def test_problems_are_shown_as_a_table(admin: Client) -> None:
    sheets = with_sheets(trees=[["block", "rows", "positions"], ["N9", "1", "1"]])
    text = upload(admin, sheets)
    assert "Refused: nothing was stored" in text
    assert re.search(r"trees 2 block N9 refused There is no block \"N9\"\.", text)


def test_a_loaded_workbook_shows_the_links_of_its_invitations(admin: Client) -> None:
    found = LINK.search(upload(admin, FARM))
    assert found is not None
    assert Client().get(found[1]).status_code == 200


def test_what_is_no_workbook_is_told_at_the_file(admin: Client) -> None:
    answer = admin.post(WORKBOOK, {"file": SimpleUploadedFile("farm.csv", b"a,b\n")})
    assert "Send a workbook" in answer.context["form"].errors["file"][0]


def test_the_blank_workbook_can_be_fetched(admin: Client) -> None:
    answer = admin.get(f"{WORKBOOK}blank/")
    assert "trees" in openpyxl.load_workbook(io.BytesIO(answer.content)).sheetnames


def test_others_do_not_come_to_the_workbook(cast: Cast) -> None:
    for person in (cast.worker, cast.adviser):
        assert enter(person).get(WORKBOOK).status_code == 403
        assert enter(person).get(f"{WORKBOOK}blank/").status_code == 403
    assert Client().get(WORKBOOK).status_code == 302


# Invitations -------------------------------------------------------------------------------------


def invite(client: Client, **values: Any) -> str:
    """Make an invitation; what the page after it says."""
    answer = sent(client, add_to(Invitation), name="Ines Varela", **values)
    assert answer.status_code == 302, faults(answer)
    return text_of(client.get(answer["Location"]))


def test_the_link_is_shown_once(owner: Client, cast: Cast) -> None:
    shown = invite(owner, farm=str(cast.ours.farm.pk), role="worker")
    found = LINK.search(shown)
    assert found is not None
    assert "Copy the link" in shown
    assert Client().get(found[1]).status_code == 200
    again = [list_of(Invitation), page_of(Invitation.objects.get())]
    assert not any(LINK.search(owner.get(each).content.decode()) for each in again)


def test_staff_invite_colleagues_and_the_owner_of_a_bare_member(staff: Client, cast: Cast) -> None:
    assert LINK.search(invite(staff, co_op=str(cast.co_op.pk)))
    bare = Farm.objects.create(code="BARE", name="Bare farm", time_zone="UTC")
    Membership.objects.create(farm=bare, co_op=cast.co_op, starts_on="2026-01-01")
    assert LINK.search(invite(staff, farm=str(bare.pk), role="owner"))
    refused = sent(staff, add_to(Invitation), farm=str(bare.pk), role="worker")
    assert faults(refused) == {"__all__": ["You may not write there."]}
    assert Invitation.objects.count() == 2


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"farm": "neighbour", "role": "worker"}, "farm"),
        ({"farm": "ours", "role": ""}, "__all__"),
        ({"role": "worker"}, "__all__"),
        ({"farm": "ours", "role": "worker", "expires_at_0": "2020-01-01"}, "expires_at"),
        ({"farm": "ours", "role": "worker", "expires_at_0": "2199-01-01"}, "expires_at"),
    ],
)
def test_a_wrong_invitation_is_refused(
    owner: Client, cast: Cast, values: dict[str, str], field: str
) -> None:
    body = dict(values)
    if "farm" in body:
        body["farm"] = str(getattr(cast, body["farm"]).farm.pk)
    assert field in faults(sent(owner, add_to(Invitation), **body))
    assert not Invitation.objects.exists()


def test_invitations_are_revoked_and_made_anew_from_the_list(owner: Client, cast: Cast) -> None:
    first = LINK.search(invite(owner, farm=str(cast.ours.farm.pk), role="worker"))
    chosen = {"_selected_action": [str(Invitation.objects.get().pk)]}
    again = owner.post(list_of(Invitation), {"action": "resend", **chosen}, follow=True)
    second = LINK.search(text_of(again))
    assert first is not None
    assert second is not None
    assert [Client().get(each[1]).status_code for each in (first, second)] == [404, 200]
    revoked = owner.post(list_of(Invitation), {"action": "revoke", **chosen}, follow=True)
    assert "Invitations revoked: 1." in text_of(revoked)
    assert Client().get(second[1]).status_code == 404
    late = owner.post(list_of(Invitation), {"action": "resend", **chosen}, follow=True)
    assert "was accepted or revoked" in text_of(late)


def test_another_farms_invitation_is_not_revoked(owner: Client, cast: Cast) -> None:
    theirs = row_of(Invitation, cast.neighbour)
    owner.post(list_of(Invitation), {"action": "revoke", "_selected_action": [str(theirs.pk)]})
    theirs.refresh_from_db()
    assert theirs.revoked_at is None


# Filling a block ---------------------------------------------------------------------------------


def fill(client: Client, cast: Cast, **values: Any) -> Any:
    address = reverse("admin:records_block_fill", args=[cast.ours.block.pk])
    return client.post(address, {"rows": "2-3", "positions": "1-4", **values}, follow=True)


def test_a_block_is_filled_from_its_page(owner: Client, cast: Cast) -> None:
    address = reverse("admin:records_block_fill", args=[cast.ours.block.pk])
    assert address in owner.get(page_of(cast.ours.block)).content.decode()
    assert owner.get(address).status_code == 200
    answer = fill(owner, cast, cultivar=str(cast.ours.tree.cultivar_id), planted_on="2024-02-01")
    assert "Trees planted: 8." in text_of(answer)
    assert Tree.objects.filter(block=cast.ours.block).count() == 9


def test_a_taken_place_is_told_at_the_positions(owner: Client, cast: Cast) -> None:
    answer = fill(owner, cast, rows="1")
    assert "1/1" in answer.context["form"].errors["positions"][0]
    kept = fill(owner, cast, rows="1", keep_existing="on")
    assert "Trees planted: 3. 1 stood there already." in text_of(kept)


def test_rows_that_cannot_be_read_are_told(owner: Client, cast: Cast) -> None:
    assert "runs backwards" in fill(owner, cast, rows="6-1").context["form"].errors["rows"][0]


def test_who_may_not_change_the_block_does_not_fill_it(cast: Cast) -> None:
    for person in (cast.worker, cast.staff):
        assert fill(enter(person), cast).status_code == 403
    assert fill(enter(cast.neighbour.owner), cast).status_code == 404


# New passwords -----------------------------------------------------------------------------------


def hand_over(client: Client, person: Any) -> Any:
    return client.post(reverse("admin:records_person_password_link", args=[person.pk]))


def test_a_link_to_a_new_password_is_made_on_a_persons_page(owner: Client, cast: Cast) -> None:
    assert "Link to a new password" in owner.get(page_of(cast.worker)).content.decode()
    found = re.search(
        r"http://127\.0\.0\.1:8000(/password/\S+)", text_of(hand_over(owner, cast.worker))
    )
    assert found is not None
    form = Client().get(found[1], follow=True)
    assert "Keep this password" in form.content.decode()


def test_nobody_takes_over_an_account_that_opens_more(owner: Client, cast: Cast) -> None:
    FarmRole.objects.create(farm=cast.neighbour.farm, person=cast.worker, role="worker")
    assert "Link to a new password" not in owner.get(page_of(cast.worker)).content.decode()
    assert hand_over(owner, cast.worker).status_code == 403
    assert hand_over(owner, cast.neighbour.owner).status_code == 404
