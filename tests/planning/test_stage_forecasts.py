"""A farm's stage forecasts, from its records to the stored rows."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.compute.degree_days import Thresholds, degree_days
from planning.compute.stage_forecasts import Stage
from planning.models import SpeciesFigure, StageForecast
from planning.queries.stage_forecasts import stages_ahead
from planning.services.species_figures import save_figure
from planning.services.stage_forecasts import plan_forecast, rebuild_forecasts
from records.models import Block, Crop, Cultivar, Farm, GrowthStage, Species, WeatherStation
from records.services import saving
from tests.cast import make_cultivar, make_species
from tests.planning.ground import make_tree
from tests.planning.schedules import day, pick, plant_block, plant_farm, pollinate, prune, see
from tests.planning.weather import foretell, make_station, observe, years_of_weather

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm() -> Farm:
    return plant_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    return plant_block(farm)


def ahead(farm: Farm, today: dt.date, season: int = 2026, **where: Any) -> dict[str, StageForecast]:
    """The forecasts of a season by stage, rebuilt."""
    rebuild_forecasts(farm.pk, today)
    rows = StageForecast.objects.filter(
        farm=farm, season_year=season, **{"cultivar": None, "crop_name": "main", **where}
    )
    return {row.stage: row for row in rows}


def season(block: Block, year: int, pruned: dt.date, bloom: int) -> None:
    """A season in short: pruned on a day, in bloom so many days later."""
    prune(block, pruned)
    see(block, "60", pruned + dt.timedelta(days=bloom))


def three_seasons(block: Block) -> None:
    season(block, 2023, day(2, 20, 2023), 58)
    season(block, 2024, day(3, 20, 2024), 62)
    season(block, 2025, day(3, 5, 2025), 66)


def test_every_stage_of_this_season_and_the_next_has_a_row(farm: Farm, block: Block) -> None:
    rebuild_forecasts(farm.pk, day(2, 1))
    rows = StageForecast.objects.filter(farm=farm)
    assert sorted(rows.values_list("season_year", "stage")) == sorted(
        (year, stage.value) for year in (2026, 2027) for stage in Stage if stage != "opening"
    )
    assert not rows.exclude(on_date=None).exists()
    assert all(row.reason for row in rows)


def test_the_blocks_seasons_say_when_it_will_bloom_and_why(farm: Farm, block: Block) -> None:
    three_seasons(block)
    prune(block, day(3, 5))
    bloom = ahead(farm, day(3, 6))["first-bloom"]
    assert bloom.on_date == day(5, 6)
    assert bloom.method == "days"
    assert (bloom.anchor, bloom.anchor_on) == ("opening", day(3, 5))
    assert bloom.inputs["days"] == [58, 62, 66]
    assert bloom.reason == (
        "Pruned 5 March. On this block first bloom came 58 to 66 days after pruning in 3 seasons."
    )


def test_bloom_seen_moves_what_follows_and_keeps_what_was_expected(
    farm: Farm, block: Block
) -> None:
    prune(block, day(3, 5))
    before = ahead(farm, day(3, 6))
    see(block, "60", day(6, 1))
    after = ahead(farm, day(6, 2))
    bloom = after["first-bloom"]
    assert (bloom.observed_on, bloom.on_date, bloom.method) == (day(6, 1), day(6, 1), "observed")
    was = before["first-bloom"]
    assert (bloom.expected_low_on, bloom.expected_on, bloom.expected_high_on) == (
        was.low_on,
        was.on_date,
        was.high_on,
    )
    for stage in ("half-bloom", "end-of-bloom", "first-picking"):
        assert after[stage].on_date > before[stage].on_date
    assert after["leaf-out"].method == "passed"


def test_what_was_expected_does_not_depend_on_when_it_is_computed(farm: Farm, block: Block) -> None:
    three_seasons(block)
    prune(block, day(3, 5))
    see(block, "60", day(5, 12))
    first = ahead(farm, day(5, 12))["first-bloom"]
    later = ahead(farm, day(10, 1))["first-bloom"]
    assert (first.expected_low_on, first.expected_high_on) == (
        later.expected_low_on,
        later.expected_high_on,
    )
    assert first.pk == later.pk


def test_leaf_out_keeps_what_was_expected_before_pruning_brought_it_on(
    farm: Farm, block: Block
) -> None:
    """The window to prune in goes by leaf-out as it would have come by itself."""
    see(block, "10", day(3, 10, 2024))
    see(block, "10", day(3, 14, 2025))
    before = ahead(farm, day(2, 1))["leaf-out"]
    prune(block, day(3, 20))
    after = ahead(farm, day(3, 21))["leaf-out"]
    assert (before.on_date, before.anchor) == (day(3, 12), "")
    assert after.anchor == "opening"
    assert after.on_date > day(3, 20)
    assert (after.expected_low_on, after.expected_on, after.expected_high_on) == (
        before.low_on,
        before.on_date,
        before.high_on,
    )
    (stored,) = [
        each
        for each in stages_ahead(farm.pk)[block.pk]
        if (each.stage, each.season_year) == ("leaf-out", 2026)
    ]
    assert stored.is_brought_on


def test_removing_the_sight_takes_it_back(farm: Farm, block: Block) -> None:
    prune(block, day(3, 5))
    sight = see(block, "60", day(6, 1))
    seen = ahead(farm, day(6, 2))["first-bloom"]
    sight.delete()
    again = ahead(farm, day(6, 2))["first-bloom"]
    assert again.pk == seen.pk
    assert (again.observed_on, again.expected_on) == (None, None)


def test_a_weighing_shows_the_first_picking(farm: Farm, block: Block) -> None:
    pick(block, day(9, 3))
    pick(block, day(9, 10))
    found = ahead(farm, day(9, 11))
    assert found["first-picking"].observed_on == day(9, 3)
    assert found["first-picking"].reason == "First picking shown by picking on 3 September."
    assert found["last-picking"].on_date is not None
    assert found["last-picking"].observed_on is None


def test_hand_pollination_shows_bloom(farm: Farm, block: Block) -> None:
    pollinate(block, day(5, 14))
    found = ahead(farm, day(5, 15))["first-bloom"]
    assert found.reason == "First bloom shown by pollination on 14 May."


def test_nothing_of_a_rebuild_changes_when_nothing_has(farm: Farm, block: Block) -> None:
    three_seasons(block)
    prune(block, day(3, 5))
    see(block, "60", day(5, 12))
    assert rebuild_forecasts(farm.pk, day(5, 20)).added > 0
    before = list(StageForecast.objects.order_by("pk").values())
    written = rebuild_forecasts(farm.pk, day(5, 20))
    assert (written.added, written.changed, written.deleted) == (0, 0, 0)
    assert list(StageForecast.objects.order_by("pk").values()) == before


def test_soursop_has_no_leaf_out(farm: Farm) -> None:
    block = plant_block(farm, "S1", "soursop")
    prune(block, day(3, 5))
    found = ahead(farm, day(3, 6))
    assert found["leaf-out"].method == "does-not-apply"
    assert "evergreen" in found["leaf-out"].reason
    assert found["first-bloom"].on_date is None


def test_a_block_without_plants_says_what_it_does_not_know(farm: Farm) -> None:
    Block.objects.create(farm=farm, code="EMPTY")
    found = ahead(farm, day(3, 6))
    assert {row.method for row in found.values()} == {"not-known"}


def test_in_tropical_lowland_pruning_starts_the_cycle() -> None:
    """Mendes et al. 2017: 149 and 164 days from closed leaf bud to ripe fruit."""
    farm = plant_farm("LOW", latitude="-15.8", longitude="-43.3")
    prune(plant_block(farm), day(8, 1))
    found = ahead(farm, day(8, 2))
    picking = found["first-picking"]
    assert (picking.low_on, picking.high_on) == (
        day(8, 1) + dt.timedelta(days=149),
        day(8, 1) + dt.timedelta(days=164),
    )
    assert found["first-bloom"].on_date < day(9, 20)


def test_a_farms_own_figure_takes_the_place_of_the_shipped_one(farm: Farm, block: Block) -> None:
    for end, value in (("least", 30), ("most", 40)):
        save_figure(
            SpeciesFigure(
                farm=farm,
                species=make_species(),
                name=f"opening-to-first-bloom-{end}",
                value=value,
                source="Own notes, 2019.",
            )
        )
    prune(block, day(3, 1))
    bloom = ahead(farm, day(3, 2))["first-bloom"]
    assert (bloom.low_on, bloom.high_on) == (day(3, 31), day(4, 10))
    assert "Own notes, 2019." in bloom.reason


# Crops and cultivars -----------------------------------------------------------------------------


def test_a_second_crop_is_counted_from_its_own_opening(farm: Farm, block: Block) -> None:
    prune(block, day(3, 5))
    crop = Crop.objects.create(
        farm=farm, block=block, name="second", opened_by="leaf-stripping", opened_on=day(7, 1)
    )
    found = ahead(farm, day(7, 2), crop_name="second")
    assert found["first-bloom"].anchor_on == day(7, 1)
    assert found["first-bloom"].crop_id == crop.pk
    assert found["first-bloom"].reason.startswith("Leaves stripped 1 July.")
    main = ahead(farm, day(7, 2))["first-bloom"]
    assert main.anchor_on == day(3, 5)


def test_a_second_crop_goes_by_the_days_of_the_main_one_and_not_by_its_calendar(
    farm: Farm, block: Block
) -> None:
    for year in (2023, 2024, 2025):
        prune(block, day(3, 5 + year - 2023, year))
        see(block, "60", day(5, 10, year))
    Crop.objects.create(
        farm=farm, block=block, name="second", opened_by="pruning", opened_on=day(7, 1)
    )
    bloom = ahead(farm, day(7, 2), crop_name="second")["first-bloom"]
    assert bloom.method == "days"
    assert bloom.on_date == day(7, 1) + dt.timedelta(days=65)


def test_a_planned_strip_and_prune_can_be_forecast(farm: Farm, block: Block) -> None:
    three_seasons(block)
    found = {
        each.stage: each
        for each in plan_forecast(block, day(7, 1), day(5, 1), kind="leaf stripping")
    }
    bloom = found[Stage.FIRST_BLOOM]
    assert bloom.on == day(7, 1) + dt.timedelta(days=62)
    assert bloom.reason.startswith("Leaves stripped 1 July, as planned.")
    assert found[Stage.FIRST_PICKING].on is not None
    assert not StageForecast.objects.exists()


def test_a_plan_of_cherimoya_follows_the_published_second_crop(farm: Farm) -> None:
    """Soler & Cuevas 2008: stripped on 1 or 15 June, in bloom in July for two weeks at most."""
    block = plant_block(farm, "C1", "cherimoya")
    found = {each.stage: each for each in plan_forecast(block, day(6, 8), day(5, 1))}
    bloom, end = found[Stage.FIRST_BLOOM].on, found[Stage.END_OF_BLOOM].on
    assert bloom is not None
    assert end is not None
    assert day(7, 1) <= bloom <= day(7, 31)
    assert (end - bloom).days <= 14


def test_a_stage_on_a_tree_counts_for_its_cultivar(farm: Farm, block: Block) -> None:
    """The block as a whole goes by its main cultivar."""
    make_tree(block, 3, cultivar=make_cultivar(), planted_on=day(3, 1, 2018))
    other = Cultivar.objects.create(name="Velmira", species=make_species())
    tree = make_tree(block, 2, cultivar=other, planted_on=day(3, 1, 2018))
    prune(block, day(3, 5))
    saving.save(GrowthStage(farm=farm, block=block, tree=tree, bbch="60", observed_on=day(4, 20)))
    whole = ahead(farm, day(5, 1))["first-bloom"]
    own = ahead(farm, day(5, 1), cultivar=other)["first-bloom"]
    assert whole.observed_on is None
    assert own.observed_on == day(4, 20)


def test_a_stage_on_a_tree_is_the_blocks_where_all_trees_are_alike(
    farm: Farm, block: Block
) -> None:
    tree = block.trees.get()
    saving.save(GrowthStage(farm=farm, block=block, tree=tree, bbch="60", observed_on=day(4, 20)))
    assert ahead(farm, day(5, 1))["first-bloom"].observed_on == day(4, 20)
    assert not StageForecast.objects.exclude(cultivar=None).exists()


def test_a_crop_still_picked_after_its_season_ended_is_kept_until_it_is_done(
    farm: Farm, block: Block
) -> None:
    crop = Crop.objects.create(
        farm=farm, block=block, opened_by="pruning", opened_on=day(3, 5, 2025)
    )
    see(block, "60", day(5, 12, 2025))
    pick(block, day(12, 20, 2025))
    assert ahead(farm, day(1, 5), season=2025)["last-picking"].observed_on is None
    crop.picking_ends_on = day(1, 10)
    crop.save()
    assert ahead(farm, day(1, 11), season=2025) == {}


# Weather -----------------------------------------------------------------------------------------


def warm_block(farm: Farm) -> Block:
    """Atemoya whose bloom is driven by heat above 10 C: 500 degree days after pruning."""
    block = plant_block(farm, "A1", "atemoya")
    low, high = years_of_weather(make_station(farm), 2019, 7)
    daily = degree_days(low, high, Thresholds(lower=10))
    for n, year in enumerate(range(2019, 2026)):
        pruned = day(2, 1, year) + dt.timedelta(days=9 * (n % 4))
        place, gathered = (pruned - day(1, 1, 2019)).days, 0.0
        while gathered < 500:
            place += 1
            gathered += daily[place]
        season(block, year, pruned, place - (pruned - day(1, 1, 2019)).days)
    return block


def test_heat_drives_the_forecast_where_it_drove_the_seasons(farm: Farm) -> None:
    prune(warm_block(farm), day(2, 10))
    bloom = ahead(farm, day(2, 11))["first-bloom"]
    assert bloom.method == "degree-days"
    assert bloom.inputs["base_c"] == 10
    assert bloom.inputs["errors_days"]["degree-days"] < bloom.inputs["errors_days"]["days"]
    assert bloom.inputs["normals_from"] == "2026-01-01"
    assert bloom.reason.endswith("From 1 January on by the station's own means of earlier years.")
    assert "degree days above 10 C after pruning in 7 seasons" in bloom.reason


def test_a_warm_forecast_brings_the_stage_forward(farm: Farm) -> None:
    prune(warm_block(farm), day(2, 10))
    station = WeatherStation.objects.get()
    observe(station, day(1, 1), [(8, 18)] * 41)
    usual = ahead(farm, day(2, 11))["first-bloom"]
    for ahead_by in range(1, 11):
        foretell(station, day(2, 11), day(2, 10) + dt.timedelta(days=ahead_by), 25, 35)
    warm = ahead(farm, day(2, 11))["first-bloom"]
    assert warm.on_date < usual.on_date
    assert warm.inputs["forecast_from"] == "2026-02-11"
    assert "From 11 February to 20 February by forecast weather, from 21 February on" in (
        warm.reason
    )


def test_a_gap_since_pruning_leaves_degree_days_out(farm: Farm) -> None:
    prune(warm_block(farm), day(2, 10))
    station = WeatherStation.objects.get()
    observe(station, day(1, 1), [(8, 18)] * 45 + [(None, None)] + [(8, 18)] * 5)
    bloom = ahead(farm, day(2, 21))["first-bloom"]
    assert bloom.method != "degree-days"
    assert "degree-days" not in bloom.inputs["errors_days"]


def test_sugar_apple_has_no_degree_days_until_the_farm_enters_a_base(farm: Farm) -> None:
    block = warm_block(farm)
    Cultivar.objects.filter(pk=block.trees.get().cultivar_id).update(species=make_species())
    GrowthStage.objects.filter(observed_on__year__lt=2022).delete()
    prune(block, day(2, 10))
    without = ahead(farm, day(2, 11))["first-bloom"]
    assert "degree-days" not in without.inputs["errors_days"]
    save_figure(
        SpeciesFigure(
            farm=farm,
            species=Species.objects.get(code="sugar-apple"),
            name="base-temperature",
            value=10,
            source="Own trial.",
        )
    )
    entered = ahead(farm, day(2, 11))["first-bloom"]
    assert entered.method == "degree-days"
    assert entered.inputs["base_source"] == "Own trial."


# Cost --------------------------------------------------------------------------------------------


def queries_of_a_rebuild(farm: Farm) -> int:
    rebuild_forecasts(farm.pk, day(3, 5))
    with CaptureQueriesContext(connection) as seen:
        rebuild_forecasts(farm.pk, day(3, 5))
    return len(seen)


def test_a_rebuild_takes_as_many_queries_for_many_blocks_as_for_one(farm: Farm) -> None:
    counts = []
    for numbers in (range(1), range(1, 12)):
        for number in numbers:
            block = plant_block(farm, f"B{number}")
            three_seasons(block)
            prune(block, day(3, 5))
        counts.append(queries_of_a_rebuild(farm))
    assert counts[0] == counts[1] <= 30


def test_stored_forecasts_are_read_as_plain_values_in_one_query(
    farm: Farm, block: Block, django_assert_num_queries: Any
) -> None:
    prune(block, day(3, 5))
    rebuild_forecasts(farm.pk, day(3, 6))
    with django_assert_num_queries(1):
        found = stages_ahead(farm.pk)
    bloom = next(
        each for each in found[block.pk] if (each.stage, each.season_year) == ("first-bloom", 2026)
    )
    assert (bloom.bbch, bloom.on_date, bloom.low_on) == (60, day(5, 9), day(4, 24))
    assert bloom.reason.startswith("Pruned 5 March.")
