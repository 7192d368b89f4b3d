"""Pools in the web admin: written, looked at as a draft, issued, and then kept."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from planning.models import Pool, PoolDeduction, Statement
from records.models import CoOpGrade, HarvestWeight
from tests.admin.conftest import enter
from tests.admin.pages import add_to, faults, list_of, page_of, sent, text_of
from tests.api.resources import make
from tests.cast import Cast


@pytest.fixture
def pool(cast: Cast) -> Pool:
    pool: Pool = make("pools", cast.ours)
    HarvestWeight.objects.create(
        farm=cast.ours.farm,
        block=cast.ours.block,
        picked_on=pool.starts_on,
        net_g=100_000,
        weight=100,
        unit="kg",
        docket="D-1",
    )
    return pool


def draft_of(pool: Pool) -> str:
    return reverse("admin:planning_pool_draft", args=[pool.pk])


def entered(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "co_op": str(cast.co_op.pk),
        "name": "August",
        "starts_on": "2026-08-01",
        "ends_on": "2026-08-31",
        "currency": "EUR",
        "price_per_kg": "2.40",
        **changes,
    }


def deduction(**values: str) -> dict[str, str]:
    named = {"what_for": "Packing", "kind": "per-kilo", "rate": "0.15", **values}
    return {
        "deductions-TOTAL_FORMS": "1",
        **{f"deductions-0-{name}": value for name, value in named.items()},
    }


def test_staff_enter_a_pool_with_what_is_kept_back(staff: Client, cast: Cast) -> None:
    grade = CoOpGrade.objects.create(co_op=cast.co_op, code="I", is_marketable=True)
    body = entered(cast, paid_grades=[str(grade.pk)])
    answer = sent(staff, add_to(Pool), **body, **deduction(member=str(cast.ours.farm.pk)))
    assert answer.status_code == 302
    pool = Pool.objects.get()
    assert list(pool.grades.all()) == [grade]
    [kept_back] = pool.deductions.all()
    assert (kept_back.what_for, kept_back.member) == ("Packing", cast.ours.farm)
    assert sent(staff, page_of(pool), price_per_kg="2.50").status_code == 302
    pool.refresh_from_db()
    assert (str(pool.price_per_kg), list(pool.grades.all())) == ("2.5000", [grade])
    assert pool.deductions.get() == kept_back


REFUSED = [
    # What is entered, the field that is blamed.
    ({"price_per_kg": "0"}, "__all__"),
    ({"currency": "EURO"}, "currency"),
    ({"currency": "XXX"}, "currency"),
    ({"price_per_kg": "", "amount": "0.001"}, "amount"),
    ({"ends_on": "2026-07-01"}, "__all__"),
]


@pytest.mark.parametrize(("changes", "field"), REFUSED)
def test_a_slip_is_shown_in_the_form(
    changes: dict[str, Any], field: str, staff: Client, cast: Cast
) -> None:
    answer = sent(staff, add_to(Pool), **entered(cast, **changes))
    assert list(faults(answer)) == [field]
    assert not Pool.objects.exists()


def test_a_fault_of_a_deduction_leaves_nothing_half_written(staff: Client, cast: Cast) -> None:
    body = {**entered(cast), **deduction(kind="fixed", rate="0.005")}
    answer = sent(staff, add_to(Pool), **body)
    assert answer.status_code == 200
    assert "EUR has 2 decimals" in text_of(answer)
    assert not Pool.objects.exists()
    assert not PoolDeduction.objects.exists()


def test_staff_look_at_the_draft_and_issue_it(staff: Client, pool: Pool) -> None:
    assert draft_of(pool) in staff.get(page_of(pool)).content.decode()
    text = text_of(staff.get(draft_of(pool)))
    assert "OURS 1 100.000 240.00 0.00 0.00 0.00 240.00 240.00 0.00" in text
    assert "No money moves by this" in text
    assert not Statement.objects.exists()
    answer = staff.post(draft_of(pool), follow=True)
    assert "Statements issued: 1." in text_of(answer)
    assert draft_of(pool) not in answer.content.decode()
    assert Statement.objects.get().issued_by.email == "staff@co-op.example"


def test_a_pool_that_cannot_be_issued_says_why(staff: Client, cast: Cast) -> None:
    empty = make("pools", cast.ours)
    assert "No kilos of this pool can be paid" in text_of(staff.get(draft_of(empty)))
    answer = staff.post(draft_of(empty), follow=True)
    assert "No kilos of this pool can be paid" in text_of(answer)
    assert not Statement.objects.exists()


def test_an_issued_pool_lets_only_its_price_be_corrected(
    staff: Client, cast: Cast, pool: Pool
) -> None:
    graded = CoOpGrade.objects.create(co_op=cast.co_op, code="I", is_marketable=True)
    staff.post(draft_of(pool))
    pool.grade_links.create(co_op_grade=graded)
    entry = {"price_per_kg": "2.60", "name": "Renamed", "ends_on": "2026-12-31", "paid_grades": []}
    before = (pool.name, pool.ends_on)
    assert sent(staff, page_of(pool), **entry).status_code == 302
    pool.refresh_from_db()
    assert (str(pool.price_per_kg), pool.state) == ("2.6000", "issued")
    assert ((pool.name, pool.ends_on), list(pool.grades.all())) == (before, [graded])


def test_a_member_sees_its_statement_as_printed_and_no_pool(
    staff: Client, owner: Client, cast: Cast, pool: Pool
) -> None:
    staff.post(draft_of(pool))
    statement = Statement.objects.get()
    page = text_of(owner.get(page_of(statement)))
    assert "Statement OURS 1, issued" in page
    assert "D-1 N1 100.000 2.4 240.00" in page
    assert owner.get(list_of(Pool)).status_code == 403
    assert owner.get(add_to(Pool)).status_code == 403
    assert owner.get(draft_of(pool)).status_code == 404
    assert owner.post(draft_of(pool)).status_code == 404


def test_nobody_else_sees_a_statement(staff: Client, cast: Cast, pool: Pool) -> None:
    staff.post(draft_of(pool))
    page = page_of(Statement.objects.get())
    for person in (cast.worker, cast.adviser):
        assert enter(person).get(page).status_code == 403
    assert enter(cast.neighbour.owner).get(page).status_code == 302  # as if there were none
    assert Statement.objects.get().issued_at.date() >= dt.date(2026, 1, 1)
