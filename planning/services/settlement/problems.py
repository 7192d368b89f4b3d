"""Why a pool cannot be issued."""

from collections.abc import Iterator
from dataclasses import dataclass

from planning.models import Pool
from planning.services.settlement.taking import Taken, members_of_both, rows_in_both


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Told of the field that would have to change."""

    field: str
    text: str
    code: str


def problems_of(pool: Pool, taken: Taken) -> list[Problem]:
    if pool.is_issued:
        return [Problem(field="state", text="This pool has been issued.", code="already-issued")]
    return [*_about_money(pool), *_about_kilos(pool, taken)]


def _about_money(pool: Pool) -> Iterator[Problem]:
    if pool.price_per_kg is None and pool.amount is None:
        text = "Give a price per kilo, or an amount to share."
        yield Problem(field="price_per_kg", text=text, code="price-missing")


def _about_kilos(pool: Pool, taken: Taken) -> Iterator[Problem]:
    if not taken.own:
        text = f"No kilos of this pool can be paid from {pool.starts_on} to {pool.ends_on}."
        yield Problem(field="starts_on", text=text, code="no-kilos")
    for other, rows in rows_in_both(taken).items():
        first = min((row.fruit for row in rows), key=lambda fruit: (str(fruit.day), fruit.docket))
        docket = f" (docket {first.docket})" if first.docket else ""
        text = (
            f"Weighings or intakes that the pool {other.name} pays already: {len(rows)}, the first"
            f" of {first.day}{docket}. Change the days, the fruit or the grades."
        )
        yield Problem(field="starts_on", text=text, code="paid-already")
    yield from _about_bases(pool, taken)


def _about_bases(pool: Pool, taken: Taken) -> Iterator[Problem]:
    """The same fruit by another basis has other rows, so that nothing tells whether it was paid."""
    for other in taken.rows:
        same_days = other.starts_on <= pool.ends_on and pool.starts_on <= other.ends_on
        if other.basis != pool.co_op.basis and same_days and members_of_both(taken, other):
            text = (
                f"The pool {other.name} paid for some of these days by {other.get_basis_display()},"
                f" and the co-op goes by {pool.co_op.get_basis_display()} now: the same fruit could"
                " be paid twice."
            )
            yield Problem(field="starts_on", text=text, code="paid-by-another-basis")
