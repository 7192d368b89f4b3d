"""Every day belongs to one season, whatever happens to the start month."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from records.seasons import Season, SeasonError, SeasonStart, season_of, season_span


def start(month: int, applies_from: date | None = None) -> SeasonStart:
    return SeasonStart(applies_from=applies_from, month=month)


JANUARY = [start(1)]
JULY = [start(7)]
JULY_THEN_JANUARY = [start(7), start(1, date(2026, 3, 1))]
JULY_THEN_NEW_YEAR = [start(7), start(1, date(2026, 1, 1))]
TWICE_CHANGED = [start(7), start(3, date(2026, 1, 1)), start(5, date(2027, 1, 1))]
JANUARY_THEN_JULY = [start(1), start(7, date(2026, 3, 1))]


@pytest.mark.parametrize(
    ("day", "starts", "label", "starts_on", "ends_on"),
    [
        # a calendar year: the first day of it
        (date(2026, 1, 1), JANUARY, "2026", date(2026, 1, 1), date(2026, 12, 31)),
        # and the last
        (date(2026, 12, 31), JANUARY, "2026", date(2026, 1, 1), date(2026, 12, 31)),
        # southern hemisphere: the season crosses New Year
        (date(2026, 7, 1), JULY, "2026/27", date(2026, 7, 1), date(2027, 6, 30)),
        # the same season after New Year
        (date(2027, 2, 14), JULY, "2026/27", date(2026, 7, 1), date(2027, 6, 30)),
        # the day before the start is the last of the season before
        (date(2026, 6, 30), JULY, "2025/26", date(2025, 7, 1), date(2026, 6, 30)),
        # a leap day is the last day of a season that starts in March
        (date(2028, 2, 29), [start(3)], "2027/28", date(2027, 3, 1), date(2028, 2, 29)),
        # and so is the 28th in an ordinary year
        (date(2027, 2, 28), [start(3)], "2026/27", date(2026, 3, 1), date(2027, 2, 28)),
        # the turn of a century keeps two digits
        (date(2099, 12, 1), JULY, "2099/00", date(2099, 7, 1), date(2100, 6, 30)),
    ],
)
def test_a_day_belongs_to_the_season_that_began_last(
    day: date, starts: list[SeasonStart], label: str, starts_on: date, ends_on: date
) -> None:
    season = season_of(day, starts)
    assert season == Season(year=starts_on.year, label=label, starts_on=starts_on, ends_on=ends_on)


@pytest.mark.parametrize(
    ("year", "starts", "label", "starts_on", "ends_on"),
    [
        # running at the change from July: ends as it always would
        (2025, JULY_THEN_JANUARY, "2025/26", date(2025, 7, 1), date(2026, 6, 30)),
        # the short one at the seam lies within one calendar year, and is named so
        (2026, JULY_THEN_JANUARY, "2026", date(2026, 7, 1), date(2026, 12, 31)),
        # from then on January
        (2027, JULY_THEN_JANUARY, "2027", date(2027, 1, 1), date(2027, 12, 31)),
        # closed before the change from January: untouched
        (2025, JANUARY_THEN_JULY, "2025", date(2025, 1, 1), date(2025, 12, 31)),
        # running at the change: July 2026 would be a second season of 2026, so it runs on
        (2026, JANUARY_THEN_JULY, "2026/27", date(2026, 1, 1), date(2027, 6, 30)),
        # from then on July
        (2027, JANUARY_THEN_JULY, "2027/28", date(2027, 7, 1), date(2028, 6, 30)),
        # a change on the very day a season begins leaves that season its first day
        (
            2026,
            [start(7), start(9, date(2026, 7, 1))],
            "2026/27",
            date(2026, 7, 1),
            date(2027, 8, 31),
        ),
        # a change the day before moves that first day
        (
            2026,
            [start(7), start(9, date(2026, 6, 30))],
            "2026/27",
            date(2026, 9, 1),
            date(2027, 8, 31),
        ),
        # a change to the month that applies already changes nothing
        (
            2026,
            [start(7), start(7, date(2026, 3, 1))],
            "2026/27",
            date(2026, 7, 1),
            date(2027, 6, 30),
        ),
        # a change on the day of its own first start takes hold that day
        (2026, JULY_THEN_NEW_YEAR, "2026", date(2026, 1, 1), date(2026, 12, 31)),
        # and cuts short the season that was running
        (2025, JULY_THEN_NEW_YEAR, "2025", date(2025, 7, 1), date(2025, 12, 31)),
        # of two changes before a season begins the later one counts, in whatever order given
        (2028, TWICE_CHANGED, "2028/29", date(2028, 5, 1), date(2029, 4, 30)),
        (2028, TWICE_CHANGED[::-1], "2028/29", date(2028, 5, 1), date(2029, 4, 30)),
    ],
)
def test_a_changed_start_leaves_earlier_seasons_alone(
    year: int, starts: list[SeasonStart], label: str, starts_on: date, ends_on: date
) -> None:
    season = season_span(year, starts)
    assert season == Season(year=year, label=label, starts_on=starts_on, ends_on=ends_on)


@pytest.mark.parametrize(
    ("starts", "message"),
    [
        # nothing says when seasons started before the change
        ([start(7, date(2026, 1, 1))], "exactly one"),
        # none at all
        ([], "exactly one"),
        # two that always applied
        ([start(7), start(1)], "exactly one"),
        # two changes on one date
        ([start(7), start(1, date(2026, 1, 1)), start(2, date(2026, 1, 1))], "same date"),
    ],
)
def test_starts_that_contradict_each_other_are_refused(
    starts: list[SeasonStart], message: str
) -> None:
    with pytest.raises(SeasonError, match=message):
        season_of(date(2026, 5, 1), starts)


@pytest.mark.parametrize("month", [0, 13, -1])
def test_a_start_month_outside_the_year_is_refused(month: int) -> None:
    with pytest.raises(SeasonError, match="1 to 12"):
        start(month)


@pytest.mark.parametrize("day", [date.min, date.max])
def test_a_season_that_leaves_the_calendar_is_refused(day: date) -> None:
    with pytest.raises(SeasonError, match="no season can start"):
        season_of(day, JULY)


days = st.dates(min_value=date(1990, 1, 1), max_value=date(2060, 12, 31))
months = st.integers(1, 12)


@st.composite
def season_starts(draw: st.DrawFn) -> list[SeasonStart]:
    changes = draw(st.dictionaries(days, months, max_size=4))
    dated = [start(month, applies_from) for applies_from, month in changes.items()]
    return [start(draw(months)), *dated]


@given(day=days, starts=season_starts())
@example(day=date(2028, 2, 29), starts=[start(3), start(2, date(2028, 2, 29))])
def test_every_day_belongs_to_exactly_one_season(day: date, starts: list[SeasonStart]) -> None:
    around = [season_span(year, starts) for year in range(day.year - 3, day.year + 4)]
    holding = [season for season in around if season.starts_on <= day <= season.ends_on]
    assert holding == [season_of(day, starts)]


@given(starts=season_starts())
def test_seasons_follow_without_a_gap_and_are_never_named_alike(starts: list[SeasonStart]) -> None:
    seasons = [season_span(year, starts) for year in range(1985, 2066)]
    for season, following in pairwise(seasons):
        assert season.ends_on + timedelta(days=1) == following.starts_on
    assert len({season.label for season in seasons}) == len(seasons)
    assert all(season.starts_on.year == season.year for season in seasons)


@given(starts=season_starts(), applies_from=days, month=months)
def test_a_later_change_moves_no_day_of_a_season_that_has_ended(
    starts: list[SeasonStart], applies_from: date, month: int
) -> None:
    assume(all(s.applies_from is None or s.applies_from < applies_from for s in starts))
    changed = [*starts, start(month, applies_from)]
    running = season_of(applies_from, starts)
    assert season_span(running.year, changed).starts_on == running.starts_on
    for year in range(running.year - 5, running.year):
        assert season_span(year, changed) == season_span(year, starts)


@given(starts=season_starts(), applies_from=days, month=months)
def test_a_change_has_taken_hold_by_the_second_year_after_it(
    starts: list[SeasonStart], applies_from: date, month: int
) -> None:
    assume(all(s.applies_from is None or s.applies_from < applies_from for s in starts))
    changed = [*starts, start(month, applies_from)]
    assert season_span(applies_from.year + 1, changed).starts_on.month == month
