"""What people decide about tasks and alerts in the web admin, and rules edited there."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client

from planning.models import Alert, NextTask, TaskRule
from tests.admin.pages import add_to, faults, list_of, page_of, row_of, sent, text_of
from tests.cast import Cast


@pytest.fixture(autouse=True)
def _in_december(settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 12, 1)


def act(client: Client, row: Any, action: str, **values: str) -> str:
    """Choose an action for one row of a list; what the page then says."""
    body = {"action": action, "_selected_action": [str(row.pk)], **values}
    return text_of(client.post(list_of(type(row)), body, follow=True))


def test_a_task_is_skipped_and_taken_up_again(owner: Client, cast: Cast) -> None:
    task = row_of(NextTask, cast.ours)
    assert "Give the reason" in act(owner, task, "skip")
    assert "Noted for 1 of them" in act(owner, task, "skip", because="Hail.")
    task.refresh_from_db()
    assert (task.state, task.skipped_because) == ("skipped", "Hail.")
    act(owner, task, "take_up")
    task.refresh_from_db()
    assert task.state == "missed"


def test_a_task_is_given_to_a_person_of_the_farm(owner: Client, cast: Cast) -> None:
    task = row_of(NextTask, cast.ours)
    act(owner, task, "give_to", person=cast.worker.email)
    task.refresh_from_db()
    assert task.assigned_to == [cast.worker.pk]
    stranger = act(owner, task, "give_to", person=cast.neighbour.owner.email)
    assert "Nobody with the address" in stranger
    act(owner, task, "give_to")
    task.refresh_from_db()
    assert task.assigned_to == []


def test_an_alert_is_acknowledged_and_snoozed(owner: Client, cast: Cast) -> None:
    alert = row_of(Alert, cast.ours)
    act(owner, alert, "acknowledge")
    alert.refresh_from_db()
    assert (alert.state, alert.acknowledged_by) == ("acknowledged", "Owner")
    assert "Give the day" in act(owner, alert, "snooze", until="soon")
    assert "is not ahead" in act(owner, alert, "snooze", until="2026-12-01")
    act(owner, alert, "snooze", until="2026-12-09")
    alert.refresh_from_db()
    assert alert.snoozed_until == dt.date(2026, 12, 9)


def test_staff_of_a_co_op_decide_nothing(staff: Client, cast: Cast) -> None:
    cast.membership.shares = "all"
    cast.membership.save()
    task = row_of(NextTask, cast.ours)
    assert "Pruning" in text_of(staff.get(list_of(NextTask)))
    act(staff, task, "skip", because="Hail.")
    task.refresh_from_db()
    assert task.state == "missed"


def test_a_rule_is_added_and_refused_at_its_field(owner: Client, cast: Cast) -> None:
    values = {
        "farm": str(cast.ours.farm.pk),
        "code": "weeding",
        "kind": "weeding",
        "title": "Weeding",
        "noun": "weeding",
        "is_active": "on",
        "trigger": "dates",
        "opens_on_day": "04-01",
        "best_on_day": "04-31",
        "closes_on_day": "05-10",
        "because": "Before the weeds seed.",
    }
    refused = sent(owner, add_to(TaskRule), **values)
    assert list(faults(refused)) == ["best_on_day"]
    sent(owner, add_to(TaskRule), **{**values, "best_on_day": "04-15"})
    rule = TaskRule.objects.get(code="weeding")
    assert (rule.origin, rule.source) == ("own", "The farm's own rule.")
    sent(owner, page_of(rule), best_on_day="04-20")
    rule.refresh_from_db()
    assert rule.best_on_day == "04-20"
