"""Past forecasts against what happened."""

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise

import pytest

from planning.compute.stage_forecasts import (
    Crop,
    DayRange,
    SpeciesFacts,
    Stage,
    Trial,
    scores,
    trials,
)
from tests.compute.growing import cycle, on

FACTS = SpeciesFacts(
    name="sugar apple",
    days={
        (Stage.OPENING, Stage.FIRST_BLOOM): DayRange(low=50, high=80, source="a book"),
        (Stage.FIRST_BLOOM, Stage.FIRST_PICKING): DayRange(low=110, high=120, source="a book"),
    },
)
THIS = cycle(
    2026, opening=on(2026, 3, 5), first_bloom=on(2026, 5, 12), first_picking=on(2026, 9, 1)
)


def crop_on(asked: list[date]) -> Callable[[date], Crop]:
    def crop(made_on: date) -> Crop:
        asked.append(made_on)
        return Crop(cycle=THIS, past=[], facts=FACTS)

    return crop


def found(every_days: int = 7) -> list[Trial]:
    return list(trials(THIS, crop_on([]), every_days=every_days))


def test_a_forecast_is_made_every_week_from_the_first_day_to_the_last_stage() -> None:
    asked: list[date] = []
    list(trials(THIS, crop_on(asked), every_days=7))
    assert asked[0] == on(2026, 1, 1)
    assert {(later - day).days for day, later in pairwise(asked)} == {7}
    assert on(2026, 8, 25) <= asked[-1] < on(2026, 9, 1)


def test_nothing_is_foretold_before_its_anchor_or_once_it_was_seen() -> None:
    for each in found(1):
        assert on(2026, 3, 5) <= each.made_on < each.observed_on
    bloom = [each.made_on for each in found(1) if each.stage is Stage.FIRST_BLOOM]
    assert (bloom[0], bloom[-1]) == (on(2026, 3, 5), on(2026, 5, 11))


def test_a_forecast_knows_nothing_of_what_came_after_it() -> None:
    """Before bloom the picking is counted from the bloom expected, after it from the bloom seen."""
    picking = {each.made_on: each.on for each in found(1) if each.stage is Stage.FIRST_PICKING}
    assert picking[on(2026, 5, 11)] == on(2026, 5, 9) + timedelta(days=115)
    assert picking[on(2026, 5, 12)] == on(2026, 5, 12) + timedelta(days=115)


def test_errors_are_in_days_above_nought_where_the_stage_came_sooner() -> None:
    bloom = next(each for each in found() if each.stage is Stage.FIRST_BLOOM)
    assert (bloom.on, bloom.observed_on) == (on(2026, 5, 9), on(2026, 5, 12))
    assert (bloom.error_days, bloom.is_held) == (-3, True)
    assert bloom.days_ahead == (on(2026, 5, 12) - bloom.made_on).days


def test_the_scores_by_hand() -> None:
    by_stage = {each.stage: each for each in scores(found(1))}
    bloom, picking = by_stage[Stage.FIRST_BLOOM], by_stage[Stage.FIRST_PICKING]
    assert bloom.forecasts == 68  # 5 March to 11 May
    assert bloom.mean_absolute_error_days == 3
    assert (bloom.mean_error_days, bloom.held_share) == (-3, 1)
    # 68 forecasts of 1 September itself, and 112 of 4 September from 12 May on.
    assert picking.forecasts == 68 + 112
    assert picking.mean_absolute_error_days == pytest.approx(112 * 3 / 180)
    none = by_stage[Stage.SKIN_CHANGE]
    assert (none.forecasts, none.mean_absolute_error_days, none.held_share) == (0, None, None)


def test_a_season_of_which_nothing_was_seen_is_not_scored() -> None:
    assert list(trials(cycle(2026, opening=on(2026, 3, 5)), crop_on([]), every_days=7)) == []
