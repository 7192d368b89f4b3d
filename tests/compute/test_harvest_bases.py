"""Which kilos stand in for others, and which are paid."""

import pytest

from planning.compute.bases import STAND_INS, Basis, basis_of_member, is_payable, stand_in_reason

PICKED, RECEIVED, PACKED = Basis.PICKED, Basis.RECEIVED, Basis.PACKED

# What the co-op goes by, what the member has, what is used.
STANDING_IN = [
    (PICKED, {PICKED, RECEIVED, PACKED}, PICKED),  # what was asked for
    (PICKED, {RECEIVED, PACKED}, RECEIVED),  # sorted fruit was received first
    (RECEIVED, {PICKED}, PICKED),  # a farm that sells elsewhere weighs for itself
    (PACKED, {PICKED, RECEIVED}, RECEIVED),  # not sorted yet: the nearest stands in
    (PACKED, {PICKED}, PICKED),
]


@pytest.mark.parametrize(("chosen", "known", "used"), STANDING_IN)
def test_the_nearest_basis_stands_in(chosen: Basis, known: set[Basis], used: Basis) -> None:
    assert basis_of_member(chosen, known) is used
    assert (stand_in_reason(used, chosen) is None) == (used is chosen)


def test_every_basis_stands_for_itself_first() -> None:
    assert all(stand_ins[0] is basis for basis, stand_ins in STAND_INS.items())
    assert set(STAND_INS) == set(Basis)


def test_a_stand_in_says_so() -> None:
    assert stand_in_reason(PICKED, PACKED) == (
        "the farm has no sorted intakes this season, so farm weighings are used instead"
    )


@pytest.mark.parametrize(
    ("marketable", "paid"),
    [
        (True, True),
        (None, True),  # ungraded: nobody has found fault with it
        (False, False),  # culls and rejects
    ],
)
def test_culls_are_never_paid(marketable: bool | None, paid: bool) -> None:
    assert is_payable(marketable) is paid
