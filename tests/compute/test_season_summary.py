"""The figures of one season, worked by hand."""

from datetime import date
from typing import Any

import pytest

from planning.compute.season_summary import (
    Basis,
    DayTotal,
    GradeKilos,
    Group,
    SummaryError,
    TreeTotal,
    WeekKilos,
    estimated_g,
    roll_up,
    season_figures,
)

MONDAY = date(2026, 8, 31)


def day_total(picked_on: date = MONDAY, **changes: Any) -> DayTotal:
    values: dict[str, Any] = {
        "grade": None,
        "marketable": None,
        "net_g": 0,
        "estimated_g": 0,
        "fruit_count": 0,
        "net_g_with_count": 0,
        "count_with_weight": 0,
    }
    return DayTotal(day=picked_on, **(values | changes))


def group(*days: DayTotal, **changes: Any) -> Group:
    values: dict[str, Any] = {
        "kind": "block",
        "basis": Basis.PICKED,
        "trees": (),
        "bearing_trees": 40,
        "area_m2": 2_500.0,
        "is_closed": True,
    }
    return Group(days=days, **(values | changes))


def graded(grade: str, marketable: bool, net_g: int, **changes: Any) -> DayTotal:
    return day_total(grade=grade, marketable=marketable, net_g=net_g, **changes)


def trees(*net_g: int) -> tuple[TreeTotal, ...]:
    return tuple(TreeTotal(tree=str(n), net_g=grams) for n, grams in enumerate(net_g))


def test_yields_are_kilos_over_bearing_trees_and_area() -> None:
    figures = season_figures(group(day_total(net_g=1_000_000)))
    assert figures.kg_per_tree == 25.0
    assert figures.t_per_ha == 4.0
    assert (figures.bearing_trees, figures.area_m2) == (40, 2_500.0)
    assert figures.basis is Basis.PICKED


def test_estimated_kilos_stand_beside_the_measured_ones_and_in_no_yield() -> None:
    measured = group(day_total(net_g=1_000_000))
    both = group(day_total(net_g=1_000_000, estimated_g=500_000))
    assert season_figures(both).estimated_g == 500_000
    assert season_figures(both).net_g == 1_000_000
    assert season_figures(both).kg_per_tree == season_figures(measured).kg_per_tree
    assert season_figures(both).t_per_ha == season_figures(measured).t_per_ha
    assert season_figures(both).reasons["estimated_g"].startswith("estimated kilos: ")
    assert "estimated_g" not in season_figures(measured).reasons


def test_grades_are_listed_marketable_first_then_culls_then_ungraded() -> None:
    figures = season_figures(
        group(
            day_total(net_g=500, estimated_g=250),
            graded("ANT-EATEN", False, 2_000),
            graded("B", True, 3_000),
            graded("A", True, 1_000, estimated_g=100),
            graded("A", True, 4_000),
        )
    )
    assert figures.grades == (
        GradeKilos(grade="A", marketable=True, net_kg=5.0, estimated_kg=0.1),
        GradeKilos(grade="B", marketable=True, net_kg=3.0, estimated_kg=0.0),
        GradeKilos(grade="ANT-EATEN", marketable=False, net_kg=2.0, estimated_kg=0.0),
        GradeKilos(grade=None, marketable=None, net_kg=0.5, estimated_kg=0.25),
    )


@pytest.mark.parametrize(
    ("days", "marketable", "ungraded"),
    [
        # three of four graded kilos sell; the ungraded two are not among the four
        (
            [graded("A", True, 3_000), graded("X", False, 1_000), day_total(net_g=2_000)],
            0.75,
            1 / 3,
        ),
        # all culls: a share of nought is known
        ([graded("X", False, 1_000)], 0.0, 0.0),
        # nothing graded: no marketable share, and everything is ungraded
        ([day_total(net_g=2_000)], None, 1.0),
        # graded, but only estimated: estimates make no share
        ([graded("A", True, 0, estimated_g=900)], None, None),
        # nothing at all
        ([], None, None),
    ],
)
def test_shares_are_of_graded_and_of_all_measured_kilos(
    days: list[DayTotal], marketable: float | None, ungraded: float | None
) -> None:
    figures = season_figures(group(*days))
    assert figures.marketable_share == marketable
    assert figures.ungraded_share == ungraded


def test_mean_fruit_weight_takes_only_weighings_with_weight_and_count() -> None:
    figures = season_figures(
        group(
            day_total(net_g=9_000, fruit_count=30, net_g_with_count=6_000, count_with_weight=20),
            day_total(net_g=2_000, fruit_count=5, net_g_with_count=2_000, count_with_weight=5),
        )
    )
    assert figures.fruit_count == 35
    assert figures.mean_fruit_g == 320.0


@pytest.mark.parametrize(
    ("grams_by_day", "p10", "p50", "p90"),
    [
        # one day is every date
        ([7], 1, 1, 1),
        # reached exactly on the first, the fifth and the ninth of ten equal days
        ([1] * 10, 1, 5, 9),
        # one gram short of a tenth and of a half waits for the next day
        ([9, 40, 51], 2, 3, 3),
        # a day without kilos is never the date
        ([0, 10, 0, 90], 2, 4, 4),
        # nine tenths on the second day, to the gram, past what a float can hold
        ([10**18 + 1, 8 * 10**18 + 8, 10**18 + 1], 1, 2, 2),
        # and one gram less is the third
        ([10**18 + 1, 8 * 10**18 + 7, 10**18 + 2], 1, 2, 3),
    ],
)
def test_percentile_dates_are_the_first_on_which_the_share_is_reached(
    grams_by_day: list[int], p10: int, p50: int, p90: int
) -> None:
    days = [day_total(date(2026, 9, n), net_g=g) for n, g in enumerate(grams_by_day, start=1)]
    figures = season_figures(group(*days))
    expected = tuple(date(2026, 9, n) for n in (p10, p50, p90))
    assert (figures.p10_on, figures.p50_on, figures.p90_on) == expected


def test_first_and_last_dates_are_picking_days_weighed_or_not() -> None:
    figures = season_figures(
        group(
            day_total(date(2026, 8, 20)),
            day_total(date(2026, 8, 31), estimated_g=900),
            day_total(date(2026, 9, 2), net_g=5_000),
            day_total(date(2026, 9, 9), fruit_count=3),
        )
    )
    assert (figures.first_on, figures.last_on) == (date(2026, 8, 31), date(2026, 9, 9))
    assert figures.p10_on == figures.p90_on == date(2026, 9, 2)


def test_the_curve_counts_monday_weeks_and_keeps_those_without_picking() -> None:
    figures = season_figures(
        group(
            day_total(date(2026, 9, 6), net_g=1_000),  # Sunday of the first week
            day_total(date(2026, 8, 31), net_g=500, estimated_g=200),  # its Monday
            day_total(date(2026, 9, 14), net_g=2_000),  # Monday, two weeks on
        )
    )
    assert figures.weeks == (
        WeekKilos(week_starts_on=MONDAY, net_kg=1.5, estimated_kg=0.2, cumulative_kg=1.5),
        WeekKilos(week_starts_on=date(2026, 9, 7), net_kg=0.0, estimated_kg=0.0, cumulative_kg=1.5),
        WeekKilos(
            week_starts_on=date(2026, 9, 14), net_kg=2.0, estimated_kg=0.0, cumulative_kg=3.5
        ),
    )


def test_a_week_across_new_year_is_one_week() -> None:
    figures = season_figures(
        group(day_total(date(2026, 12, 31), net_g=1), day_total(date(2027, 1, 3), net_g=2))
    )
    assert [week.week_starts_on for week in figures.weeks] == [date(2026, 12, 28)]


def test_spread_is_between_trees_whatever_the_number_of_weighings() -> None:
    weighings = (*trees(10_000, 14_000), TreeTotal(tree="0", net_g=8_000))
    spread = season_figures(group(day_total(net_g=40_000), trees=weighings)).spread
    assert spread is not None
    assert (spread.n, spread.net_kg, spread.mean_kg) == (2, 32.0, 16.0)
    assert spread.sd_kg == pytest.approx(8**0.5)  # two trees 4 kg apart
    assert spread.cv == pytest.approx(8**0.5 / 16)


@pytest.mark.parametrize(
    ("totals", "cv_known", "reason"),
    [
        # one tree has a mean and no spread
        (trees(4_000), False, "spread between trees: one tree alone shows no spread"),
        # trees that bore nothing have a mean of nought, and nothing to compare the spread to
        (trees(0, 0), False, "spread between trees: the trees weighed by themselves bore nothing"),
        # two trees will do
        (trees(4_000, 5_000), True, None),
    ],
)
def test_a_spread_needs_two_trees_and_some_fruit(
    totals: tuple[TreeTotal, ...], cv_known: bool, reason: str | None
) -> None:
    figures = season_figures(group(day_total(net_g=9_000), trees=totals))
    assert figures.spread is not None
    assert (figures.spread.cv is not None) is cv_known
    assert figures.reasons.get("spread") == reason


def test_figures_are_to_date_until_the_season_closes() -> None:
    assert season_figures(group(is_closed=False)).to_date
    assert not season_figures(group(is_closed=True)).to_date


@pytest.mark.parametrize(
    ("changes", "figure", "reason"),
    [
        # an area nobody entered
        ({"area_m2": None}, "t_per_ha", "t/ha: the area of this block is not recorded"),
        # a reason the caller knows better
        (
            {"area_m2": None, "reasons": {"area_m2": "two cultivars share the block"}},
            "t_per_ha",
            "t/ha: two cultivars share the block",
        ),
        # the noun follows the group
        (
            {"bearing_trees": None, "kind": "farm"},
            "kg_per_tree",
            "kg per tree: the number of bearing trees of this farm is not recorded",
        ),
        # a young block
        ({"bearing_trees": 0}, "kg_per_tree", "kg per tree: no tree of this block is bearing"),
        # only crates were weighed
        ({}, "spread", "spread between trees: no weighing is of exactly one tree"),
        # nobody counted
        ({}, "fruit_count", "fruit count: no fruit has been counted"),
        ({}, "mean_fruit_g", "mean fruit weight: no weighing has both a weight and a count"),
        # nobody graded
        ({}, "marketable_share", "marketable share: nothing weighed is graded"),
    ],
)
def test_what_is_not_known_is_none_with_a_reason(
    changes: dict[str, Any], figure: str, reason: str
) -> None:
    figures = season_figures(group(day_total(net_g=1_000), **changes))
    assert getattr(figures, figure) is None
    assert figures.reasons[figure] == reason


def test_no_trees_bearing_is_known_and_needs_no_reason() -> None:
    figures = season_figures(group(day_total(net_g=1_000), bearing_trees=0))
    assert figures.bearing_trees == 0
    assert "bearing_trees" not in figures.reasons


def test_a_season_without_picking_has_no_figures_but_says_so() -> None:
    figures = season_figures(group())
    assert (figures.net_g, figures.estimated_g, figures.grades, figures.weeks) == (0, 0, (), ())
    assert (figures.kg_per_tree, figures.t_per_ha) == (None, None)
    assert (figures.first_on, figures.p50_on) == (None, None)
    assert figures.reasons["t_per_ha"] == "t/ha: nothing has been weighed"
    assert figures.reasons["first_on"] == "first picking date: nothing has been picked"


@pytest.mark.parametrize(
    ("values", "message"),
    [
        # negative grams
        ({"net_g": -1}, "more than its total"),
        ({"estimated_g": -1}, "negative"),
        # negative fruit
        ({"fruit_count": -1}, "more than its total"),
        ({"net_g_with_count": -1}, "negative"),
        ({"count_with_weight": -1}, "negative"),
        # more weighed with a count than weighed
        ({"net_g": 5, "net_g_with_count": 6}, "more than its total"),
        # more counted with a weight than counted
        ({"fruit_count": 5, "count_with_weight": 6}, "more than its total"),
        # a grade that is neither marketable nor cull
        ({"grade": "A"}, "when it has a grade"),
        # ungraded fruit called marketable
        ({"marketable": True}, "when it has a grade"),
    ],
)
def test_a_day_that_cannot_be_is_refused(values: dict[str, Any], message: str) -> None:
    with pytest.raises(SummaryError, match=message):
        day_total(**values)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        # nobody plants fewer than no trees
        ({"bearing_trees": -1}, "bearing trees"),
        # no ground, less than none, not a number, without end
        ({"area_m2": 0.0}, "area"),
        ({"area_m2": -5.0}, "area"),
        ({"area_m2": float("nan")}, "area"),
        ({"area_m2": float("inf")}, "area"),
        # trees weighed by themselves are part of the whole
        ({"trees": trees(600, 500)}, "outweigh"),
    ],
)
def test_a_group_that_cannot_be_is_refused(values: dict[str, Any], message: str) -> None:
    with pytest.raises(SummaryError, match=message):
        group(day_total(net_g=1_000), **values)


def test_a_tree_with_a_negative_weight_is_refused() -> None:
    with pytest.raises(SummaryError, match="negative"):
        TreeTotal(tree="r3p7", net_g=-1)


def test_a_roll_up_adds_kilos_trees_and_area() -> None:
    north = group(day_total(net_g=1_000), bearing_trees=3, area_m2=100.0, trees=trees(1_000))
    south = group(day_total(net_g=3_000), bearing_trees=1, area_m2=300.0, is_closed=False)
    farm = roll_up([north, south], kind="farm")
    figures = season_figures(farm)
    assert (figures.net_g, figures.bearing_trees, figures.area_m2) == (4_000, 4, 400.0)
    assert (figures.kg_per_tree, figures.t_per_ha) == (1.0, 0.1)
    assert figures.spread is not None
    assert farm.kind == "farm"
    assert figures.to_date


def test_a_roll_up_knows_only_what_every_part_knows_and_counts_the_rest() -> None:
    whole = group(day_total(net_g=1_000))
    no_area = group(day_total(net_g=1_000), area_m2=None)
    neither = group(day_total(net_g=1_000), area_m2=None, bearing_trees=None)
    figures = season_figures(roll_up([whole, no_area, neither], kind="farm"))
    assert figures.area_m2 is figures.t_per_ha is figures.bearing_trees is None
    assert figures.reasons["t_per_ha"] == "t/ha: the area is not known for 2 of 3 blocks"
    assert figures.reasons["kg_per_tree"] == (
        "kg per tree: the number of bearing trees is not known for 1 of 3 blocks"
    )


def test_a_gap_in_a_block_is_still_a_gap_at_the_co_op() -> None:
    gap = roll_up([group(), group(area_m2=None)], kind="farm")
    co_op = roll_up([gap, roll_up([group()], kind="farm")], kind="co-op")
    assert co_op.area_m2 is None
    assert co_op.reasons == {"area_m2": "the area is not known for 1 of 2 farms"}


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        # weighed on the farm and weighed in the shed are the same fruit twice
        ([group(), group(basis=Basis.RECEIVED)], "bases"),
        ([group(basis=Basis.RECEIVED), group(basis=Basis.PACKED)], "bases"),
        # a block and a crop may be the same trees
        ([group(), group(kind="crop")], "kinds"),
        # a sum of nothing has no basis
        ([], "nothing to roll up"),
    ],
)
def test_groups_that_do_not_add_up_are_refused(parts: list[Group], message: str) -> None:
    with pytest.raises(SummaryError, match=message):
        roll_up(parts, kind="farm")


@pytest.mark.parametrize(
    ("containers", "usual_net_g", "fruit_count", "mean_fruit_g", "grams"),
    [
        # crates come first, even where fruit was counted
        (12, 8_000, 300, 310.0, 96_000),
        # half a crate is a crate by half
        (2.5, 8_000, None, None, 20_000),
        # no usual weight of that crate: count the fruit
        (12, None, 300, 310.0, 93_000),
        # no crates at all is not an empty crate
        (0, 8_000, 10, 310.0, 3_100),
        # half a gram goes to the even gram
        (None, None, 1, 310.5, 310),
        (None, None, 1, 311.5, 312),
        # fruit, but the farm has no mean weight yet
        (None, None, 300, None, None),
        # crates of unknown weight and nothing counted
        (12, None, None, None, None),
        # nothing
        (None, None, None, None, None),
    ],
)
def test_estimated_kilos_are_containers_or_else_fruit(
    containers: float | None,
    usual_net_g: int | None,
    fruit_count: int | None,
    mean_fruit_g: float | None,
    grams: int | None,
) -> None:
    estimate = estimated_g(
        containers=containers,
        usual_net_g=usual_net_g,
        fruit_count=fruit_count,
        mean_fruit_g=mean_fruit_g,
    )
    assert estimate == grams


@pytest.mark.parametrize("wrong", [-1.0, float("nan"), float("inf")])
@pytest.mark.parametrize("name", ["containers", "usual_net_g", "fruit_count", "mean_fruit_g"])
def test_an_estimate_from_an_impossible_number_is_refused(name: str, wrong: float) -> None:
    values: dict[str, Any] = dict.fromkeys(
        ("containers", "usual_net_g", "fruit_count", "mean_fruit_g"), 1
    )
    with pytest.raises(SummaryError, match="from nought up"):
        estimated_g(**(values | {name: wrong}))


# Work --------------------------------------------------------------------------------------------


def test_kilos_per_hour_are_those_of_timed_weighings_alone() -> None:
    timed = day_total(net_g=40_000, net_g_with_minutes=30_000, minutes_with_weight=45)
    assert season_figures(group(timed)).kg_per_picking_hour == 40.0  # 30 kg in 3/4 hour


def test_minutes_add_up_by_kind_where_every_part_knows_them() -> None:
    parts = [group(minutes={"pruning": 30, "picking": 5}), group(minutes={"pruning": 10})]
    assert roll_up(parts, kind="farm").minutes == {"pruning": 40, "picking": 5}
    unknown = roll_up([*parts, group(minutes=None)], kind="farm")
    assert unknown.minutes is None
    told = season_figures(unknown).reasons["minutes"]
    assert told == "minutes: the work is not known for 1 of 3 blocks"


@pytest.mark.parametrize(
    "values",
    [
        {"net_g": 10, "net_g_with_minutes": 11},  # timed kilos are a part of all
        {"minutes_with_weight": -1},
    ],
)
def test_work_that_cannot_be_is_refused(values: dict[str, int]) -> None:
    with pytest.raises(SummaryError):
        day_total(**values)


def test_no_work_takes_less_than_no_time() -> None:
    with pytest.raises(SummaryError, match="less than no time"):
        group(minutes={"pruning": -1})
