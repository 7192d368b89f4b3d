"""The window in which a block is best pruned."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.pruning_window import (
    CalendarDays,
    LeafOut,
    Margins,
    Method,
    WindowError,
    pruning_window,
)

# Common practice, no source: just before leaf-out, and not after new shoots have begun to push.
# The days themselves are assumed.
USUAL = Margins(opens_before=14, best_before=3, latest_after=7)
CALENDAR = CalendarDays(
    opens_on=date(2026, 2, 22),
    best_on=date(2026, 3, 7),
    latest_on=date(2026, 3, 21),
    because="Prune just before leaf-out.",
)
LEAF_OUT = LeafOut(on=date(2026, 3, 10), early=date(2026, 3, 4), late=date(2026, 3, 16))


def test_it_follows_a_forecast_leaf_out() -> None:
    window = pruning_window(leaf_out=LEAF_OUT, margins=USUAL, calendar=CALENDAR)
    assert window.opens_on == date(2026, 2, 18)  # two weeks before the early end
    assert window.best_on == date(2026, 3, 7)
    assert window.latest_on == date(2026, 3, 17)
    assert window.method is Method.FORECAST
    assert window.reason.startswith(
        "Leaf-out is forecast for 2026-03-10, between 2026-03-04 and 2026-03-16. Prune just before"
    )


def test_it_follows_a_leaf_out_that_was_seen() -> None:
    seen = LeafOut(on=date(2026, 3, 1), is_seen=True)
    window = pruning_window(leaf_out=seen, margins=USUAL, calendar=CALENDAR)
    assert (window.method, window.latest_on) == (Method.SEEN, date(2026, 3, 8))


def test_without_a_forecast_the_calendar_holds() -> None:
    window = pruning_window(leaf_out=None, margins=USUAL, calendar=CALENDAR)
    assert (window.opens_on, window.latest_on) == (CALENDAR.opens_on, CALENDAR.latest_on)
    assert window.method is Method.CALENDAR
    assert "the farm's calendar holds" in window.reason


def test_without_margins_a_forecast_says_nothing() -> None:
    window = pruning_window(leaf_out=LEAF_OUT, margins=None, calendar=CALENDAR)
    assert window.method is Method.CALENDAR


def test_where_nothing_is_known_no_date_is_made_up() -> None:
    window = pruning_window(leaf_out=None, margins=None, calendar=None, why_not="It is evergreen.")
    assert (window.opens_on, window.best_on, window.latest_on) == (None, None, None)
    assert (window.method, window.reason) == (Method.NONE, "It is evergreen.")


@pytest.mark.parametrize(
    "make",
    [
        lambda: Margins(opens_before=2, best_before=3, latest_after=7),
        lambda: Margins(opens_before=14, best_before=-8, latest_after=7),
        lambda: LeafOut(on=date(2026, 3, 1), early=date(2026, 3, 2)),
    ],
)
def test_what_cannot_be_is_refused(make: object) -> None:
    with pytest.raises(WindowError):
        make()  # type: ignore[operator]


@given(
    st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    st.integers(0, 40),
    st.integers(0, 40),
    st.integers(0, 60),
    st.integers(0, 30),
)
def test_a_window_opens_then_is_best_then_is_over(
    on: date, early: int, late: int, opens: int, after: int
) -> None:
    leaf_out = LeafOut(on=on, early=on - timedelta(days=early), late=on + timedelta(days=late))
    margins = Margins(opens_before=opens, best_before=min(opens, 3), latest_after=after)
    window = pruning_window(leaf_out=leaf_out, margins=margins, calendar=None)
    assert window.opens_on
    assert window.best_on
    assert window.latest_on
    assert window.opens_on <= window.best_on <= window.latest_on
