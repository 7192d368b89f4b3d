"""Past forecasts against what happened."""

from datetime import timedelta
from itertools import pairwise

import pytest

from planning.compute.stage_forecasts import (
    Crop,
    DayRange,
    SpeciesFacts,
    Stage,
    Trial,
    scores,
    trial_days,
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


CROP = Crop(cycle=THIS, past=[], facts=FACTS)


def found(every_days: int = 7) -> list[Trial]:
    return [
        trial
        for made_on in trial_days(THIS, every_days=every_days)
        for trial in trials(CROP, made_on)
    ]


def test_a_forecast_is_made_every_week_from_the_first_day_to_the_last_stage() -> None:
    days = list(trial_days(THIS, every_days=7))
    assert days[0] == on(2026, 1, 1)
    assert {(later - day).days for day, later in pairwise(days)} == {7}
    assert on(2026, 8, 25) <= days[-1] < on(2026, 9, 1)


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
    assert list(trial_days(cycle(2026, opening=on(2026, 3, 5)), every_days=7)) == []
