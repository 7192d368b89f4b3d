"""The stages of one crop: what moves them, what stops them, and why."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.stage_forecasts import (
    STAGES,
    Crop,
    CropDays,
    Cycle,
    DayRange,
    Done,
    Forecast,
    ForecastError,
    Method,
    Recorded,
    Seen,
    Span,
    SpeciesFacts,
    Stage,
    cycle_of,
    forecast_from_plan,
    forecasts,
    surprise,
)
from tests.compute.growing import cycle, on, sight


def days(low: float, high: float, source: str = "a book") -> DayRange:
    return DayRange(low=low, high=high, source=source)


SPECIES = SpeciesFacts(
    name="sugar apple",
    days={
        (Stage.OPENING, Stage.LEAF_OUT): days(5, 25),
        (Stage.OPENING, Stage.FIRST_BLOOM): days(50, 80),
        (Stage.FIRST_BLOOM, Stage.HALF_BLOOM): days(20, 30),
        (Stage.FIRST_BLOOM, Stage.END_OF_BLOOM): days(45, 65),
        (Stage.FIRST_BLOOM, Stage.FIRST_PICKING): days(110, 120),
        (Stage.FIRST_BLOOM, Stage.SKIN_CHANGE): days(95, 110),
        (Stage.SKIN_CHANGE, Stage.FIRST_PICKING): days(5, 20),
        (Stage.FIRST_PICKING, Stage.LAST_PICKING): days(60, 80),
    },
)
UNKNOWN = SpeciesFacts(name="custard apple")


def of(found: tuple[Forecast, ...]) -> dict[Stage, Forecast]:
    return {each.stage: each for each in found}


def ahead(
    this: Cycle, past: list[Cycle] | None = None, facts: SpeciesFacts = SPECIES, **as_of: date
) -> dict[Stage, Forecast]:
    day = as_of.get("as_of", on(2026, 12, 31))
    return of(forecasts(Crop(cycle=this, past=past or [], facts=facts), day))


def three_seasons() -> list[Cycle]:
    """Bloom 58, 62 and 66 days after pruning, on days that differ by a month."""
    prunings = {2023: on(2023, 2, 20), 2024: on(2024, 3, 20), 2025: on(2025, 3, 5)}
    return [
        cycle(year, opening=pruned, first_bloom=pruned + timedelta(days=bloom))
        for (year, pruned), bloom in zip(prunings.items(), (58, 62, 66), strict=True)
    ]


# What moves them ---------------------------------------------------------------------------------


def test_the_reason_is_one_a_grower_can_follow() -> None:
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), three_seasons(), as_of=on(2026, 3, 6))
    bloom = found[Stage.FIRST_BLOOM]
    assert bloom.method is Method.DAYS
    assert bloom.on == on(2026, 5, 6)
    assert bloom.reason == (
        "Pruned 5 March. On this block first bloom came 58 to 66 days after pruning in 3 seasons."
    )


def test_every_stage_follows_from_the_pruning_by_the_species_days() -> None:
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), as_of=on(2026, 3, 6))
    assert [(stage, found[stage].on) for stage in STAGES if stage is not Stage.SKIN_CHANGE] == [
        (Stage.LEAF_OUT, on(2026, 3, 20)),
        (Stage.FIRST_BLOOM, on(2026, 5, 9)),
        (Stage.HALF_BLOOM, on(2026, 6, 3)),
        (Stage.END_OF_BLOOM, on(2026, 7, 3)),
        (Stage.FIRST_PICKING, on(2026, 9, 1)),
        (Stage.LAST_PICKING, on(2026, 11, 10)),
    ]
    assert found[Stage.FIRST_BLOOM].low == on(2026, 4, 24)
    assert found[Stage.FIRST_BLOOM].high == on(2026, 5, 24)
    assert found[Stage.FIRST_BLOOM].method is Method.SPECIES


def test_a_stage_counted_from_a_forecast_one_is_less_sure_than_from_a_seen_one() -> None:
    pruned = ahead(cycle(2026, opening=on(2026, 3, 5)), as_of=on(2026, 3, 6))
    seen = cycle(2026, opening=on(2026, 3, 5), first_bloom=on(2026, 5, 9))
    bloomed = ahead(seen, as_of=on(2026, 5, 10))
    assert width(pruned[Stage.FIRST_PICKING]) > width(bloomed[Stage.FIRST_PICKING])
    assert "First bloom is expected 9 May." in pruned[Stage.FIRST_PICKING].reason


def width(found: Forecast) -> int:
    assert found.low is not None
    assert found.high is not None
    return (found.high - found.low).days


@given(later=st.integers(-30, 60))
def test_when_bloom_is_seen_everything_after_it_moves_with_it(later: int) -> None:
    usual, moved = (
        ahead(cycle(2026, opening=on(2026, 3, 5), first_bloom=bloom), as_of=bloom)
        for bloom in (on(2026, 5, 9), on(2026, 5, 9) + timedelta(days=later))
    )
    for stage in STAGES[2:]:
        before, after = usual[stage].on, moved[stage].on
        assert before is not None
        assert after is not None
        assert (after - before).days == later


def test_the_latest_event_is_what_a_stage_is_counted_from() -> None:
    facts = replace(
        SPECIES, days={**SPECIES.days, (Stage.HALF_BLOOM, Stage.FIRST_PICKING): days(85, 95)}
    )
    seen = cycle(2026, first_bloom=on(2026, 5, 9), half_bloom=on(2026, 6, 9))
    found = ahead(seen, facts=facts, as_of=on(2026, 6, 10))[Stage.FIRST_PICKING]
    assert found.anchor is Stage.HALF_BLOOM
    assert found.on == on(2026, 6, 9) + timedelta(days=90)


def test_a_stage_not_yet_seen_on_the_day_is_still_ahead() -> None:
    seen = cycle(2026, opening=on(2026, 3, 5), first_bloom=on(2026, 5, 12))
    assert ahead(seen, as_of=on(2026, 5, 11))[Stage.FIRST_BLOOM].observed_on is None
    found = ahead(seen, as_of=on(2026, 5, 12))[Stage.FIRST_BLOOM]
    assert (found.observed_on, found.on, found.low) == (on(2026, 5, 12),) * 3
    assert found.reason == "First bloom seen 12 May."


def test_few_seasons_are_drawn_towards_the_species() -> None:
    past = [cycle(2025, opening=on(2025, 3, 5), first_bloom=on(2025, 5, 4))]
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), past, as_of=on(2026, 3, 6))
    bloom = found[Stage.FIRST_BLOOM]
    assert bloom.method is Method.SHRUNK
    assert bloom.on == on(2026, 3, 5) + timedelta(days=63)  # half way from 60 to 65
    assert "60 days after pruning in one season; the 50 to 80 days of sugar apple" in bloom.reason


def test_a_block_that_blooms_by_the_calendar_goes_by_its_mean_day() -> None:
    past = [
        cycle(year, opening=pruned, first_bloom=on(year, 5, day))
        for year, pruned, day in (
            (2023, on(2023, 2, 10), 10),
            (2024, on(2024, 3, 20), 11),
            (2025, on(2025, 3, 1), 12),
        )
    ]
    found = ahead(cycle(2026, opening=on(2026, 4, 1)), past, as_of=on(2026, 4, 2))
    bloom = found[Stage.FIRST_BLOOM]
    assert bloom.method is Method.HISTORY
    assert bloom.on == on(2026, 5, 11)
    assert bloom.reason == "On this block first bloom came between 10 May and 12 May in 3 seasons."
    assert bloom.anchor is None


def test_before_anything_of_the_season_is_done_the_calendar_speaks() -> None:
    past = [cycle(2025, leaf_out=on(2025, 3, 14)), cycle(2024, leaf_out=on(2024, 3, 10))]
    found = ahead(cycle(2026), past, as_of=on(2025, 12, 1))
    assert found[Stage.LEAF_OUT].on == on(2026, 3, 12)
    assert found[Stage.LEAF_OUT].method is Method.HISTORY


def test_the_calendar_over_new_year_and_29_february() -> None:
    past = [
        replace(cycle(year), starts_on=on(year, 7, 1), sights={Stage.LEAF_OUT: sight(day)})
        for year, day in (
            (2023, on(2024, 2, 29)),
            (2021, on(2022, 2, 28)),
            (2022, on(2023, 2, 28)),
        )
    ]
    this = replace(cycle(2024), starts_on=on(2024, 7, 1))
    found = ahead(this, past, as_of=on(2024, 8, 1))[Stage.LEAF_OUT]
    assert found.on == on(2025, 2, 28)
    assert "between 28 February and 29 February in 3 seasons" in found.reason


def test_days_across_29_february_are_days() -> None:
    facts = SpeciesFacts(name="x", days={(Stage.OPENING, Stage.LEAF_OUT): days(10, 30)})
    leap = ahead(cycle(2028, opening=on(2028, 2, 15)), facts=facts, as_of=on(2028, 2, 16))
    plain = ahead(cycle(2026, opening=on(2026, 2, 15)), facts=facts, as_of=on(2026, 2, 16))
    assert leap[Stage.LEAF_OUT].on == on(2028, 3, 6)
    assert plain[Stage.LEAF_OUT].on == on(2026, 3, 7)


def test_a_stage_that_is_late_says_since_when() -> None:
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), as_of=on(2026, 6, 1))[Stage.FIRST_BLOOM]
    assert found.on == on(2026, 5, 9)
    assert found.reason.endswith("It was due by 24 May and is not recorded yet.")


# What stops them ---------------------------------------------------------------------------------


def test_without_history_or_species_days_there_is_no_date_and_what_is_missing_is_named() -> None:
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), facts=UNKNOWN, as_of=on(2026, 3, 6))
    bloom = found[Stage.FIRST_BLOOM]
    assert (bloom.method, bloom.on, bloom.low, bloom.high) == (Method.NOT_KNOWN, None, None, None)
    assert bloom.reason == (
        "First bloom has no date: it was seen on this block in no earlier season, and no days to it"
        " are known for custard apple."
    )


def test_a_season_not_yet_begun_has_no_made_up_date() -> None:
    found = ahead(cycle(2027), as_of=on(2026, 11, 1))
    assert {each.on for each in found.values()} == {None}
    assert "the season begins 1 January 2027, nothing of it is planned" in (
        found[Stage.LEAF_OUT].reason
    )


def test_a_season_without_any_record_says_that_nothing_is_recorded() -> None:
    found = ahead(cycle(2026), as_of=on(2026, 6, 1))[Stage.LEAF_OUT]
    assert "neither pruning, leaf stripping nor an earlier stage is recorded" in found.reason


def test_what_does_not_apply_says_so() -> None:
    facts = SpeciesFacts(name="soursop", does_not_apply={Stage.LEAF_OUT: "It is evergreen."})
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), facts=facts)[Stage.LEAF_OUT]
    assert (found.method, found.on) == (Method.DOES_NOT_APPLY, None)
    assert found.reason == "It is evergreen."


def test_a_stage_passed_unseen_is_not_forecast_into_the_past() -> None:
    found = ahead(cycle(2026, end_of_bloom=on(2026, 6, 20)), as_of=on(2026, 6, 21))
    assert found[Stage.FIRST_BLOOM].method is Method.PASSED
    assert found[Stage.FIRST_BLOOM].on is None
    assert found[Stage.FIRST_BLOOM].reason == (
        "First bloom was not recorded, and is past: end of bloom was seen 20 June."
    )


def test_degree_days_do_not_apply_without_a_base_temperature() -> None:
    """Sugar apple: no base was found published, and three crops are too few to fit one."""
    found = ahead(cycle(2026, opening=on(2026, 3, 5)), three_seasons(), as_of=on(2026, 3, 6))
    assert "degree-days" not in found[Stage.FIRST_BLOOM].inputs["errors_days"]  # type: ignore[operator]


@pytest.mark.parametrize(("low", "high"), [(20, 20), (30, 20), (-1, 20)])
def test_a_range_of_days_is_one(low: float, high: float) -> None:
    with pytest.raises(ForecastError, match="which is none"):
        days(low, high)


def test_bounds_of_a_fit_are_a_range() -> None:
    with pytest.raises(ForecastError, match="fitted from 12 to 5 C"):
        SpeciesFacts(name="x", fit_from_c=12, fit_to_c=5)


stages_seen = st.dictionaries(
    st.sampled_from(Stage), st.integers(0, 360).map(lambda n: on(2026, 1, 1) + timedelta(days=n))
)


@given(seen=stages_seen, as_of=st.integers(0, 400))
def test_intervals_hold_their_date_and_no_stage_comes_before_what_it_is_counted_from(
    seen: dict[Stage, date], as_of: int
) -> None:
    this = replace(cycle(2026), sights={stage: sight(day) for stage, day in seen.items()})
    found = ahead(this, three_seasons(), as_of=on(2026, 1, 1) + timedelta(days=as_of))
    assert list(found) == list(STAGES)
    for each in found.values():
        assert each.reason
        if each.on is None:
            assert each.low is None
            assert each.high is None
            continue
        assert each.low is not None
        assert each.high is not None
        assert each.low <= each.on <= each.high
        if each.anchor_on is not None:
            assert each.anchor_on <= each.on


# Plans -------------------------------------------------------------------------------------------


def test_a_planned_strip_and_prune_has_its_bloom_and_harvest() -> None:
    crop = Crop(cycle=cycle(2026, "second"), past=[], facts=SPECIES)
    found = of(forecast_from_plan(crop, on(2026, 7, 1), on(2026, 5, 1), kind="leaf stripping"))
    assert found[Stage.FIRST_BLOOM].on == on(2026, 9, 4)
    assert found[Stage.FIRST_PICKING].on == on(2026, 12, 28)
    assert found[Stage.FIRST_BLOOM].reason.startswith("Leaves stripped 1 July, as planned.")


def test_a_plan_for_cherimoya_comes_later_with_its_defoliation() -> None:
    """Soler & Cuevas 2008: delayed by 15 days, the harvest is delayed by 15-20 days."""
    crop = Crop(cycle=cycle(2026, "second"), past=[], facts=SPECIES)
    early, late = (
        of(forecast_from_plan(crop, opened, on(2026, 5, 1)))[Stage.FIRST_PICKING].on
        for opened in (on(2026, 6, 1), on(2026, 6, 15))
    )
    assert early is not None
    assert late is not None
    assert 14 <= (late - early).days <= 20


# What the records show ---------------------------------------------------------------------------

MAIN = CropDays(
    season_year=2026,
    crop="main",
    crop_id="m",
    starts_on=on(2026, 1, 1),
    ends_on=on(2026, 12, 31),
)


def seen(*stages: tuple[int, date], **more: object) -> Cycle:
    found = [Seen(bbch=bbch, on=day) for bbch, day in stages]
    return cycle_of(MAIN, Recorded(stages=found, **more))  # type: ignore[arg-type]


# BBCH, the stages that its first sight shows, and whether they count for the block's history.
FIRST_SIGHTS = [
    (7, {Stage.LEAF_OUT: True}),
    (11, {Stage.LEAF_OUT: True}),
    # Shoots well out: leaf-out was before.
    (15, {Stage.LEAF_OUT: False}),
    (60, {Stage.FIRST_BLOOM: True}),
    # Half open and nothing seen before: bloom is on, its first day is not known.
    (65, {Stage.FIRST_BLOOM: False, Stage.HALF_BLOOM: True}),
    (67, {Stage.FIRST_BLOOM: False, Stage.HALF_BLOOM: False}),
    (69, {Stage.END_OF_BLOOM: True}),
    (81, {Stage.SKIN_CHANGE: True}),
    (85, {Stage.SKIN_CHANGE: False}),
    (87, {Stage.FIRST_PICKING: True}),
    # Flower buds, fruit growing: none of the stages that are forecast.
    (55, {}),
    (75, {}),
]


@pytest.mark.parametrize(("bbch", "shown"), FIRST_SIGHTS)
def test_what_a_first_sight_shows(bbch: int, shown: dict[Stage, bool]) -> None:
    found = seen((bbch, on(2026, 5, 1)))
    assert {stage: each.is_exact for stage, each in found.sights.items()} == shown


def test_skipped_stages_count_from_their_first_sight_and_stay_out_of_history() -> None:
    late = seen((65, on(2026, 5, 30)))
    assert late.sights[Stage.FIRST_BLOOM].told == "BBCH 65"
    assert late.days_between(Stage.FIRST_BLOOM, Stage.HALF_BLOOM, on(2026, 12, 31)) is None
    found = of(forecasts(Crop(cycle=late, past=[], facts=SPECIES), on(2026, 6, 1)))
    assert found[Stage.FIRST_BLOOM].reason == "First bloom: BBCH 65 seen 30 May, nothing before."


def test_a_picking_and_hand_pollination_show_their_stages() -> None:
    found = seen(
        (61, on(2026, 5, 20)),
        pollinations=[Span(first=on(2026, 5, 14), last=on(2026, 5, 28))],
        pickings=[Span(first=on(2026, 9, 3), last=on(2026, 9, 29))],
    )
    assert found.sights[Stage.FIRST_BLOOM].on == on(2026, 5, 14)
    assert not found.sights[Stage.FIRST_BLOOM].is_exact
    assert found.sights[Stage.FIRST_PICKING].on == on(2026, 9, 3)


def test_the_last_picking_is_known_when_picking_has_ended() -> None:
    pickings = [Span(first=on(2026, 9, 3), last=on(2026, 11, 5))]
    until_the_season_ends = seen(pickings=pickings).sights[Stage.LAST_PICKING]
    assert (until_the_season_ends.on, until_the_season_ends.known_on) == (
        on(2026, 11, 5),
        on(2027, 1, 1),
    )
    until_99 = seen((99, on(2026, 11, 12)), pickings=pickings).sights[Stage.LAST_PICKING]
    assert until_99.known_on == on(2026, 11, 12)
    said = replace(MAIN, picking_ends_on=on(2026, 11, 6))
    by_crop = cycle_of(said, Recorded(pickings=pickings)).sights[Stage.LAST_PICKING]
    assert by_crop.known_on == on(2026, 11, 6)


def test_the_first_pruning_opens_the_crop_and_one_after_bloom_does_not() -> None:
    prunings = [Done(kind="pruning", on=day) for day in (on(2026, 3, 9), on(2026, 3, 5))]
    assert seen(openings=prunings).sights[Stage.OPENING].on == on(2026, 3, 5)
    late = seen((60, on(2026, 3, 1)), openings=prunings)
    assert Stage.OPENING not in late.sights
    found = of(forecasts(Crop(cycle=late, past=[], facts=SPECIES), on(2026, 4, 1)))
    assert found[Stage.FIRST_BLOOM].reason == (
        "First bloom seen 1 March. The pruning of 5 March came after bloom was seen, so nothing is"
        " counted from it."
    )


def test_records_of_another_crop_are_not_this_ones() -> None:
    second = replace(MAIN, crop="second", crop_id="s", starts_on=on(2026, 7, 1))
    pickings = [
        Span(first=on(2026, 9, 3), last=on(2026, 9, 29), crop="m"),
        Span(first=on(2026, 12, 1), last=on(2026, 12, 20), crop="s"),
    ]
    recorded = Recorded(
        stages=[Seen(bbch=60, on=on(2026, 5, 12)), Seen(bbch=60, on=on(2026, 8, 20))],
        pickings=pickings,
    )
    found = cycle_of(second, recorded)
    assert found.sights[Stage.FIRST_BLOOM].on == on(2026, 8, 20)
    assert found.sights[Stage.FIRST_PICKING].on == on(2026, 12, 1)
    assert cycle_of(MAIN, recorded).sights[Stage.FIRST_PICKING].on == on(2026, 9, 3)


def test_the_crops_own_dates_count_even_before_its_season() -> None:
    crop = replace(
        MAIN, opened_on=on(2025, 12, 20), opened_by="pruning", bloom_began_on=on(2026, 3, 1)
    )
    found = cycle_of(crop, Recorded())
    assert found.sights[Stage.OPENING].on == on(2025, 12, 20)
    assert found.sights[Stage.FIRST_BLOOM].told == "crop"


# Surprises ---------------------------------------------------------------------------------------

LOW, HIGH = on(2026, 5, 8), on(2026, 5, 16)
# The day on which bloom was seen, and what is told of it.
COMINGS = [
    (on(2026, 5, 8), None),
    (on(2026, 5, 16), None),
    (on(2026, 5, 7), "First bloom came on 7 May, 1 day sooner than forecast (8 May to 16 May)."),
    (on(2026, 5, 26), "First bloom came on 26 May, 10 days later than forecast (8 May to 16 May)."),
    (None, None),
]


@pytest.mark.parametrize(("observed_on", "message"), COMINGS)
def test_bloom_beyond_its_interval_is_told(observed_on: date | None, message: str | None) -> None:
    found = surprise(Stage.FIRST_BLOOM, observed_on, LOW, HIGH)
    assert (found.message if found else None) == message


def test_bloom_without_a_forecast_is_no_surprise() -> None:
    assert surprise(Stage.FIRST_BLOOM, on(2026, 5, 7), None, None) is None
