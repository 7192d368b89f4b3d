"""Deliveries against intakes, side by side."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.reconciliation import (
    MatchState,
    ReconciliationError,
    Sides,
    compare,
    shrink,
)

STATES = [
    # sent, received, unweighed, tolerance: state
    (10_000, 9_900, 0, 0.03, MatchState.MATCHED),
    (10_000, 9_700, 0, 0.03, MatchState.MATCHED),  # just within
    (10_000, 9_699, 0, 0.03, MatchState.DIFFERS),
    (10_000, 10_301, 0, 0.03, MatchState.DIFFERS),  # more than was sent
    (10_000, 10_000, 0, 0, MatchState.MATCHED),
    (10_000, 9_999, 0, 0, MatchState.DIFFERS),
    (10_000, None, 0, 0.03, MatchState.NOT_RECEIVED),
    (None, 9_900, 0, 0.03, MatchState.NOT_SENT),
    (10_000, 9_900, 1, 0.03, MatchState.NOT_WEIGHED),
    (0, 9_900, 0, 0.03, MatchState.NOT_WEIGHED),  # nothing on the farm's scale
]


@pytest.mark.parametrize(("sent", "received", "unweighed", "tolerance", "state"), STATES)
def test_a_match_has_one_state(
    sent: int | None, received: int | None, unweighed: int, tolerance: float, state: MatchState
) -> None:
    sides = Sides(sent_g=sent, received_g=received, unweighed=unweighed)
    assert compare(sides, tolerance).state is state


def test_the_difference_is_received_less_sent() -> None:
    compared = compare(Sides(sent_g=200_000, received_g=194_000))
    assert (compared.difference_g, compared.share) == (-6_000, -0.03)


@pytest.mark.parametrize("tolerance", [-0.01, 1, 30])
def test_a_tolerance_is_a_share(tolerance: float) -> None:
    with pytest.raises(ReconciliationError, match="share"):
        compare(Sides(sent_g=1, received_g=1), tolerance)


def test_shrink_is_grams_of_a_kilo_and_day() -> None:
    """20 of 1,000 g lost in two days are 10 g a kilo and day; on the day itself there is none."""
    [same_day, two_days] = shrink(
        [
            Sides(sent_g=1_000_000, received_g=990_000, days=2.2),
            Sides(sent_g=1_000_000, received_g=970_000, days=1.8),
            Sides(sent_g=500_000, received_g=499_000, days=0),
            Sides(sent_g=500_000, received_g=400_000, days=2),  # differs for another reason
            Sides(sent_g=500_000, received_g=495_000, days=2, unweighed=1),
            Sides(sent_g=500_000, received_g=495_000, days=None),
        ]
    )
    assert (same_day.days, same_day.g_per_kg_and_day) == (0, None)
    assert (two_days.days, two_days.matches) == (2, 2)
    assert two_days.g_per_kg_and_day == pytest.approx(10)


@given(
    st.integers(1, 10**9),
    st.integers(0, 10**9),
    st.floats(0, 0.99),
)
def test_a_match_within_a_tolerance_is_within_every_larger_one(
    sent: int, received: int, tolerance: float
) -> None:
    sides = Sides(sent_g=sent, received_g=received)
    if compare(sides, tolerance).state is MatchState.MATCHED:
        assert compare(sides, 0.995).state is MatchState.MATCHED
