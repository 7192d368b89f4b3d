"""Which kilos a table goes by, what stands in for them, and which of them are paid.

The same fruit may be weighed on the farm, received by a packing shed and sorted there. Kilos of
different bases are therefore never added together: a table states the basis of every row, and a
group of several bases becomes a row for each.
"""

from collections.abc import Collection
from enum import StrEnum


class Basis(StrEnum):
    """Which kilos: farm weighings, net of the intake, or by grade after sorting."""

    PICKED = "picked"
    RECEIVED = "received"
    PACKED = "packed"


# What stands in for a basis that a member lacks, nearest first.
STAND_INS = {
    Basis.PICKED: (Basis.PICKED, Basis.RECEIVED),
    Basis.RECEIVED: (Basis.RECEIVED, Basis.PICKED),
    Basis.PACKED: (Basis.PACKED, Basis.RECEIVED, Basis.PICKED),
}
NAMES = {
    Basis.PICKED: "farm weighings",
    Basis.RECEIVED: "intakes",
    Basis.PACKED: "sorted intakes",
}


def basis_of_member(chosen: Basis, known: Collection[Basis]) -> Basis:
    """The basis of a member's season in a table by `chosen`, of those on which it has kilos."""
    return next(basis for basis in STAND_INS[chosen] if basis in known)


def stand_in_reason(basis: Basis, chosen: Basis) -> str | None:
    """Why a member's kilos are on another basis than the co-op's, as half a sentence."""
    if basis is chosen:
        return None
    return f"the farm has no {NAMES[chosen]} this season, so {NAMES[basis]} are used instead"


def is_payable(marketable: bool | None) -> bool:
    """Whether weighed grams are paid: marketable and ungraded ones are, culls and rejects never.

    Grams that met no scale are never paid, whatever their grade.
    """
    return marketable is not False
