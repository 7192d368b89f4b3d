"""Which hours set best by a farm's own counts, and when others are proposed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.pollination_windows import HourCount, WindowError, own_counts, set_share
from planning.compute.pollination_windows.counts import FEW_COUNTS, NO_COUNTS, NOTHING_BETTER


def count(minutes: float, fruit: int, flowers: int, *sources: str, held: bool = False) -> HourCount:
    return HourCount(
        minutes_from_noon=minutes,
        flowers=flowers,
        fruit=fruit,
        in_hours=held,
        in_sources=frozenset(sources),
    )


@pytest.mark.parametrize(
    ("fruit", "flowers", "low", "high"),
    [
        # Wilson's interval of soursop's set in the Cerrado, natural and by hand (Pinto & Ramos
        # 1999); the hundred flowers are invented, the bounds computed apart.
        (26, 100, 0.1841, 0.3537),
        (73, 100, 0.6357, 0.8073),
    ],
)
def test_shares_have_wilsons_interval(fruit: int, flowers: int, low: float, high: float) -> None:
    share = set_share([count(0, fruit, flowers)])
    assert (share.low, share.high) == (pytest.approx(low, abs=1e-4), pytest.approx(high, abs=1e-4))


def test_counts_are_grouped_by_hour_from_solar_noon() -> None:
    found = own_counts(
        [count(-61, 3, 10), count(-60, 4, 10), count(-1, 5, 10), count(0, 6, 10)], []
    )
    assert [(hour.from_minutes, hour.set.fruit, hour.set.rounds) for hour in found.hours] == [
        (-120, 3, 1),
        (-60, 9, 2),
        (0, 6, 1),
    ]
    assert found.reason == FEW_COUNTS


def test_a_source_whose_hours_set_clearly_better_is_proposed() -> None:
    """An atemoya in Honduras set about 12 % in the morning and 47 % at 16 to 18 h (Duarte 1997)."""
    rows = [
        *[count(-300, 6, 50, "early", held=True)] * 2,
        *[count(270, 23, 50, "late")] * 2,
    ]
    found = own_counts(rows, ["early", "late"])
    assert found.proposal is not None
    assert found.proposal.source_code == "late"
    assert found.reason == (
        "Within the hours of late 46 of 100 flowers set (37 to 56 %); within those that hold"
        " 12 of 100 flowers set (7 to 20 %). Consider choosing that source."
    )
    assert found.best is not None
    assert found.best.from_minutes == 240


def test_an_hour_in_no_source_is_proposed_for_the_farms_own() -> None:
    rows = [*[count(-300, 6, 50, held=True)] * 2, *[count(70, 40, 50)] * 2]
    found = own_counts(rows, [])
    assert found.proposal is not None
    assert (found.proposal.source_code, found.proposal.from_minutes) == (None, 60)
    assert found.reason.startswith("In the hour from 1 hour after solar noon 80 of 100 flowers")


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ([], NO_COUNTS),
        # Intervals that overlap: 26 to 45 % and 38 to 57 %
        ([*[count(-300, 17, 50, held=True)] * 2, *[count(70, 23, 50)] * 2], NOTHING_BETTER),
        # Only one round, however many flowers
        ([*[count(-300, 6, 50, held=True)] * 2, count(70, 90, 100)], NOTHING_BETTER),
        # Nothing to compare with: no count within the hours that hold
        ([count(70, 90, 100), count(80, 90, 100)], FEW_COUNTS),
        # Fewer than thirty flowers within them
        ([*[count(-300, 1, 14, held=True)] * 2, *[count(70, 45, 50)] * 2], FEW_COUNTS),
    ],
)
def test_nothing_is_proposed_without_enough_evidence(rows: list[HourCount], reason: str) -> None:
    found = own_counts(rows, ["late"])
    assert (found.proposal, found.reason) == (None, reason)


@pytest.mark.parametrize(("fruit", "flowers"), [(-1, 10), (11, 10), (0, 0)])
def test_more_fruit_than_flowers_is_refused(fruit: int, flowers: int) -> None:
    with pytest.raises(WindowError):
        count(0, fruit, flowers)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_an_interval_holds_its_share(pair: tuple[int, int]) -> None:
    share = set_share([count(0, *pair)])
    assert 0 <= share.low <= share.share + 1e-12
    assert share.share - 1e-12 <= share.high <= 1
