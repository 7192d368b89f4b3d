"""Members' accounts of one pool: what their kilos come to, and what is kept back of it.

At a price per kilo a member's gross is all its kilos at the price, rounded once; an amount to
share goes to the members by their kilos. Either way the gross is then shared among the member's
lines by their kilos, so that lines add up to the member, and members to the pool, to the minor
unit: a line may differ from its own kilos at the price by one unit.

Deductions stand in the order per kilo, per container, per cent, fixed, and within these as given.
Each is reckoned by itself: per cents are of the gross, whatever else is kept back.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from planning.compute.settlement.apportionment import apportion
from planning.compute.settlement.money import decimals_of, rounded
from planning.compute.settlement.values import (
    Deduction,
    DeductionKind,
    Line,
    LineKind,
    Row,
    SettlementError,
    Terms,
)

RATE_PLACES = Decimal("0.0001")
ORDER = list(DeductionKind)


def gross_by_member(terms: Terms, grams: Mapping[str, int]) -> dict[str, int]:
    """What each member's payable grams come to, before deductions, by member."""
    if terms.amount_minor is not None:
        return apportion(terms.amount_minor, grams)
    if terms.price_per_kg is None:
        raise SettlementError("The pool has neither a price per kilo nor an amount to share.")
    return {member: _at_rate(terms.price_per_kg, total, terms) for member, total in grams.items()}


def price_of(terms: Terms, grams: int) -> Decimal | None:
    """The price per kilo; of an amount to share what it comes to, to four decimals."""
    if terms.price_per_kg is not None or not grams or terms.amount_minor is None:
        return terms.price_per_kg
    amount = Decimal(terms.amount_minor).scaleb(3 - decimals_of(terms.currency))
    return (amount / grams).quantize(RATE_PLACES, rounding=ROUND_HALF_UP)


def account_of(
    member: str,
    *,
    terms: Terms,
    gross_minor: int,
    price_per_kg: Decimal | None,
    rows: Sequence[Row],
    deductions: Iterable[Deduction],
) -> list[Line]:
    """A member's lines of a pool: its rows as given, then what is kept back.

    Fixed deductions of every member are kept back of those that have rows.
    """
    lines = list(_kilo_lines(gross_minor, price_per_kg, rows))
    grams, containers = sum(row.grams for row in rows), _containers(rows)
    for deduction in sorted(deductions, key=lambda each: ORDER.index(each.kind)):
        if deduction.member == member or (deduction.member is None and rows):
            base = _base(deduction.kind, grams, containers, gross_minor)
            lines.append(_deduction_line(deduction, base, terms.currency))
    return lines


def _kilo_lines(gross_minor: int, price: Decimal | None, rows: Sequence[Row]) -> Iterator[Line]:
    amounts = apportion(gross_minor, {row.key: row.grams for row in rows})
    for row in rows:
        yield Line(
            kind=LineKind.KILOS,
            key=row.key,
            amount_minor=amounts[row.key],
            grams=row.grams,
            containers=row.containers,
            rate=price,
            fruit=row.fruit,
        )


def _containers(rows: Iterable[Row]) -> int:
    return sum(row.containers or 0 for row in rows)


def _base(kind: DeductionKind, grams: int, containers: int, gross_minor: int) -> int:
    """What the rate is of."""
    bases = {
        DeductionKind.PER_KILO: grams,
        DeductionKind.PER_CONTAINER: containers,
        DeductionKind.PER_CENT: gross_minor,
        DeductionKind.FIXED: 1,
    }
    return bases[kind]


def _deduction_line(deduction: Deduction, base: int, currency: str) -> Line:
    return Line(
        kind=LineKind.DEDUCTION,
        key=deduction.key,
        amount_minor=-_kept_back(deduction, base, currency),
        grams=base if deduction.kind is DeductionKind.PER_KILO else None,
        containers=base if deduction.kind is DeductionKind.PER_CONTAINER else None,
        rate=deduction.rate,
        deduction=deduction.kind,
        text=deduction.what_for,
    )


def _kept_back(deduction: Deduction, base: int, currency: str) -> int:
    product = deduction.rate * base
    if deduction.kind is DeductionKind.PER_CENT:
        return rounded(product.scaleb(-2))
    of_grams = -3 if deduction.kind is DeductionKind.PER_KILO else 0
    return rounded(product.scaleb(decimals_of(currency) + of_grams))


def _at_rate(price: Decimal, grams: int, terms: Terms) -> int:
    return rounded((price * grams).scaleb(decimals_of(terms.currency) - 3))
