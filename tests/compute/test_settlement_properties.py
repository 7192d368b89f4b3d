"""What holds for any pool: nothing is lost, nobody pays, and corrections catch up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from planning.compute.settlement import (
    CURRENCIES,
    Deduction,
    DeductionKind,
    Line,
    LineKind,
    Row,
    Settled,
    Terms,
    Totals,
    account_of,
    adjustments,
    apportion,
    gross_by_member,
    price_of,
    statement_lines,
    totals_of,
)

MEMBERS = ["BER", "HAD", "MAL", "TRA"]
Rows = dict[str, list[Row]]

currencies = st.sampled_from(sorted(CURRENCIES))
rates = st.decimals(min_value="0.0001", max_value="99", places=4)
weights = st.dictionaries(st.sampled_from("abcdefgh"), st.integers(0, 10_000_000), min_size=1)


@st.composite
def terms(draw: st.DrawFn) -> Terms:
    if draw(st.booleans()):
        return Terms(currency=draw(currencies), price_per_kg=draw(rates))
    return Terms(currency=draw(currencies), amount_minor=draw(st.integers(1, 10**9)))


@st.composite
def pools(draw: st.DrawFn) -> Rows:
    """Rows by member; each weighs something."""
    found: Rows = {}
    for member in draw(st.lists(st.sampled_from(MEMBERS), min_size=1, unique=True)):
        grams = draw(st.lists(st.integers(1, 5_000_000), min_size=1, max_size=5))
        containers = draw(st.one_of(st.none(), st.integers(1, 500)))
        found[member] = [
            Row(key=f"{member} {number}", grams=each, containers=containers)
            for number, each in enumerate(grams)
        ]
    return found


@st.composite
def deductions(draw: st.DrawFn) -> list[Deduction]:
    return [
        Deduction(
            key=f"deduction:{number}",
            kind=draw(st.sampled_from(DeductionKind)),
            rate=draw(rates),
            what_for="packing",
            member=draw(st.sampled_from([None, None, *MEMBERS])),
        )
        for number in range(draw(st.integers(0, 4)))
    ]


def accounts(
    rows: Mapping[str, Sequence[Row]], paid: Terms, kept_back: Sequence[Deduction]
) -> dict[str, list[Line]]:
    grams = {member: sum(row.grams for row in own) for member, own in rows.items()}
    gross = gross_by_member(paid, grams)
    named = {each.member for each in kept_back if each.member}
    return {
        member: account_of(
            member,
            terms=paid,
            gross_minor=gross.get(member, 0),
            price_per_kg=price_of(paid, sum(grams.values())),
            rows=rows.get(member, []),
            deductions=kept_back,
        )
        for member in sorted({*rows, *named})
    }


@given(whole=st.integers(0, 10**12), weights=weights)
def test_shares_add_up_and_are_the_exact_ones_but_for_a_unit(
    whole: int, weights: dict[str, int]
) -> None:
    total = sum(weights.values())
    if not total:
        return
    shares = apportion(whole, weights)
    assert sum(shares.values()) == whole
    assert all(
        abs(Fraction(whole * weights[key], total) - share) < 1 for key, share in shares.items()
    )


@given(whole=st.integers(0, 10**6), weights=weights, data=st.data())
def test_the_order_of_members_does_not_matter(
    whole: int, weights: dict[str, int], data: st.DataObject
) -> None:
    if not sum(weights.values()):
        return
    turned = {key: weights[key] for key in data.draw(st.permutations(list(weights)))}
    assert apportion(whole, turned) == apportion(whole, weights)


@given(rows=pools(), paid=terms(), kept_back=deductions())
def test_lines_add_up_to_members_and_members_to_the_pool(
    rows: Rows, paid: Terms, kept_back: list[Deduction]
) -> None:
    found = accounts(rows, paid, kept_back)
    kilos = {
        member: [line for line in lines if line.kind is LineKind.KILOS]
        for member, lines in found.items()
    }
    gross = gross_by_member(paid, {m: sum(row.grams for row in own) for m, own in rows.items()})
    assert {m: sum(line.amount_minor for line in kilos[m]) for m in gross} == gross
    if paid.amount_minor is not None:
        assert sum(gross.values()) == paid.amount_minor
    kept = [each for lines in found.values() for each in lines if each.kind is LineKind.DEDUCTION]
    assert all(line.amount_minor <= 0 for line in kept)


# A co-op's statements, one pool after another ---------------------------------------------------


@dataclass
class Books:
    """What a co-op has issued: ledgers by pool and member, balances and payments by member."""

    ledgers: dict[tuple[int, str], dict[str, Settled]] = field(default_factory=dict)
    balances: dict[str, int] = field(default_factory=dict)
    paid: dict[str, int] = field(default_factory=dict)
    statements: list[Totals] = field(default_factory=list)

    def issue(self, accounts_now: Sequence[dict[str, list[Line]]], currency: str) -> None:
        """The last of the pools for the first time; the others are put right."""
        own = len(accounts_now) - 1
        for member in MEMBERS:
            put_right = [
                line
                for pool in range(own)
                for line in adjustments(
                    accounts_now[pool].get(member, []),
                    self.ledgers.get((pool, member), {}),
                    pool=str(pool),
                    currency=currency,
                )
            ]
            account = accounts_now[own].get(member, [])
            if not account and not put_right:
                continue
            lines = statement_lines(
                account, put_right, carried_in_minor=self.balances.get(member, 0)
            )
            self._keep(member, [replace(each, pool=each.pool or str(own)) for each in lines])

    def _keep(self, member: str, lines: Sequence[Line]) -> None:
        totals = totals_of(lines)
        self.statements.append(totals)
        self.balances[member] = totals.carried_out_minor
        self.paid[member] = self.paid.get(member, 0) + totals.to_pay_minor
        for number, line in enumerate(lines, start=1):
            if line.kind is not LineKind.CARRIED:
                ledger = self.ledgers.setdefault((int(line.pool), member), {})
                ledger[line.key] = _added(ledger.get(line.key), line, number)


def _added(before: Settled | None, line: Line, number: int) -> Settled:
    is_deduction = line.key.startswith("deduction:")
    if before is None:
        before = Settled(
            kind=LineKind.DEDUCTION if is_deduction else LineKind.KILOS,
            key=line.key,
            amount_minor=0,
            grams=0,
            rate=line.rate,
            statement="1",
            line=number,
        )
    grams = (before.grams or 0) + (line.grams or 0)
    return replace(before, amount_minor=before.amount_minor + line.amount_minor, grams=grams)


@given(
    first=pools(),
    corrected=pools(),
    again=pools(),
    paid=terms(),
    now_paid=st.one_of(st.none(), rates),
    kept_back=deductions(),
    then_kept_back=deductions(),
)
def test_statements_come_to_what_a_fresh_computation_gives(
    first: Rows,
    corrected: Rows,
    again: Rows,
    paid: Terms,
    now_paid: Decimal | None,
    kept_back: list[Deduction],
    then_kept_back: list[Deduction],
) -> None:
    """Rows, prices and deductions of the first pool change before each of two later ones."""
    books = Books()
    dearer = paid if now_paid is None or paid.amount_minor else replace(paid, price_per_kg=now_paid)
    books.issue([accounts(first, paid, kept_back)], paid.currency)
    second = accounts(again, paid, [])
    books.issue([accounts(corrected, dearer, then_kept_back), second], paid.currency)
    fresh = [accounts(again, paid, kept_back), second, accounts(first, dearer, [])]
    books.issue(fresh, paid.currency)
    for member in MEMBERS:
        due = sum(line.amount_minor for pool in fresh for line in pool.get(member, []))
        assert books.paid.get(member, 0) + books.balances.get(member, 0) == due


@given(rows=pools(), paid=terms(), kept_back=deductions())
def test_nobody_ever_pays(rows: Rows, paid: Terms, kept_back: list[Deduction]) -> None:
    books = Books()
    books.issue([accounts(rows, paid, kept_back)], paid.currency)
    for totals in books.statements:
        assert totals.to_pay_minor >= 0 >= totals.carried_out_minor
        assert totals.net_minor == totals.to_pay_minor + totals.carried_out_minor
        assert 0 in (totals.to_pay_minor, totals.carried_out_minor)


@given(rows=pools(), paid=terms(), kept_back=deductions())
def test_where_nothing_changed_nothing_is_adjusted(
    rows: Rows, paid: Terms, kept_back: list[Deduction]
) -> None:
    books = Books()
    books.issue([accounts(rows, paid, kept_back)], paid.currency)
    for member, account in accounts(rows, paid, kept_back).items():
        ledger = books.ledgers[0, member]
        assert adjustments(account, ledger, pool="0", currency=paid.currency) == []
