"""The shed's intakes: as many kilos as were delivered, sorted within days, never ahead of time."""

import datetime as dt

from orchard.demo.cast import Cast
from orchard.demo.cast_files import read_cast
from orchard.demo.shed import SORTED_WITHIN, intakes

AS_OF = dt.date(2026, 10, 31)


def test_what_was_sorted_adds_up_to_the_net_weight(cast: Cast) -> None:
    found = list(intakes(cast))
    assert found
    for intake in found:
        parts = sum(intake.sorted_g.values()) + intake.rejected_g
        assert parts == (intake.net_g if intake.sorted_g else 0)
        assert intake.rejected_g >= 0


def test_what_came_in_last_is_not_sorted_yet(cast: Cast) -> None:
    for intake in intakes(cast):
        assert intake.received_on <= cast.as_of
        assert bool(intake.sorted_g) is (intake.received_on + SORTED_WITHIN <= cast.as_of)


def test_two_runs_of_one_day_take_in_the_same() -> None:
    assert list(intakes(read_cast(AS_OF))) == list(intakes(read_cast(AS_OF)))
