"""A farm's pollination plan from its stored records, forecasts and figures."""

import datetime as dt
from typing import Any

import pytest

from planning.compute.labour import ByFlower, ByTree
from planning.models import ScheduleSetting, SpeciesFigure
from planning.queries.labour_grounds import Wishes
from planning.services.labour_plans import (
    BlockLabour,
    LabourPlan,
    labour_plan,
    need_on,
    visit_needs,
)
from planning.services.species_figures import save_figure
from planning.services.stage_forecasts import rebuild_forecasts
from records.models import Block, Farm, GrowthStage, Species
from records.services import saving
from tests.cast import make_species
from tests.planning.ground import make_block, make_tree
from tests.planning.schedules import day, plant_block, plant_farm, pollinate, prune, see

pytestmark = pytest.mark.django_db
TODAY = day(5, 13)


@pytest.fixture
def farm() -> Farm:
    return plant_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    """Sugar apple whose first flowers were seen on 12 May."""
    block = plant_block(farm)
    prune(block, day(3, 5))
    see(block, "60", day(5, 12))
    return block


def figure(farm: Farm, name: str, value: float) -> None:
    save_figure(
        SpeciesFigure(farm=farm, species=make_species(), name=name, value=value, source="own count")
    )


def planned(farm: Farm, today: dt.date = TODAY, **asked: Any) -> LabourPlan:
    rebuild_forecasts(farm.pk, today)
    return labour_plan(farm, today, **asked)


def the_block(plan: LabourPlan) -> BlockLabour:
    (row,) = plan.blocks
    return row


def test_a_plan_follows_the_bloom_that_was_seen(farm: Farm, block: Block) -> None:
    figure(farm, "flowers-per-tree", 200)
    row = the_block(planned(farm, crew_size=1))
    assert row.ground.missing == {}
    assert row.ground.ahead.first_on == day(5, 12)
    assert row.ground.ahead.first_is_seen
    assert [visit.number for visit in row.visits] == [1, 2, 3, 4, 5]
    assert all(visit.on >= TODAY for visit in row.visits)
    assert row.visits[0].flowers < 200 / 5
    assert all(visit.session_minutes for visit in row.visits)
    assert isinstance(row.ground.bloom and row.ground.bloom.pace, ByFlower)


def test_without_counted_flowers_it_plans_days_and_minutes_by_the_tree(
    farm: Farm, block: Block
) -> None:
    row = the_block(planned(farm))
    assert not row.is_counted
    assert isinstance(row.ground.bloom and row.ground.bloom.pace, ByTree)
    assert [visit.minutes for visit in row.visits] == [10] * 5
    assert "count a few trees" in row.reasons["flowers"]


def test_the_asker_chooses_how_time_is_reckoned(farm: Farm, block: Block) -> None:
    figure(farm, "flowers-per-tree", 200)
    row = the_block(planned(farm, wishes=Wishes(pace="tree")))
    assert isinstance(row.ground.bloom and row.ground.bloom.pace, ByTree)


def test_a_farm_that_timed_its_trees_goes_by_them(farm: Farm, block: Block) -> None:
    figure(farm, "flowers-per-tree", 200)
    figure(farm, "minutes-per-tree-visit", 12)
    row = the_block(planned(farm))
    assert row.ground.bloom
    assert row.ground.bloom.pace == ByTree(minutes_per_tree=12)


def test_rounds_made_are_visits_made(farm: Farm, block: Block) -> None:
    pollinate(block, day(5, 13))
    pollinate(block, day(5, 14))  # the same visit, on the next day
    pollinate(block, day(5, 17))
    pollinate(block, day(5, 18), method="natural")  # nobody pollinated these
    row = the_block(planned(farm, day(5, 18)))
    assert [each.on for each in row.ground.rounds] == [day(5, 13), day(5, 14), day(5, 17)]
    assert [visit.number for visit in row.visits] == [3, 4, 5]
    assert row.visits[0].on >= day(5, 20)


def test_own_counts_of_flowers_opened_bend_the_curve(farm: Farm, block: Block) -> None:
    see(block, "61", day(5, 16))
    see(block, "65", day(5, 22))
    saving.save(  # on too few of the trees to say anything of the block
        GrowthStage(
            farm=farm,
            block=block,
            bbch="68",
            observed_on=day(5, 20),
            trees_seen=1,
            trees_looked_at=9,
        )
    )
    row = the_block(planned(farm, day(5, 23)))
    assert row.ground.bloom
    counts = [(count.on, count.share) for count in row.ground.bloom.bloom.counts]
    assert counts == [(day(5, 16), 0.1), (day(5, 22), 0.5)]


def test_people_on_hand_are_the_farms_unless_the_asker_says(farm: Farm, block: Block) -> None:
    assert planned(farm).fit.fits is None
    ScheduleSetting.objects.create(farm=farm, crew_size=2)
    assert (planned(farm).fit.crew, planned(farm).fit.fits) == (2, True)
    none = planned(farm, crew_size=0).fit
    assert (none.crew, none.fits, none.add) == (0, False, 1)


def test_a_target_of_fruit_caps_the_flowers(farm: Farm, block: Block) -> None:
    figure(farm, "flowers-per-tree", 2_000)
    figure(farm, "target-fruit-per-tree", 27)
    row = the_block(planned(farm))
    # 27 fruit / (0.9 set x 0.75 kept) = 40 flowers on the one tree.
    assert row.plan
    assert row.plan.flowers_wanted == pytest.approx(40)
    assert row.plan.flowers == pytest.approx(40)
    assert row.plan.fruit == pytest.approx(27)


def test_what_next_tasks_may_show_is_there_by_block_crop_and_visit(
    farm: Farm, block: Block
) -> None:
    needs = visit_needs(planned(farm))[block.pk, "main"]
    assert sorted(needs) == [1, 2, 3, 4, 5]
    assert (needs[1].minutes, needs[1].people, needs[1].flowers) == (10, 1, None)


def test_what_a_visit_on_another_day_would_take_is_told_too(farm: Farm, block: Block) -> None:
    figure(farm, "flowers-per-tree", 2_000)
    row = the_block(planned(farm))
    early, late = need_on(row, day(5, 14)), need_on(row, day(6, 9))
    assert early
    assert late
    assert (early.on, late.on) == (day(5, 14), day(6, 9))
    assert early.flowers is not None
    assert late.flowers is not None
    assert early.flowers < late.flowers
    assert early.minutes < late.minutes


# What is missing ---------------------------------------------------------------------------------


def test_a_block_without_plants_says_so(farm: Farm) -> None:
    make_block(farm, "BARE")
    row = the_block(planned(farm))
    assert set(row.reasons) == {"species"}
    assert (row.plan, list(row.visits)) == (None, [])


def test_no_date_is_made_up_where_no_bloom_is_known(farm: Farm) -> None:
    plant_block(farm, "NEW")
    row = the_block(planned(farm))
    assert row.plan is None
    assert row.reasons["first_bloom"].startswith("First bloom is not known")


def test_nothing_is_planned_before_forecasts_are_stored(farm: Farm, block: Block) -> None:
    row = the_block(labour_plan(farm, TODAY))
    assert row.reasons["first_bloom"] == "No forecast of this season's bloom is stored."


def test_trees_that_do_not_bear_are_not_visited(farm: Farm) -> None:
    block = plant_block(farm, "YOUNG")
    block.trees.update(planted_on=day(3, 1, 2025))
    see(block, "60", day(5, 12))
    row = the_block(planned(farm, crew_size=1))
    assert row.ground.trees == 0
    assert row.reasons["visits"] == "no tree of this block bears"


def test_trees_of_another_species_are_not_counted(farm: Farm, block: Block) -> None:
    kind = Species.objects.get(code="soursop")
    other = type(block.trees.get().cultivar).objects.create(name="Invented sour", species=kind)
    make_tree(block, 2, cultivar=block.trees.get().cultivar, planted_on=day(3, 1, 2018))
    make_tree(block, 3, cultivar=other, planted_on=day(3, 1, 2018))
    assert the_block(planned(farm)).ground.trees == 2


def test_soursop_says_which_figure_is_missing(farm: Farm) -> None:
    block = plant_block(farm, "SOUR", "soursop")
    see(block, "60", day(5, 12))
    row = the_block(planned(farm))
    if row.plan is None:
        assert "enter" in " ".join(row.reasons.values())
    else:
        assert row.visits


def test_without_coordinates_people_are_not_known(block: Block, farm: Farm) -> None:
    Farm.objects.filter(pk=farm.pk).update(latitude=None, longitude=None)
    farm.refresh_from_db()
    plan = planned(farm, crew_size=3)
    assert the_block(plan).visits[0].people is None
    assert plan.fit.fits is None
    assert "hours" in plan.fit.reason


def test_a_season_not_yet_begun_has_no_visits(farm: Farm, block: Block) -> None:
    row = the_block(planned(farm, year=2031))
    assert row.plan is None
    assert row.reasons["first_bloom"] == "No forecast of this season's bloom is stored."


def test_only_the_blocks_asked_for_are_planned(farm: Farm, block: Block) -> None:
    other = plant_block(farm, "S2")
    plan = planned(farm, wishes=Wishes(block_ids={other.pk}))
    assert [row.ground.block.code for row in plan.blocks] == ["S2"]
