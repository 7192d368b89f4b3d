"""Findings in the web admin: what is decided there, and what is refused."""

from typing import Any

from django.test import Client

from planning.models import Finding
from records.models import HarvestWeight
from records.services import saving
from tests.admin.pages import list_of, page_of, row_of, text_of
from tests.cast import Cast


def act(client: Client, row: Any, action: str, **values: str) -> str:
    """Choose an action for one row of a list; what the page then says."""
    body = {"action": action, "_selected_action": [str(row.pk)], **values}
    return text_of(client.post(list_of(type(row)), body, follow=True))


def unit_of(finding: Finding) -> str:
    return HarvestWeight.objects.get(pk=finding.rows[0]["id"]).unit


def test_a_fix_is_applied_and_taken_back(owner: Client, cast: Cast) -> None:
    finding = row_of(Finding, cast.ours)
    assert "looks like pounds" in text_of(owner.get(page_of(finding)))
    assert "Noted for 1 of them" in act(owner, finding, "apply")
    assert unit_of(finding) == "lb"
    finding.refresh_from_db()
    assert (finding.state, finding.decided_by) == ("applied", str(cast.ours.owner))
    act(owner, finding, "reverse")
    assert unit_of(finding) == "kg"


def test_a_dismissal_needs_a_reason(owner: Client, cast: Cast) -> None:
    finding = row_of(Finding, cast.ours)
    assert "Say why nothing is wrong" in act(owner, finding, "dismiss")
    act(owner, finding, "dismiss", because="Lug boxes.")
    finding.refresh_from_db()
    assert (finding.state, finding.note) == ("dismissed", "Lug boxes.")


def test_a_row_changed_meanwhile_is_told(owner: Client, cast: Cast) -> None:
    finding = row_of(Finding, cast.ours)
    weight = HarvestWeight.objects.get(pk=finding.rows[0]["id"])
    weight.note = "windy"
    saving.save(weight)
    assert "was changed since" in act(owner, finding, "apply")
    assert unit_of(finding) == "kg"


def test_staff_decide_only_where_they_may_edit(staff: Client, cast: Cast) -> None:
    finding = row_of(Finding, cast.ours)
    assert "may not decide here" in act(staff, finding, "apply")
    assert unit_of(finding) == "kg"
    cast.membership.staff_may_edit = True
    cast.membership.save()
    act(staff, finding, "apply")
    assert unit_of(finding) == "lb"
