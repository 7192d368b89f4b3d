"""Deciding about findings over the API: who may, what clashes, and several at once."""

from typing import Any

import pytest

from planning.models import Finding
from records.models import HarvestWeight, Membership
from records.services import saving
from tests.api.resources import make
from tests.cast import Cast, client_of, client_with

FINDINGS = "/api/v1/findings"


@pytest.fixture
def finding(cast: Cast) -> Finding:
    return make("findings", cast.ours)


def weight_of(finding: Finding) -> HarvestWeight:
    return HarvestWeight.objects.get(pk=finding.rows[0]["id"])


def decide(client: Any, finding: Finding, decision: str, **body: str) -> Any:
    return client.post(f"{FINDINGS}/{finding.pk}/{decision}", body)


def test_a_finding_says_what_it_is_about_and_how_it_is_put_right(
    cast: Cast, finding: Finding
) -> None:
    told = client_of(cast.ours.owner).get(f"{FINDINGS}/{finding.pk}").json()
    assert told["about"] == finding.rows
    assert told["fix"]["changes"][0]["set"] == {"unit": "lb"}
    assert told["fix"]["changes"][0]["from"] == {"unit": "kg"}
    assert (told["kind"], told["state"], told["farm_code"]) == ("unit-slip", "open", "OURS")
    assert told["effect_kg"] == 0


def test_a_fix_is_applied_and_reversed(cast: Cast, finding: Finding) -> None:
    client = client_of(cast.ours.owner)
    applied = decide(client, finding, "apply", note="asked the picker")
    assert applied.status_code == 200
    assert (applied.json()["state"], applied.json()["note"]) == ("applied", "asked the picker")
    assert applied.json()["decided_by"] == str(cast.ours.owner)
    assert applied.headers["ETag"] == f'"{applied.json()["version"]}"'
    assert weight_of(finding).unit == "lb"
    assert decide(client, finding, "apply").status_code == 409
    assert decide(client, finding, "reverse").json()["state"] == "reversed"
    assert weight_of(finding).unit == "kg"


def test_a_row_changed_meanwhile_is_a_conflict(cast: Cast, finding: Finding) -> None:
    weight = weight_of(finding)
    weight.note = "windy"
    saving.save(weight)
    answer = decide(client_of(cast.ours.owner), finding, "apply")
    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert "version 2" in answer.json()["detail"]
    assert weight_of(finding).unit == "kg"


def test_a_decision_heeds_the_version_that_was_read(cast: Cast, finding: Finding) -> None:
    client = client_of(cast.ours.owner)
    answer = client.post(f"{FINDINGS}/{finding.pk}/apply", {}, headers={"If-Match": '"7"'})
    assert answer.status_code == 412
    assert weight_of(finding).unit == "kg"


def test_a_dismissal_needs_a_note(cast: Cast, finding: Finding) -> None:
    client = client_of(cast.ours.owner)
    answer = decide(client, finding, "dismiss")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == "/note"
    assert decide(client, finding, "dismiss", note="lug boxes").json()["state"] == "dismissed"


def test_what_is_not_known_in_a_decision_is_refused(cast: Cast, finding: Finding) -> None:
    answer = decide(client_of(cast.ours.owner), finding, "apply", because="so")
    assert (answer.status_code, answer.json()["errors"][0]["code"]) == (400, "unknown-field")


def test_a_finding_without_a_fix_cannot_be_applied(cast: Cast, finding: Finding) -> None:
    Finding.objects.update(fix=None)
    answer = decide(client_of(cast.ours.owner), finding, "apply")
    assert answer.status_code == 422
    assert "no fix" in answer.json()["detail"]


# Who decides -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("owner", 200),
        ("manager", 200),
        ("worker", 404),  # sees none
        ("adviser", 403),  # sees all, writes no harvest
        ("staff", 403),
        ("editor", 200),
        ("neighbour", 404),
        ("reading app", 403),
        ("writing app", 200),
    ],
)
def test_who_writes_the_farms_weighings_decides(
    who: str, status: int, cast: Cast, finding: Finding
) -> None:
    people = {
        "owner": cast.ours.owner,
        "manager": cast.manager,
        "worker": cast.worker,
        "adviser": cast.adviser,
        "staff": cast.staff,
        "editor": cast.staff,
        "neighbour": cast.neighbour.owner,
    }
    Membership.objects.filter(pk=cast.membership.pk).update(staff_may_edit=who == "editor")
    scope = "harvest:read" if who == "reading app" else "harvest:write"
    client = client_of(people[who]) if who in people else client_with(cast.ours.farm, scope)
    for decision in ("apply", "reverse"):
        answer = decide(client, finding, decision)
        assert answer.status_code == status
    assert weight_of(finding).unit == "kg"


def test_staff_decide_within_the_days_of_membership(cast: Cast, finding: Finding) -> None:
    mine = Membership.objects.filter(pk=cast.membership.pk)
    mine.update(staff_may_edit=True, ends_on="2026-09-09")
    assert decide(client_of(cast.staff), finding, "apply").status_code == 404


def test_what_is_about_another_co_ops_intakes_is_not_seen(cast: Cast, finding: Finding) -> None:
    staff = client_of(cast.staff)
    assert len(staff.get(FINDINGS).json()["results"]) == 1
    other = make("co-ops", cast.ours)
    other.staff.all().delete()
    Finding.objects.update(co_op=other)
    assert staff.get(FINDINGS).json()["results"] == []
    assert len(client_of(cast.ours.owner).get(FINDINGS).json()["results"]) == 1


# Several at once ---------------------------------------------------------------------------------


def test_each_of_several_decisions_has_its_own_result(cast: Cast) -> None:
    good, stale, strange = (
        make("findings", place, number)
        for place, number in ((cast.ours, 1), (cast.ours, 2), (cast.neighbour, 3))
    )
    weight = weight_of(stale)
    weight.note = "windy"
    saving.save(weight)
    ids = [str(each.pk) for each in (good, stale, strange)]
    client = client_of(cast.ours.owner)
    answer = client.post(f"{FINDINGS}/decisions", {"decision": "apply", "ids": ids})
    assert answer.status_code == 200
    results = answer.json()["results"]
    assert [each["id"] for each in results] == ids
    assert [each["status"] for each in results] == [200, 409, 404]
    assert [each["state"] for each in results] == ["applied", None, None]
    assert results[0]["problem"] is None
    assert results[1]["problem"]["code"] == "conflict"
    assert weight_of(good).unit == "lb"
    assert weight_of(stale).unit == weight_of(strange).unit == "kg"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"decision": "apply", "ids": []}, "/ids"),
        ({"decision": "forget", "ids": ["00000000-0000-0000-0000-000000000000"]}, "/decision"),
        ({"decision": "apply", "ids": ["seven"]}, "/ids/0"),
        ({"ids": ["00000000-0000-0000-0000-000000000000"]}, "/decision"),
    ],
)
def test_several_decisions_are_checked_as_a_whole(
    body: dict[str, Any], pointer: str, cast: Cast
) -> None:
    answer = client_of(cast.ours.owner).post(f"{FINDINGS}/decisions", body)
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"] == pointer


# Lists -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "is_listed"),
    [
        ({"kind": "unit-slip"}, True),
        ({"kind": ["tenfold-slip", "unit-slip"]}, True),
        ({"kind": "swapped-date"}, False),
        ({"state": "open"}, True),
        ({"state": "applied"}, False),
        ({"season": "2026"}, True),
        ({"season": "2025"}, False),
        ({"about_on_after": "2026-09-10", "about_on_before": "2026-09-10"}, True),
        ({"about_on_after": "2026-09-11"}, False),
        ({"sure": "high"}, False),
    ],
)
def test_findings_are_filtered(
    query: dict[str, Any], is_listed: bool, cast: Cast, finding: Finding
) -> None:
    listed = client_of(cast.ours.owner).get(FINDINGS, query).json()["results"]
    assert bool(listed) is is_listed


def test_a_co_ops_findings_are_those_of_its_members(cast: Cast, finding: Finding) -> None:
    make("findings", cast.neighbour)
    admin, query = client_of(cast.admin), {"co_op": str(cast.co_op.pk)}
    assert len(admin.get(FINDINGS).json()["results"]) == 2
    [listed] = admin.get(FINDINGS, query).json()["results"]
    assert listed["id"] == str(finding.pk)
