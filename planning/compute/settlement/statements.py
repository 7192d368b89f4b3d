"""A member's statement: its lines in order, and what they come to.

A net below nothing is never paid: nothing is to pay, and the net is carried forward to the
member's next statement.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planning.compute.settlement.values import CARRIED, Line, LineKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """`deductions_minor` and `carried_in_minor` are not above nothing, nor `carried_out_minor`.

    `net_minor` is the sum of all lines, and of `to_pay_minor` and `carried_out_minor`.
    """

    payable_g: int
    containers: int
    gross_minor: int
    deductions_minor: int
    adjustments_minor: int
    carried_in_minor: int
    net_minor: int
    to_pay_minor: int
    carried_out_minor: int


def statement_lines(
    account: Sequence[Line],
    adjustments: Sequence[Line],
    *,
    carried_in_minor: int,
    carried_from: str | None = None,
) -> list[Line]:
    """The lines of a statement: of its own pool, of earlier ones, and what is brought over."""
    carried = Line(
        kind=LineKind.CARRIED,
        key=CARRIED,
        amount_minor=carried_in_minor,
        text="Brought forward",
        adjusts_statement=carried_from,
    )
    return [*account, *adjustments, *([carried] if carried_in_minor else [])]


def totals_of(lines: Iterable[Line]) -> Totals:
    found = list(lines)
    kilos = [line for line in found if line.kind is LineKind.KILOS]
    net = sum(line.amount_minor for line in found)
    return Totals(
        payable_g=sum(line.grams or 0 for line in kilos),
        containers=sum(line.containers or 0 for line in kilos),
        gross_minor=_sum(found, LineKind.KILOS),
        deductions_minor=_sum(found, LineKind.DEDUCTION),
        adjustments_minor=_sum(found, LineKind.ADJUSTMENT),
        carried_in_minor=_sum(found, LineKind.CARRIED),
        net_minor=net,
        to_pay_minor=max(net, 0),
        carried_out_minor=min(net, 0),
    )


def _sum(lines: Iterable[Line], kind: LineKind) -> int:
    return sum(line.amount_minor for line in lines if line.kind is kind)
