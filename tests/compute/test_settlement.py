"""What members are owed: shares, prices, deductions, balances and adjustments."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from planning.compute.settlement import (
    CURRENCIES,
    Deduction,
    DeductionKind,
    Fruit,
    Heading,
    Line,
    LineKind,
    Row,
    Settled,
    SettlementError,
    Terms,
    account_of,
    adjustments,
    apportion,
    decimals_of,
    gross_by_member,
    in_minor_units,
    money,
    price_of,
    printed,
    statement_lines,
    totals_of,
)

EUR = Terms(currency="EUR", price_per_kg=Decimal("2.40"))

# The bill of 1792 that was vetoed: 120 seats by the populations of the census of 1790. Seats as in
# COMAP, For All Practical Purposes, 10th edition (2016), chapter 14, example 6, table 14.5.
SEATS_OF_1792 = {
    "Connecticut": (236_841, 8),
    "Delaware": (55_540, 2),
    "Georgia": (70_835, 2),
    "Kentucky": (68_705, 2),
    "Maryland": (278_514, 9),
    "Massachusetts": (475_327, 16),
    "New Hampshire": (141_822, 5),
    "New Jersey": (179_570, 6),
    "New York": (331_589, 11),
    "North Carolina": (353_523, 12),
    "Pennsylvania": (432_879, 14),
    "Rhode Island": (68_446, 2),
    "South Carolina": (206_236, 7),
    "Vermont": (85_533, 3),
    "Virginia": (630_560, 21),
}


def test_shares_are_those_of_the_published_example() -> None:
    weights = {state: people for state, (people, _) in SEATS_OF_1792.items()}
    assert sum(weights.values()) == 3_615_920
    assert apportion(120, weights) == {state: seats for state, (_, seats) in SEATS_OF_1792.items()}


# What is shared, by which weights, and the shares.
TIES = [
    (1, {"b": 5, "a": 5}, {"b": 0, "a": 1}),  # equal in all: the first key
    (3, {"a": 1, "b": 3, "c": 2}, {"a": 0, "b": 2, "c": 1}),  # 0.5, 1.5 and 1.0
    (2, {"a": 1, "b": 3}, {"a": 0, "b": 2}),  # 0.5 and 1.5: the larger weight first
    (0, {"a": 1, "b": 0}, {"a": 0, "b": 0}),
    (7, {"a": 0, "b": 1}, {"a": 0, "b": 7}),  # who brought nothing gets nothing
]


@pytest.mark.parametrize(("whole", "weights", "shares"), TIES)
def test_equal_remainders_go_by_weight_and_then_by_key(
    whole: int, weights: dict[str, int], shares: dict[str, int]
) -> None:
    assert apportion(whole, weights) == shares


def test_an_amount_without_kilos_cannot_be_shared() -> None:
    with pytest.raises(SettlementError, match="nothing to share the amount by"):
        apportion(100, {"a": 0})


# Currency, amount, minor units.
AMOUNTS = [
    ("EUR", "12.30", 1230),
    ("JPY", "1230", 1230),  # no decimals at all
    ("KWD", "12.345", 12_345),  # three of them
    ("EUR", "-0.05", -5),
]


@pytest.mark.parametrize(("currency", "amount", "minor"), AMOUNTS)
def test_amounts_are_whole_minor_units(currency: str, amount: str, minor: int) -> None:
    assert in_minor_units(Decimal(amount), currency) == minor
    assert str(money(minor, currency)) == amount


@pytest.mark.parametrize(("currency", "amount"), [("JPY", "0.5"), ("EUR", "1.005")])
def test_a_part_of_a_minor_unit_cannot_be_paid(currency: str, amount: str) -> None:
    with pytest.raises(SettlementError, match=f"{currency} has"):
        in_minor_units(Decimal(amount), currency)


def test_currencies_are_those_of_iso_4217() -> None:
    counts = {places: list(CURRENCIES.values()).count(places) for places in (0, 2, 3)}
    assert counts == {0: 16, 2: 131, 3: 7}
    with pytest.raises(SettlementError, match="EURO is no currency code"):
        decimals_of("EURO")


# Accounts ----------------------------------------------------------------------------------------


def row(key: str, grams: int, containers: int | None = None) -> Row:
    fruit = Fruit(day=dt.date(2026, 8, 3), docket=f"D-{key}", block="N1", basis="picked")
    return Row(key=key, grams=grams, containers=containers, fruit=fruit)


def account(
    rows: Sequence[Row], terms: Terms = EUR, deductions: Sequence[Deduction] = ()
) -> list[Line]:
    """Of a member who is the pool's only one."""
    grams = sum(each.grams for each in rows)
    return account_of(
        "BER",
        terms=terms,
        gross_minor=gross_by_member(terms, {"BER": grams})["BER"],
        price_per_kg=price_of(terms, grams),
        rows=rows,
        deductions=deductions,
    )


def amounts(lines: Sequence[Line]) -> list[int]:
    return [line.amount_minor for line in lines]


# Grams of the rows, price per kilo, currency, amounts of the lines.
PRICED = [
    ([1_000, 2_000], "2.40", "EUR", [240, 480]),
    ([1_001, 1_001, 1_001], "0.50", "EUR", [50, 50, 50]),  # 1.5015 in all: 1.50
    ([333, 333, 334], "1", "EUR", [33, 33, 34]),  # one euro, shared
    ([1_250], "100", "JPY", [125]),
    ([1_005], "100", "JPY", [101]),  # half a yen goes up
    ([1_000], "0.1234", "KWD", [123]),
]


@pytest.mark.parametrize(("grams", "price", "currency", "expected"), PRICED)
def test_kilos_come_to_their_price(
    grams: list[int], price: str, currency: str, expected: list[int]
) -> None:
    rows = [row(str(number), each) for number, each in enumerate(grams)]
    assert amounts(account(rows, Terms(currency=currency, price_per_kg=Decimal(price)))) == expected


def test_an_amount_goes_to_members_by_their_kilos() -> None:
    terms = Terms(currency="EUR", amount_minor=10_000)
    assert gross_by_member(terms, {"a": 1, "b": 1, "c": 1}) == {"a": 3_334, "b": 3_333, "c": 3_333}
    assert price_of(terms, 30_000) == Decimal("3.3333")


def test_a_pool_without_a_price_comes_to_nothing_known() -> None:
    with pytest.raises(SettlementError, match="neither a price per kilo nor an amount"):
        gross_by_member(Terms(currency="EUR"), {"a": 1})


def deduction(kind: DeductionKind, rate: str, member: str | None = None) -> Deduction:
    return Deduction(
        key=f"deduction:{kind}", kind=kind, rate=Decimal(rate), what_for=kind, member=member
    )


# The kind, its rate, what is kept back of 20 kg in 3 containers, worth 48.00.
KEPT_BACK = [
    (DeductionKind.PER_KILO, "0.15", -300),
    (DeductionKind.PER_KILO, "0.1234", -247),  # 2.468
    (DeductionKind.PER_CONTAINER, "0.335", -101),  # 1.005: half a cent goes up
    (DeductionKind.PER_CENT, "1.5", -72),
    (DeductionKind.FIXED, "60", -6_000),
]


@pytest.mark.parametrize(("kind", "rate", "expected"), KEPT_BACK)
def test_deductions_are_reckoned_from_what_they_are_of(
    kind: DeductionKind, rate: str, expected: int
) -> None:
    rows = [row("1", 12_000, 2), row("2", 8_000, 1)]
    assert account(rows, deductions=[deduction(kind, rate)])[-1].amount_minor == expected


def test_deductions_stand_in_the_stated_order() -> None:
    given = [deduction(kind, "1") for kind in reversed(DeductionKind)]
    lines = account([row("1", 20_000)], deductions=given)
    assert [line.deduction for line in lines[1:]] == list(DeductionKind)


def test_per_cents_are_of_gross_whatever_else_is_kept_back() -> None:
    levy = deduction(DeductionKind.PER_CENT, "10")
    alone = account([row("1", 20_000)], deductions=[levy])
    after = account([row("1", 20_000)], deductions=[deduction(DeductionKind.PER_KILO, "1"), levy])
    assert alone[-1] == after[-1]


def test_an_advance_is_kept_back_of_its_member_only() -> None:
    other = deduction(DeductionKind.FIXED, "60", member="HAD")
    assert len(account([row("1", 1_000)], deductions=[other])) == 1
    own = replace(other, member="BER")
    assert amounts(account([], deductions=[own])) == [-6_000]  # even where nothing was picked


def test_what_every_member_pays_is_not_kept_back_of_one_without_fruit() -> None:
    assert account([], deductions=[deduction(DeductionKind.FIXED, "60")]) == []


# Statements --------------------------------------------------------------------------------------


def test_a_deduction_above_the_payment_is_carried_forward() -> None:
    lines = account([row("1", 1_000)], deductions=[deduction(DeductionKind.FIXED, "10")])
    first = totals_of(statement_lines(lines, [], carried_in_minor=0))
    assert (first.net_minor, first.to_pay_minor, first.carried_out_minor) == (-760, 0, -760)
    lines = account([row("2", 5_000)])
    carried = statement_lines(lines, [], carried_in_minor=-760, carried_from="1")
    second = totals_of(carried)
    assert (second.gross_minor, second.carried_in_minor) == (1_200, -760)
    assert (second.to_pay_minor, second.carried_out_minor) == (440, 0)


# Adjustments -------------------------------------------------------------------------------------


def ledger_of(lines: Sequence[Line]) -> dict[str, Settled]:
    return {
        line.key: Settled(
            kind=line.kind,
            key=line.key,
            amount_minor=line.amount_minor,
            grams=line.grams,
            rate=line.rate,
            statement="BER 1",
            line=number,
            text=line.text,
            fruit=line.fruit,
        )
        for number, line in enumerate(lines, start=1)
    }


def adjusted(now: Sequence[Line], before: Sequence[Line]) -> list[tuple[int, int | None, str]]:
    """Amount, line adjusted, and what is said."""
    found = adjustments(now, ledger_of(before), pool="August", currency="EUR")
    assert all(line.kind is LineKind.ADJUSTMENT and line.pool == "August" for line in found)
    return [(line.amount_minor, line.adjusts_line, line.text) for line in found]


BEFORE = [row("1", 10_000), row("2", 5_000)]
PACKING = [deduction(DeductionKind.PER_KILO, "0.10")]
# Rows as they are now, and what is put right.
CORRECTED = [
    (BEFORE, []),
    (
        [row("1", 9_000), row("2", 5_000)],
        [(-240, 1, "9.000 kg instead of 10.000 kg"), (10, 3, "per-kilo, reckoned anew")],
    ),
    (
        [row("1", 10_000)],  # graded anew, so that another pool pays for it; or never picked
        [
            (-1_200, 2, "5.000 kg that no longer belong to the pool"),
            (50, 3, "per-kilo, reckoned anew"),
        ],
    ),
    (
        [*BEFORE, row("3", 1_000)],  # written down late
        [
            (240, None, "1.000 kg that had not been settled"),
            (-10, 3, "per-kilo, reckoned anew"),
        ],
    ),
]


@pytest.mark.parametrize(("rows", "expected"), CORRECTED)
def test_corrected_rows_are_put_right_line_by_line(
    rows: list[Row], expected: list[tuple[int, int | None, str]]
) -> None:
    before = account(BEFORE, deductions=PACKING)
    assert adjusted(account(rows, deductions=PACKING), before) == expected


def test_a_new_price_is_one_line_that_names_the_statement() -> None:
    now = account(BEFORE, replace(EUR, price_per_kg=Decimal("2.50")))
    [line] = adjustments(now, ledger_of(account(BEFORE)), pool="August", currency="EUR")
    assert (line.amount_minor, line.adjusts_statement, line.adjusts_line) == (150, "BER 1", None)
    assert line.text == "A kilo comes to 2.5 EUR instead of 2.4"


def test_a_deduction_taken_back_is_paid_out() -> None:
    expected = [(150, 3, "per-kilo, reckoned anew")]
    assert adjusted(account(BEFORE), account(BEFORE, deductions=PACKING)) == expected


# In print ----------------------------------------------------------------------------------------

PRINTED = """\
The co-op                                               Statement BER 2, issued 2026-10-05
BER Berrao                                             September, 2026-09-01 to 2026-09-30
Kilos by farm weighings                                                                EUR

Line Day        Docket Block Cultivar Grade Containers  Kilos Price                 Amount
------------------------------------------------------------------------------------------
   1 2026-08-03 D-1    N1                            2 10.000   2.4                  24.00
   2 2026-08-03 D-2    N1                               5.000   2.4                  12.00
------------------------------------------------------------------------------------------
Gross                                                                                36.00
   3 per-kilo (15.000 kg at 0.1)                                                     -1.50
   4 per-cent (2 % of gross)                                                         -0.72
   5 Statement BER 1, line 1: 9.000 kg instead of 10.000 kg (docket D-1)             -2.40
   6 Statement BER 1: Brought forward                                            -1,000.00
------------------------------------------------------------------------------------------
Net                                                                                -968.62
To pay                                                                                0.00
Carried forward to the next statement                                              -968.62

A record and its arithmetic: no money has moved by it, and it is no tax or legal advice."""


def test_a_statement_prints_as_a_table() -> None:
    rows = [row("1", 10_000, 2), row("2", 5_000)]
    own = account(rows, deductions=[*PACKING, deduction(DeductionKind.PER_CENT, "2")])
    put_right = adjustments(
        account([row("1", 9_000)]),
        ledger_of(account([row("1", 10_000)])),
        pool="August",
        currency="EUR",
    )
    heading = Heading(
        co_op="The co-op",
        member_code="BER",
        member_name="Berrao",
        number=2,
        pool="September",
        from_on=dt.date(2026, 9, 1),
        until_on=dt.date(2026, 9, 30),
        currency="EUR",
        issued_on=dt.date(2026, 10, 5),
    )
    lines = statement_lines(own, put_right, carried_in_minor=-100_000, carried_from="BER 1")
    assert "\n".join(printed(heading, lines)) == PRINTED
