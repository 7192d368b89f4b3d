"""Pools paid from real rows: which kilos, on which basis, once, and put right afterwards."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from django.db.models import F, Value
from django.db.models.functions import Concat
from django.test.utils import CaptureQueriesContext

from planning.models import Pool, Statement, StatementLine
from planning.services.settlement import draft, issue, printed_statement, save_pool
from records.models import Block, CoOp, CoOpGrade, Farm, Grade, GradeMapping, HarvestWeight
from tests.cast import make_cultivar
from tests.planning.ground import join_co_op, make_block, make_co_op, make_farm, receive, weigh
from tests.planning.pools import NOW, issued, keep_back, lines_of, make_pool, september

pytestmark = pytest.mark.django_db


@pytest.fixture
def co_op() -> CoOp:
    return make_co_op()


def member(co_op: CoOp, code: str = "BER", **joined: Any) -> Block:
    """A member's block."""
    farm = make_farm(code)
    join_co_op(farm, co_op, **joined)
    return make_block(farm)


@pytest.fixture
def block(co_op: CoOp) -> Block:
    return member(co_op)


def refusals(error: ValidationError) -> dict[str, list[str]]:
    return {field: [str(each.code) for each in found] for field, found in error.error_dict.items()}


def refusal(pool: Pool) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as refused:
        issue(pool, by=None, now=NOW)
    pool.refresh_from_db()
    assert pool.state == "draft"
    assert not Statement.objects.filter(pool=pool).exists()
    return refusals(refused.value)


# Which kilos -------------------------------------------------------------------------------------


def test_every_docket_line_is_on_the_statement(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 12.34, docket="D-1", cultivar=make_cultivar(), containers=2)
    weigh(block, "2026-08-04", 8.005, docket="D-2")
    statement = issued(make_pool(co_op))["BER"]
    assert lines_of(statement) == [("D-1", 2_962), ("D-2", 1_921)]
    assert (statement.payable_g, statement.gross_minor) == (20_345, 4_883)
    first = statement.lines.get(number=1)
    assert (first.block, first.cultivar, first.grade, first.basis) == (
        "N1",
        "Ondrela",
        "",
        "picked",
    )
    assert (first.containers, first.rate, first.day) == (2, Decimal("2.4"), dt.date(2026, 8, 3))


def test_neither_culls_nor_estimated_kilos_are_paid(co_op: CoOp, block: Block) -> None:
    cull = Grade.objects.create(farm=block.farm, code="C", is_marketable=False, cull_reason="split")
    weigh(block, "2026-08-03", 10, docket="ungraded")
    weigh(block, "2026-08-03", 5, grade=cull, docket="cull")
    weigh(block, "2026-08-03", containers=2, estimated_from_containers_g=24_000, docket="guessed")
    assert lines_of(issued(make_pool(co_op))["BER"]) == [("ungraded", 2_400)]


def test_only_days_of_the_pool_and_of_membership_count(co_op: CoOp) -> None:
    block = member(co_op, starts_on="2026-08-10", ends_on="2026-08-20")
    for day in ("2026-08-09", "2026-08-10", "2026-08-20", "2026-08-21"):
        weigh(block, day, 1, docket=day)
    shorter = make_pool(co_op, ends_on=dt.date(2026, 8, 19))
    assert lines_of(issued(shorter)["BER"]) == [("2026-08-10", 240)]


def test_a_pool_pays_for_its_cultivar_and_grades(co_op: CoOp, block: Block) -> None:
    first = CoOpGrade.objects.create(co_op=co_op, code="I", is_marketable=True)
    own = Grade.objects.create(farm=block.farm, code="EXTRA", is_marketable=True)
    other = Grade.objects.create(farm=block.farm, code="B", is_marketable=True)
    GradeMapping.objects.create(
        farm=block.farm, grade=own, co_op_grade=first, applies_from=dt.date(2026, 1, 1)
    )
    ondrela = make_cultivar()
    weigh(block, "2026-08-03", 1, docket="paid", grade=own, cultivar=ondrela)
    weigh(block, "2026-08-03", 1, docket="other grade", grade=other, cultivar=ondrela)
    weigh(block, "2026-08-03", 1, docket="ungraded", cultivar=ondrela)
    weigh(block, "2026-08-03", 1, docket="other", grade=own, cultivar=make_cultivar("Brumel"))
    statement = issued(make_pool(co_op, grades=[first], cultivar=ondrela))["BER"]
    assert lines_of(statement) == [("paid", 240)]
    assert statement.lines.get().grade == "I"
    by_species = make_pool(co_op, "All of it", species=ondrela.species)
    assert refusal(by_species) == {"starts_on": ["paid-already"]}


def test_members_are_paid_by_the_co_op_s_basis_or_what_stands_in(co_op: CoOp) -> None:
    co_op.basis = "packed"
    co_op.save()
    first = CoOpGrade.objects.create(co_op=co_op, code="I", is_marketable=True)
    sorting, receiving, weighing = (member(co_op, code) for code in ("BER", "HAD", "MAL"))
    for each in (sorting, receiving, weighing):
        weigh(each, "2026-08-03", 100, docket="weighed")
    receive(
        sorting.farm, "2026-08-04", 99, docket="S", sorted_kg={first: 90, "split": 5}, containers=7
    )
    receive(receiving.farm, "2026-08-04", 98, docket="R", containers=5)
    statements = issued(make_pool(co_op))
    assert {code: lines_of(row) for code, row in statements.items()} == {
        "BER": [("S", 21_600)],
        "HAD": [("R", 23_520)],
        "MAL": [("weighed", 24_000)],
    }
    assert [row.containers for row in statements.values()] == [7, 5, 0]


def test_containers_of_a_sorted_intake_are_counted_once(co_op: CoOp, block: Block) -> None:
    co_op.basis = "packed"
    co_op.save()
    grades = [CoOpGrade.objects.create(co_op=co_op, code=code, is_marketable=True) for code in "AB"]
    sorted_kg = {grades[0]: 20.0, grades[1]: 30.0}
    receive(block.farm, "2026-08-04", 50, docket="S", sorted_kg=sorted_kg, containers=4)
    pool = make_pool(co_op)
    keep_back(pool, "per-container", "0.50")
    statement = issued(pool)["BER"]
    found = {line.grade: line.containers for line in statement.lines.filter(kind="kilos")}
    assert found == {"A": None, "B": 4}
    assert statement.deductions_minor == -200


def test_an_amount_is_shared_to_the_cent(co_op: CoOp) -> None:
    for code in ("BER", "HAD", "MAL"):
        weigh(member(co_op, code), "2026-08-03", 7)
    pool = make_pool(co_op, amount=Decimal("100.00"))
    assert [row.gross_minor for row in issued(pool).values()] == [3_334, 3_333, 3_333]


# Deductions and balances -------------------------------------------------------------------------


def test_an_advance_above_the_payment_is_carried_to_the_next_statement(
    co_op: CoOp, block: Block
) -> None:
    weigh(block, "2026-08-03", 10, docket="D-1")
    weigh(block, "2026-09-03", 30, docket="D-2")
    august = make_pool(co_op)
    keep_back(august, "fixed", "50", member=block.farm, what_for="Advance of July")
    assert draft(august).notes == [
        "BER: more is kept back than is due. Nothing is paid, and 26.00 EUR are carried forward."
    ]
    first = issued(august)["BER"]
    assert (first.net_minor, first.to_pay_minor, first.carried_out_minor) == (-2_600, 0, -2_600)
    second = issued(september(co_op))["BER"]
    assert lines_of(second) == [("D-2", 7_200), ("Brought forward", -2_600)]
    assert second.lines.get(kind="carried-forward").adjusts_statement == first
    assert (second.number, second.to_pay_minor, second.carried_out_minor) == (2, 4_600, 0)


def test_another_currency_has_balances_of_its_own(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    weigh(block, "2026-09-03", 30)
    august = make_pool(co_op)
    keep_back(august, "fixed", "50")
    issued(august)
    yen = issued(september(co_op, currency="JPY", price_per_kg=Decimal(400)))["BER"]
    assert (yen.number, yen.carried_in_minor, yen.to_pay_minor) == (2, 0, 12_000)


# Issuing once ------------------------------------------------------------------------------------


def test_a_pool_is_issued_once(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    pool = make_pool(co_op)
    issued(pool)
    with pytest.raises(ValidationError) as refused:
        issue(pool, by=None, now=NOW)
    assert refusals(refused.value) == {"state": ["already-issued"]}
    assert Statement.objects.count() == 1


def test_a_pool_without_kilos_is_refused(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-09-03", 10)
    assert refusal(make_pool(co_op)) == {"starts_on": ["no-kilos"]}


def test_a_pool_without_a_price_is_refused(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    assert refusal(make_pool(co_op, price_per_kg=None)) == {"price_per_kg": ["price-missing"]}


def test_kilos_are_never_paid_by_two_pools(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-30", 10, docket="D-1")
    weigh(block, "2026-08-31", 10, docket="D-2")
    issued(make_pool(co_op))
    later = september(co_op, "Late August", starts_on=dt.date(2026, 8, 31))
    assert refusal(later) == {"starts_on": ["paid-already"]}
    assert [problem.text for problem in draft(later).problems] == [
        "Weighings or intakes that the pool August pays already: 1, the first of 2026-08-31 (docket"
        " D-2). Change the days, the fruit or the grades."
    ]


def test_the_same_fruit_is_not_paid_by_another_basis(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    receive(block.farm, "2026-08-03", 10)
    issued(make_pool(co_op))
    co_op.basis = "received"
    co_op.save()
    assert refusal(make_pool(co_op, "Again")) == {"starts_on": ["paid-by-another-basis"]}


def test_an_issued_pool_keeps_its_basis(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    receive(block.farm, "2026-08-03", 9)
    receive(block.farm, "2026-09-03", 5, docket="R")
    issued(make_pool(co_op))
    co_op.basis = "received"
    co_op.save()
    assert lines_of(issued(september(co_op))["BER"]) == [("R", 1_200)]


# Adjustments -------------------------------------------------------------------------------------


def change(docket: str, **values: Any) -> None:
    assert HarvestWeight.objects.filter(docket=docket).update(**values) == 1


def test_a_corrected_weight_is_put_right_on_the_next_statement(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10, docket="D-1")
    weigh(block, "2026-08-04", 20, docket="D-2")
    weigh(block, "2026-09-03", 1, docket="D-3")
    august = make_pool(co_op)
    keep_back(august, "per-kilo", "0.10", what_for="Packing")
    first = issued(august)["BER"]
    before = lines_of(first)
    change("D-2", net_g=15_000)
    second = issued(september(co_op))["BER"]
    assert lines_of(first) == before
    assert lines_of(second) == [("D-3", 240), ("D-2", -1_200), ("Packing, reckoned anew", 50)]
    adjustment = second.lines.get(docket="D-2")
    assert (adjustment.adjusts_statement, adjustment.adjusts_line) == (first, 2)
    assert (adjustment.grams, adjustment.pool) == (-5_000, august)
    assert second.adjustments_minor == -1_150


def test_what_was_put_right_is_not_put_right_again(co_op: CoOp, block: Block) -> None:
    for day, docket in (("2026-08-03", "D-1"), ("2026-09-03", "D-2"), ("2026-10-03", "D-3")):
        weigh(block, day, 10, docket=docket)
    issued(make_pool(co_op))
    change("D-1", net_g=15_000)
    issued(september(co_op))
    october = {"starts_on": dt.date(2026, 10, 1), "ends_on": dt.date(2026, 10, 31)}
    assert lines_of(issued(make_pool(co_op, "October", **october))["BER"]) == [("D-3", 2_400)]


def test_a_late_weighing_and_a_withdrawn_one_are_put_right(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10, docket="D-1")
    weigh(block, "2026-09-03", 1, docket="D-3")
    issued(make_pool(co_op))
    change("D-1", retired_on="2026-09-01")
    weigh(block, "2026-08-05", 4, docket="D-2")
    second = issued(september(co_op))["BER"]
    assert lines_of(second) == [("D-3", 240), ("D-2", 960), ("D-1", -2_400)]
    assert (second.to_pay_minor, second.carried_out_minor) == (0, -1_200)


def test_a_row_graded_anew_moves_from_one_pool_to_the_next(co_op: CoOp, block: Block) -> None:
    grades = {}
    for code in ("I", "II"):
        grades[code] = CoOpGrade.objects.create(co_op=co_op, code=code, is_marketable=True)
        own = Grade.objects.create(farm=block.farm, code=code, is_marketable=True)
        GradeMapping.objects.create(
            farm=block.farm, grade=own, co_op_grade=grades[code], applies_from=dt.date(2026, 1, 1)
        )
    first, second = Grade.objects.order_by("code")
    weigh(block, "2026-08-03", 10, docket="D-1", grade=first)
    weigh(block, "2026-08-03", 1, docket="D-2", grade=first)
    issued(make_pool(co_op, "First grade", [grades["I"]]))
    change("D-1", grade=second)
    cheaper = make_pool(co_op, "Second grade", [grades["II"]], price_per_kg=Decimal(1))
    assert lines_of(issued(cheaper)["BER"]) == [("D-1", 1_000), ("D-1", -2_400)]


def test_a_row_that_two_issued_pools_would_take_stays_with_the_first(
    co_op: CoOp, block: Block
) -> None:
    ondrela, brumel = make_cultivar(), make_cultivar("Brumel")
    weigh(block, "2026-08-03", 10, docket="D-1", cultivar=ondrela)
    weigh(block, "2026-08-03", 10, docket="D-2", cultivar=brumel)
    graded = CoOpGrade.objects.create(co_op=co_op, code="I", is_marketable=True)
    own = Grade.objects.create(farm=block.farm, code="A", is_marketable=True)
    GradeMapping.objects.create(
        farm=block.farm, grade=own, co_op_grade=graded, applies_from=dt.date(2026, 1, 1)
    )
    weigh(block, "2026-08-03", 10, docket="D-3", grade=own)
    issued(make_pool(co_op, "Ondrela", cultivar=ondrela))
    issued(make_pool(co_op, "First grade", [graded]))
    change("D-1", grade=own)  # now of both
    weigh(block, "2026-09-03", 1, docket="D-4")
    assert lines_of(issued(september(co_op))["BER"]) == [("D-4", 240)]


def test_a_new_price_of_an_issued_pool_is_put_right(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    weigh(block, "2026-09-03", 1, docket="D-2")
    august = make_pool(co_op)
    first = issued(august)["BER"]
    august.refresh_from_db()
    august.price_per_kg = Decimal("2.50")
    save_pool(august)
    second = issued(september(co_op))["BER"]
    assert lines_of(second) == [("D-2", 240), ("A kilo comes to 2.5 EUR instead of 2.4", 100)]
    assert second.lines.get(kind="adjustment").adjusts_statement == first


def test_a_correction_of_one_member_moves_the_shares_of_all(co_op: CoOp) -> None:
    for code in ("BER", "HAD"):
        own = member(co_op, code)
        weigh(own, "2026-08-03", 10, docket=code)
        weigh(own, "2026-09-03", 1)
    issued(make_pool(co_op, amount=Decimal("100.00")))
    change("BER", net_g=30_000)
    statements = issued(september(co_op))
    assert [row.adjustments_minor for row in statements.values()] == [2_500, -2_500]


def test_a_member_without_new_kilos_gets_its_adjustment_all_the_same(co_op: CoOp) -> None:
    weigh(member(co_op, "BER"), "2026-08-03", 10, docket="D-1")
    weigh(member(co_op, "HAD"), "2026-09-03", 10)
    issued(make_pool(co_op))
    change("D-1", net_g=11_000)
    statements = issued(september(co_op))
    assert lines_of(statements["BER"]) == [("D-1", 240)]
    assert (statements["BER"].payable_g, statements["BER"].to_pay_minor) == (0, 240)


# At size -----------------------------------------------------------------------------------------


def queries_of_an_issue(co_op: CoOp, codes: list[str], month: int) -> int:
    """Of a pool of these members, with an adjustment of each one's pool before."""
    for code in codes:
        farm = Farm.objects.filter(code=code).first()
        own = make_block(farm, f"B{month}") if farm else member(co_op, code)
        for day in (1, 2, 3):
            weigh(own, f"2026-{month:02}-{day:02}", 10)
    HarvestWeight.objects.filter(picked_on__month=month - 1).update(net_g=F("net_g") + 10)
    days = {"starts_on": dt.date(2026, month, 1), "ends_on": dt.date(2026, month, 28)}
    pool = make_pool(co_op, f"Pool {month}", **days)
    keep_back(pool, "per-kilo", "0.10")
    with CaptureQueriesContext(connection) as queries:
        issue(pool, by=None, now=NOW)
    assert pool.statements.count() == len(codes)
    return len(queries)


def test_an_issue_does_as_many_queries_for_many_members_as_for_two(co_op: CoOp) -> None:
    few, many = ["BER", "HAD"], ["BER", "HAD", *(f"M{n}" for n in range(8))]
    queries_of_an_issue(co_op, few, 5)
    of_few = queries_of_an_issue(co_op, few, 6)
    other = make_co_op(code="OTHER")
    Farm.objects.all().update(code=Concat("code", Value("-2")))
    queries_of_an_issue(other, many, 5)
    assert queries_of_an_issue(other, many, 6) == of_few


# For good ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("model", [Statement, StatementLine], ids=lambda model: model.__name__)
def test_what_was_issued_cannot_be_changed_even_in_sql(
    model: type[Any], co_op: CoOp, block: Block
) -> None:
    weigh(block, "2026-08-03", 10)
    issued(make_pool(co_op))
    table = model._meta.db_table
    before = list(model.objects.values())
    changes = "amount_minor = 1" if model is StatementLine else "number = 9"
    for statement in (f"UPDATE {table} SET {changes}", f"DELETE FROM {table}"):
        with (
            pytest.raises(DatabaseError, match="Cannot update or delete"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(statement)
    assert list(model.objects.values()) == before


def test_an_issued_pool_keeps_what_its_statements_say(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    pool = make_pool(co_op)
    issued(pool)
    pool.refresh_from_db()
    pool.ends_on = dt.date(2026, 9, 30)
    with pytest.raises(ValidationError) as refused:
        save_pool(pool)
    assert refusals(refused.value) == {"ends_on": ["fixed"]}


def test_a_draft_stores_nothing_and_says_the_same_twice(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10)
    pool = make_pool(co_op)
    first, second = draft(pool), draft(pool)
    assert [each.lines for each in first.statements] == [each.lines for each in second.statements]
    assert not Statement.objects.exists()
    assert [row.net_minor for row in issued(pool).values()] == [first.totals.net_minor]


def test_names_stay_as_they_were_on_the_day(co_op: CoOp, block: Block) -> None:
    weigh(block, "2026-08-03", 10, docket="D-1")
    statement = issued(make_pool(co_op))["BER"]
    before = printed_statement(statement)
    Farm.objects.filter(pk=block.farm_id).update(code="NEW", name="Renamed")
    Block.objects.filter(pk=block.pk).update(code="N9")
    statement.refresh_from_db()
    assert printed_statement(statement) == before
    assert before[0].endswith("Statement BER 1, issued 2026-11-20")
    assert before[1].startswith("BER BER ")


REFUSED = [
    # What a deduction says, and what is refused of it.
    ({"kind": "fixed", "rate": Decimal("0.005")}, {"rate": ["not-payable"]}),
    ({"member": "stranger"}, {"member": ["no-member"]}),
]


@pytest.mark.parametrize(("changes", "expected"), REFUSED)
def test_a_deduction_that_cannot_be_is_refused(
    changes: dict[str, Any], expected: dict[str, list[str]], co_op: CoOp
) -> None:
    if "member" in changes:
        changes = {"member": make_farm("FAR")}
    pool = make_pool(co_op)
    with pytest.raises(ValidationError) as refused:
        keep_back(pool, **{"kind": "per-kilo", "rate": "1", **changes})
    assert refusals(refused.value) == expected
    assert not pool.deductions.exists()


def test_grades_of_a_pool_are_the_co_op_s_and_marketable(co_op: CoOp) -> None:
    cull = CoOpGrade.objects.create(co_op=co_op, code="X", is_marketable=False)
    elsewhere = CoOpGrade.objects.create(
        co_op=make_co_op(code="ELSE"), code="I", is_marketable=True
    )
    for grade, code in ((cull, "cull"), (elsewhere, "other-co-op")):
        with pytest.raises(ValidationError) as refused:
            make_pool(co_op, grades=[grade])
        assert refusals(refused.value) == {"grades": [code]}
    assert not Pool.objects.exists()
