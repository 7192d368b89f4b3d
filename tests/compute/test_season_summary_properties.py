"""What holds for the figures of any season."""

from dataclasses import fields, replace
from datetime import date
from itertools import pairwise
from statistics import mean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning.compute.season_summary import (
    Basis,
    DayTotal,
    Group,
    SeasonFigures,
    TreeTotal,
    roll_up,
    season_figures,
)

GRADES = {None: None, "A": True, "B": True, "SMALL": False}

grams = st.integers(0, 5_000_000)
picking_days = st.dates(min_value=date(2026, 7, 1), max_value=date(2027, 6, 30))
tree_totals = st.builds(TreeTotal, tree=st.sampled_from(["r1p1", "r1p2", "r2p1"]), net_g=grams)


@st.composite
def day_totals(draw: st.DrawFn) -> DayTotal:
    grade = draw(st.sampled_from(list(GRADES)))
    with_count_g, with_weight = draw(grams), draw(st.integers(0, 500))
    return DayTotal(
        day=draw(picking_days),
        grade=grade,
        marketable=GRADES[grade],
        net_g=with_count_g + draw(grams),
        estimated_g=draw(grams),
        fruit_count=with_weight + draw(st.integers(0, 500)),
        net_g_with_count=with_count_g,
        count_with_weight=with_weight,
    )


@st.composite
def groups(draw: st.DrawFn) -> Group:
    trees = draw(st.lists(tree_totals, max_size=6))
    days = draw(st.lists(day_totals(), max_size=8))
    weighed_by_tree = [
        replace(draw(day_totals()), net_g=tree.net_g, net_g_with_count=0) for tree in trees
    ]
    return Group(
        kind="block",
        basis=Basis.PICKED,
        days=days + weighed_by_tree,
        trees=trees,
        bearing_trees=draw(st.none() | st.integers(0, 300)),
        area_m2=draw(st.none() | st.integers(1, 100_000).map(float)),
        is_closed=draw(st.booleans()),
    )


@given(group=groups(), data=st.data())
def test_the_order_of_the_records_does_not_matter(group: Group, data: st.DataObject) -> None:
    shuffled = replace(
        group,
        days=data.draw(st.permutations(group.days)),
        trees=data.draw(st.permutations(group.trees)),
    )
    assert season_figures(shuffled) == season_figures(group)


@given(parts=st.lists(groups(), min_size=1, max_size=4))
def test_a_roll_up_is_what_all_its_records_give_at_once(parts: list[Group]) -> None:
    at_once = Group(
        kind="farm",
        basis=Basis.PICKED,
        days=[day for part in reversed(parts) for day in part.days],
        trees=[tree for part in reversed(parts) for tree in part.trees],
        bearing_trees=7,
        area_m2=100.0,
        is_closed=True,
    )
    rolled_up = replace(roll_up(parts, kind="farm"), bearing_trees=7, area_m2=100.0, is_closed=True)
    assert season_figures(rolled_up) == season_figures(at_once)


@given(parts=st.lists(groups(), min_size=2, max_size=4))
def test_rolling_up_in_two_steps_is_rolling_up_at_once(parts: list[Group]) -> None:
    farms = [roll_up(parts[:1], kind="farm"), roll_up(parts[1:], kind="farm")]
    two_steps = season_figures(roll_up(farms, kind="co-op"))
    one_step = season_figures(roll_up(parts, kind="co-op"))
    assert replace(two_steps, reasons={}) == replace(one_step, reasons={})
    assert two_steps.reasons.keys() == one_step.reasons.keys()


@given(group=groups())
def test_picking_dates_follow_each_other(group: Group) -> None:
    figures = season_figures(group)
    dates = [figures.first_on, figures.p10_on, figures.p50_on, figures.p90_on, figures.last_on]
    known = [day for day in dates if day is not None]
    assert known == sorted(known)
    assert len(known) == (5 if figures.net_g else 2 if figures.first_on else 0)


@given(group=groups())
def test_the_curve_and_the_grades_sum_to_the_totals(group: Group) -> None:
    figures = season_figures(group)
    for rows in (figures.weeks, figures.grades):
        assert sum(round(row.net_kg * 1000) for row in rows) == figures.net_g
        assert sum(round(row.estimated_kg * 1000) for row in rows) == figures.estimated_g
    assert not figures.weeks or figures.weeks[-1].cumulative_kg == figures.net_g / 1000


@given(group=groups())
def test_the_curve_runs_week_by_week_from_the_first_picking_to_the_last(group: Group) -> None:
    figures = season_figures(group)
    mondays = [week.week_starts_on for week in figures.weeks]
    assert all(monday.weekday() == 0 for monday in mondays)
    assert all((b - a).days == 7 for a, b in pairwise(mondays))
    if figures.first_on and figures.last_on:
        assert 0 <= (figures.first_on - mondays[0]).days < 7
        assert 0 <= (figures.last_on - mondays[-1]).days < 7


@given(group=groups())
def test_shares_lie_between_nought_and_one(group: Group) -> None:
    figures = season_figures(group)
    for share in (figures.marketable_share, figures.ungraded_share):
        assert share is None or 0 <= share <= 1


@given(group=groups())
def test_a_figure_is_none_exactly_when_a_reason_is_given(group: Group) -> None:
    figures = season_figures(group)
    unknown = {f.name for f in fields(SeasonFigures) if getattr(figures, f.name) is None}
    cautions = {"estimated_g"} if figures.estimated_g else set()
    if figures.spread is not None and figures.spread.cv is None:
        cautions.add("spread")
    assert set(figures.reasons) == unknown | cautions


@given(group=groups())
def test_spread_is_the_textbook_one(group: Group) -> None:
    by_tree: dict[str, int] = {}
    for total in group.trees:
        by_tree[total.tree] = by_tree.get(total.tree, 0) + total.net_g
    spread = season_figures(group).spread
    assert (spread is not None) == bool(by_tree)
    if spread is not None:
        kilos = [net_g / 1000 for net_g in by_tree.values()]
        assert spread.mean_kg == pytest.approx(mean(kilos))
        assert spread.sd_kg == (pytest.approx(stdev(kilos)) if len(kilos) > 1 else None)
