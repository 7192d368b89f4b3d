"""The pollination plan against its sources and against sums done by hand."""

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest

from planning.compute.labour import (
    BlockBloom,
    BlockPlan,
    Bloom,
    ByFlower,
    ByTree,
    DoneVisit,
    Extras,
    LabourError,
    OpenedSoFar,
    Session,
    Target,
    bloom_as_counted,
    crew_fit,
    crew_plan,
    people_needed,
    visits_of,
)
from planning.compute.labour.room import covered
from planning.compute.labour.visits import worker_sessions

MAY = date(2026, 5, 1)
JUNE_29 = date(2026, 6, 29)
MORNING = Session(from_minute=5 * 60, to_minute=9 * 60 + 30)


def may(day: int) -> date:
    return date(2026, 5, day)


def hours(*sessions: Session, days: int = 70) -> dict[date, list[Session]]:
    return {MAY + timedelta(days=n): list(sessions) for n in range(days)}


def a_block(**changes: Any) -> BlockBloom:
    """Sixty days of bloom from 1 May; ten trees of a hundred flowers; five visits."""
    values: dict[str, Any] = {
        "block": "N1",
        "trees": 10,
        "flowers_per_tree": 100,
        "bloom": Bloom(first_on=MAY, end_on=JUNE_29),
        "receptive_days": 1,
        "number": 5,
        "spacing_days": 3,
        "pace": ByTree(minutes_per_tree=10),
        "hours": hours(MORNING),
    }
    return BlockBloom(**(values | changes))


def one_day(**changes: Any) -> BlockBloom:
    """900 flowers, all of which open on one day."""
    values: dict[str, Any] = {
        "trees": 9,
        "bloom": Bloom(first_on=MAY, end_on=MAY),
        "pace": ByFlower(flowers_per_hour=150),
    }
    return a_block(**(values | changes))


def plans_of(*blocks: BlockBloom) -> dict[str, BlockPlan]:
    return {block.block: visits_of(block) for block in blocks}


# The worked example ------------------------------------------------------------------------------


def test_nine_hundred_flowers_take_two_people_one_morning() -> None:
    """Worked from Paull & Duarte 2011, ch. 6 (150 flowers an hour; 20-30 donors serve 50-60) and
    du Preez, ACOTANC 2001 (work from 05:00 to 09:30)."""
    (visit,) = visits_of(one_day(extras=Extras(donors_per_flower=0.5))).visits
    assert visit.flowers == pytest.approx(900)
    assert visit.worker_hours == pytest.approx(6.0)
    assert visit.session_minutes == 270
    assert visit.people == 2
    assert visit.worker_sessions == 2
    assert visit.donor_flowers == pytest.approx(450)


def test_a_person_pollinates_675_flowers_in_that_morning() -> None:
    """The same source: 4.5 h at 150 an hour."""
    block = one_day()
    done = crew_plan([block], plans_of(block), 1)
    # Whole trees of a hundred flowers each: six of the 6.75 that there is time for.
    assert [(work.trees, work.flowers) for work in done] == [(6, pytest.approx(600))]


def test_eight_in_ten_of_them_set() -> None:
    """Facts of the same example: 900 flowers at 80 % are 720 set."""
    assert visits_of(one_day(set_and_retention=0.8)).fruit == pytest.approx(720)


# The bloom curve ---------------------------------------------------------------------------------


@pytest.mark.parametrize("days", [4, 8, 56, 60, 100])
def test_four_fifths_of_the_flowers_open_in_the_middle_half(days: int) -> None:
    """Cherimoya hand-pollination notes, New Zealand: about 80 % in the middle four weeks of two
    months."""
    bloom = Bloom(first_on=MAY, end_on=MAY + timedelta(days=days - 1))
    middle = bloom.opened_after(days * 3 / 4) - bloom.opened_after(days / 4)
    assert middle == pytest.approx(0.8, abs=1e-12)
    assert bloom.opened_by(bloom.end_on) == 1


@pytest.mark.parametrize("share", [0.5, 0.65, 0.8, 0.95])
def test_another_share_of_the_middle_half_is_kept_too(share: float) -> None:
    bloom = Bloom(first_on=MAY, end_on=MAY + timedelta(days=39), middle_share=share)
    assert bloom.opened_after(30) - bloom.opened_after(10) == pytest.approx(share)


def test_own_counts_bend_the_curve_and_are_kept_exactly() -> None:
    counts = [OpenedSoFar(on=may(11), share=0.1), OpenedSoFar(on=may(20), share=0.5)]
    bloom = Bloom(first_on=MAY, end_on=JUNE_29, counts=counts)
    assert bloom.opened_by(may(11)) == pytest.approx(0.1)
    assert bloom.opened_by(may(20)) == pytest.approx(0.5)
    assert bloom.opened_by(JUNE_29) == 1


def test_a_count_of_all_flowers_ends_the_opening() -> None:
    bloom = Bloom(first_on=MAY, end_on=may(30), counts=[OpenedSoFar(on=may(20), share=1)])
    assert bloom.receptive_on(may(21), 1) == 0


def counted(*shares: tuple[int, float], end_is_seen: bool = False) -> Bloom:
    """A bloom expected to last from 1 to 20 May, with shares counted on days of May."""
    counts = [OpenedSoFar(on=may(day), share=share) for day, share in shares]
    return bloom_as_counted(first_on=MAY, end_on=may(20), end_is_seen=end_is_seen, counts=counts)


COUNTED = [
    # As expected: the end stays.
    (counted((5, 0.1), (10, 0.5)), may(20), [0.1, 0.5]),
    # A later, lower share and one before the bloom are left out.
    (counted((5, 0.3), (8, 0.2), (10, 0.5)), may(20), [0.3, 0.5]),
    # Two of one day: the higher.
    (counted((5, 0.1), (5, 0.2)), may(20), [0.2]),
    # Half of the flowers only on the last day: 20 days a half, so 40 days in all.
    (counted((20, 0.5)), date(2026, 6, 9), [0.5]),
    # An end that was seen stands, and what contradicts it goes.
    (counted((10, 0.5), (25, 0.7), end_is_seen=True), may(20), [0.5]),
]


@pytest.mark.parametrize(("bloom", "end_on", "shares"), COUNTED)
def test_counts_that_fit_together_are_kept_and_may_move_the_end(
    bloom: Bloom, end_on: date, shares: list[float]
) -> None:
    assert (bloom.end_on, [count.share for count in bloom.counts]) == (end_on, shares)


WRONG_BLOOMS = [
    ({"end_on": date(2026, 4, 30)}, "before its first flowers"),
    ({"counts": [OpenedSoFar(on=may(3), share=1.2)]}, "not from 0 to 1"),
    ({"counts": [OpenedSoFar(on=date(2026, 4, 2), share=0.2)]}, "outside the bloom"),
    ({"counts": [OpenedSoFar(on=JUNE_29, share=0.5)]}, "not all flowers had opened"),
    (  # fewer flowers opened by a later day
        {"counts": [OpenedSoFar(on=may(9), share=0.5), OpenedSoFar(on=may(12), share=0.4)]},
        "by 2026-05-12 contradicts that by 2026-05-09",
    ),
    ({"middle_share": 0.3}, "0.5 to 1"),
]


@pytest.mark.parametrize(("wrong", "told"), WRONG_BLOOMS)
def test_a_bloom_that_cannot_be_is_refused(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(LabourError, match=told):
        Bloom(**({"first_on": MAY, "end_on": JUNE_29} | wrong))


# Flowers within reach ----------------------------------------------------------------------------


def test_a_visit_reaches_the_flowers_of_its_day_and_not_a_fifth_of_all() -> None:
    plan = visits_of(a_block())
    assert len(plan.visits) == 5
    assert plan.flowers_in_bloom == 1000
    for visit in plan.visits:
        opened = a_block().bloom.receptive_on(visit.on, 1)
        assert visit.flowers_in_reach == pytest.approx(1000 * opened)
    # Five days around the peak of a sixty-day bloom: about an eighth of the flowers.
    assert 0.1 < plan.flowers / 1000 < 0.16


def test_longer_receptive_life_brings_more_within_reach() -> None:
    short, long = visits_of(a_block()), visits_of(a_block(receptive_days=3))
    assert long.flowers > 2.5 * short.flowers


def test_visits_rest_as_long_as_a_flower_is_receptive() -> None:
    """Else the second visit would meet flowers that the first has seen."""
    plan = visits_of(a_block(receptive_days=2.5, spacing_days=1))
    dates = [visit.on for visit in plan.visits]
    assert all((b - a).days >= 3 for a, b in pairwise(dates))


def test_fixed_dates_are_kept_and_count_no_flower_twice() -> None:
    plan = visits_of(a_block(receptive_days=3, dates=[may(21), may(20)]))
    first, second = plan.visits
    assert (first.on, second.on) == (may(20), may(21))
    bloom = a_block().bloom
    assert first.flowers == pytest.approx(1000 * bloom.receptive_on(may(20), 3))
    assert second.flowers == pytest.approx(1000 * bloom.receptive_on(may(21), 1))


def test_visits_lie_around_the_peak_and_keep_their_spacing() -> None:
    dates = [visit.on for visit in visits_of(a_block()).visits]
    assert [(b - a).days for a, b in pairwise(dates)] == [3, 3, 3, 3]
    peak = MAY + timedelta(days=30)
    assert dates[0] < peak < dates[-1]


# The target --------------------------------------------------------------------------------------


def test_flowers_wanted_are_fruit_over_set_and_retention() -> None:
    """The chain 900 flowers x 0.80 x 0.75 = 540 fruit, backwards: computed by hand."""
    target = Target(fruit_per_tree=54, expected_set=0.80, expected_retention=0.75)
    assert target.flowers_per_tree == pytest.approx(90)
    assert visits_of(one_day(target=target)).flowers_wanted == pytest.approx(810)


def test_no_more_visits_are_planned_than_the_target_asks_for() -> None:
    target = Target(fruit_per_tree=3, expected_set=0.8, expected_retention=0.75)
    plan = visits_of(a_block(target=target))
    assert plan.flowers == pytest.approx(50)
    assert len(plan.visits) == 2
    assert plan.visits[-1].flowers < plan.visits[-1].flowers_in_reach
    assert plan.reasons["visits"] == "2 of 5 visits reach the flowers wanted"


def test_flowers_pollinated_already_count_towards_the_target() -> None:
    target = Target(fruit_per_tree=3, expected_set=0.8, expected_retention=0.75)
    plan = visits_of(a_block(target=target, done=[DoneVisit(on=may(25), flowers=40)]))
    assert plan.flowers_wanted == pytest.approx(10)
    assert plan.flowers == pytest.approx(10)


# A bloom under way -------------------------------------------------------------------------------


def test_visits_still_to_come_follow_the_last_that_was_made() -> None:
    done = [DoneVisit(on=may(28), flowers=20), DoneVisit(on=may(31), flowers=20)]
    plan = visits_of(a_block(done=done, today=may(31)))
    assert [visit.number for visit in plan.visits] == [3, 4, 5]
    assert plan.visits[0].on == date(2026, 6, 3)


NOTHING_LEFT = [
    ({"trees": 0}, "no tree of this block bears"),
    ({"flowers_per_tree": 0}, "its trees have no flowers"),
    ({"today": date(2026, 7, 1)}, "the bloom is over, or ends before another visit is due"),
    (
        {"number": 1, "done": [DoneVisit(on=may(9), flowers=1)]},
        "all 1 visits have been made",
    ),
    (
        {
            "target": Target(fruit_per_tree=1, expected_set=0.8, expected_retention=0.75),
            "done": [DoneVisit(on=may(9), flowers=100)],
        },
        "as many flowers as the target asks for have been pollinated",
    ),
]


@pytest.mark.parametrize(("why", "told"), NOTHING_LEFT)
def test_where_there_is_no_visit_it_says_why(why: dict[str, Any], told: str) -> None:
    plan = visits_of(a_block(**why))
    assert (list(plan.visits), plan.reasons["visits"]) == ([], told)


def test_a_short_bloom_holds_fewer_visits() -> None:
    plan = visits_of(a_block(bloom=Bloom(first_on=MAY, end_on=may(6))))
    assert len(plan.visits) == 2
    assert plan.reasons["visits"].startswith("2 of 5 visits fit into the rest of the bloom")


# Time --------------------------------------------------------------------------------------------

PACES = [
    # Common practice, no source: ten minutes a tree and visit.
    (ByTree(minutes_per_tree=10), 20, 300, 200),
    # Paull & Duarte: 150 flowers an hour; a minute's walk from tree to tree is assumed.
    (ByFlower(flowers_per_hour=150, walk_minutes_per_tree=1), 20, 300, 140),
    (ByFlower(flowers_per_hour=150), 20, 300, 120),
]


@pytest.mark.parametrize(("pace", "trees", "flowers", "minutes"), PACES)
def test_minutes_of_a_visit(
    pace: ByTree | ByFlower, trees: int, flowers: int, minutes: float
) -> None:
    assert pace.minutes(trees, flowers) == pytest.approx(minutes)


def test_gathering_and_bagging_are_minutes_of_their_own() -> None:
    extras = Extras(
        donors_per_flower=0.5,
        gather_minutes_per_donor=0.4,
        bag_minutes_per_flower=2,
        bag_share=0.1,
    )
    (visit,) = visits_of(one_day(extras=extras)).visits
    assert visit.gather_minutes == pytest.approx(450 * 0.4)
    assert visit.bag_minutes == pytest.approx(90 * 2)
    assert visit.minutes == pytest.approx(360)


def test_what_is_not_known_is_null_and_says_so() -> None:
    plan = visits_of(one_day(number=1, hours={}, extras=Extras(bag_share=0.5)))
    (visit,) = plan.visits
    assert (visit.people, visit.worker_sessions, visit.session_minutes) == (None, None, None)
    assert (visit.donor_flowers, visit.gather_minutes, visit.bag_minutes) == (None, None, None)
    assert set(plan.reasons) == {"people", "donor_flowers", "bag_minutes", "fruit"}


DUSK = Session(from_minute=17 * 60, to_minute=19 * 60)
DAWN = Session(from_minute=6 * 60, to_minute=7 * 60)
SESSIONS = [
    (180, [DAWN, DUSK], 2),  # one person, both sessions
    (60, [DAWN, DUSK], 1),  # done at dawn
    (181, [DAWN, DUSK], 3),  # two people: both at dawn, one of them at dusk
    (0, [DAWN], 0),
]


@pytest.mark.parametrize(("minutes", "sessions", "number"), SESSIONS)
def test_sessions_of_one_worker(minutes: float, sessions: list[Session], number: int) -> None:
    assert worker_sessions(minutes, sessions) == number


def test_hours_that_overlap_are_counted_once() -> None:
    late = Session(from_minute=390, to_minute=480)
    assert covered([[DAWN], [late], [DUSK]]) == 240


# The crew ----------------------------------------------------------------------------------------


def test_a_crew_that_can_keep_every_best_date_fits() -> None:
    block = a_block()
    fit = crew_fit([block], plans_of(block), 1)
    assert (fit.fits, fit.people_needed, fit.add) == (True, 1, 0)
    assert fit.reason == "one person can make every visit on its best date"
    assert [work.on for work in fit.work] == [visit.on for visit in visits_of(block).visits]


def test_a_crew_that_is_too_small_is_told_how_many_to_add_and_what_it_leaves() -> None:
    block = one_day(set_and_retention=0.6)
    fit = crew_fit([block], plans_of(block), 1)
    assert (fit.fits, fit.people_needed, fit.add) == (False, 2, 1)
    (left,) = fit.shortfalls
    assert (left.block, left.visits_planned) == ("N1", 1)
    assert left.visits_made == pytest.approx(6 / 9)
    assert left.flowers == pytest.approx(300)
    assert left.fruit == pytest.approx(180)


def test_without_counted_flowers_days_minutes_and_people_are_planned_all_the_same() -> None:
    block = one_day(is_counted=False, set_and_retention=0.6, pace=ByTree(minutes_per_tree=60))
    plan = visits_of(block)
    assert (plan.visits[0].minutes, plan.visits[0].people, plan.fruit) == (540, 2, None)
    assert "count a few trees" in plan.reasons["flowers"]
    fit = crew_fit([block], plans_of(block), 1)
    (left,) = fit.shortfalls
    assert (left.flowers, left.fruit, left.share) == (None, None, pytest.approx(5 / 9))
    assert fit.reason.startswith("one person can pollinate 44% of the flowers in the hours")


def test_so_many_more_people_do_fit() -> None:
    blocks = [a_block(block=name, trees=120) for name in ("N1", "N2", "N3")]
    plans = plans_of(*blocks)
    fit = crew_fit(blocks, plans, 2)
    assert fit.fits is False
    assert fit.add
    assert crew_fit(blocks, plans, 2 + fit.add).fits is True
    assert crew_fit(blocks, plans, 2 + fit.add - 1).fits is False


def test_no_crew_does_nothing_and_is_told_how_many_are_needed() -> None:
    block = a_block()
    fit = crew_fit([block], plans_of(block), 0)
    assert (fit.fits, fit.add, list(fit.work)) == (False, 1, [])
    assert fit.reason.startswith("no people can pollinate 0 of")


def test_an_unknown_crew_is_not_judged() -> None:
    block = a_block()
    fit = crew_fit([block], plans_of(block), None)
    assert (fit.fits, fit.people_needed) == (None, 1)
    assert fit.reason == "how many people are on hand is not known"


def test_without_hours_a_crew_is_not_judged() -> None:
    block = a_block(hours={})
    fit = crew_fit([block], plans_of(block), 3)
    assert (fit.fits, fit.people_needed) == (None, None)
    assert "hours" in fit.reason


def test_the_bloom_that_closes_first_is_worked_first() -> None:
    late = a_block(block="A", bloom=Bloom(first_on=MAY, end_on=may(30)), dates=[may(12), may(15)])
    early = a_block(block="B", bloom=Bloom(first_on=MAY, end_on=may(29)), dates=[may(12), may(15)])
    work = crew_plan([late, early], plans_of(late, early), 2)
    assert [(each.on, each.block, each.visit, each.trees) for each in work] == [
        (may(12), "B", 1, 10),
        (may(12), "A", 1, 10),
        (may(15), "B", 2, 10),
        (may(15), "A", 2, 10),
    ]


def test_people_work_two_species_at_different_hours() -> None:
    dawn = one_day(block="A", hours=hours(MORNING))
    dusk = one_day(block="B", hours=hours(Session(from_minute=900, to_minute=1170)))
    both = [dawn, dusk]
    assert people_needed(both, plans_of(*both)) == 2
    same_hours = [dawn, one_day(block="B")]
    assert people_needed(same_hours, plans_of(*same_hours)) == 3  # 12 h of work in 4.5 h


WRONG = [
    (lambda: a_block(trees=-1), "trees"),
    (lambda: a_block(receptive_days=0), "receptive"),
    (lambda: a_block(number=0), "at least one visit"),
    (lambda: a_block(spacing_days=0), "a day apart"),
    (lambda: a_block(dates=[MAY, MAY]), "one date"),
    (lambda: ByTree(minutes_per_tree=0), "minutes a tree"),
    (lambda: ByFlower(flowers_per_hour=float("nan")), "flowers an hour"),
    (lambda: Target(fruit_per_tree=10, expected_set=0, expected_retention=1), "above 0"),
    (lambda: Target(fruit_per_tree=10, expected_set=90, expected_retention=1), "up to 1"),
    (lambda: Session(from_minute=500, to_minute=400), "ends after it begins"),
    (lambda: Extras(bag_share=2), "share bagged"),
    (lambda: Extras(donors_per_flower=-1), "from nought up"),
    (lambda: crew_fit([], {}, -1), "fewer people"),
]


@pytest.mark.parametrize(("make", "told"), WRONG)
def test_what_cannot_be_is_refused_in_a_sentence(make: Any, told: str) -> None:
    with pytest.raises(LabourError, match=told):
        make()
