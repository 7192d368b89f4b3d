"""Three plausible seasons: in range, in season, the same every time, and never ahead of the day."""

from collections import Counter, defaultdict
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orchard.demo.cast import Block, Cast, Farm
from orchard.demo.cast_files import read_cast
from orchard.demo.crops import crops
from orchard.demo.harvest import GRAMS, Weighing, scale_reading_g, season_weighings, weighings
from orchard.demo.stands import bearing_fraction, bearing_stands

DAYS = st.dates(min_value=date(2024, 1, 1), max_value=date(2035, 12, 31))


def farm_named(cast: Cast, code: str) -> Farm:
    return next(farm for farm in cast.farms if farm.code == code)


def block_named(farm: Farm, code: str) -> Block:
    return next(block for block in farm.blocks if block.code == code)


def species_of(cast: Cast, weighing: Weighing) -> str:
    return cast.cultivar_by_name[weighing.cultivar].species


@given(as_of=DAYS)
@settings(max_examples=5, deadline=None)
@pytest.mark.long
def test_two_runs_of_one_day_weigh_the_same_and_nothing_ahead_of_it(as_of: date) -> None:
    picked = weighings(read_cast(as_of))
    assert picked == weighings(read_cast(as_of))
    assert max(weighing.picked_on for weighing in picked) <= as_of


@given(as_of=DAYS, later=st.integers(min_value=1, max_value=120))
@settings(max_examples=5, deadline=None)
def test_a_later_day_only_adds_weighings_to_a_season(as_of: date, later: int) -> None:
    """Counted back from one day, the orchards stay the same ones over New Year too."""
    before = by_season(weighings(read_cast(as_of)))
    after = by_season(weighings(read_cast(as_of + timedelta(days=later), as_of)))
    shared = before.keys() & after.keys()
    assert shared
    for season in shared:
        assert after[season][: len(before[season])] == before[season]


def by_season(picked: list[Weighing]) -> dict[tuple[str, int], list[Weighing]]:
    seasons = defaultdict(list)
    for weighing in picked:
        seasons[weighing.farm, weighing.season_year].append(weighing)
    return seasons


@pytest.mark.parametrize(
    ("as_of", "north", "south"),
    [
        # North has just closed its season; south waits for the picking of the one it is in.
        (date(2026, 11, 20), {2024, 2025, 2026}, {2023, 2024, 2025}),
        # South is picking, north not yet.
        (date(2027, 4, 1), {2024, 2025, 2026}, {2024, 2025, 2026}),
        # New Year: nothing is picked anywhere.
        (date(2027, 1, 1), {2024, 2025, 2026}, {2023, 2024, 2025}),
        # One farm's first fruit of the season were too few to weigh.
        (date(2028, 8, 10), {2025, 2026, 2027}, {2025, 2026, 2027}),
    ],
)
def test_every_farm_shows_three_picked_seasons(
    as_of: date, north: set[int], south: set[int]
) -> None:
    for farm, years in picked_years(weighings(read_cast(as_of))).items():
        assert years == (south if farm == "TAL" else north)


def picked_years(picked: list[Weighing]) -> dict[str, set[int]]:
    years = defaultdict(set)
    for farm, year in by_season(picked):
        years[farm].add(year)
    return years


def test_the_whole_is_small_enough_to_load_while_one_waits(picked: list[Weighing]) -> None:
    assert 4_000 <= len(picked) <= 8_000


def test_fruit_is_picked_in_its_season(picked: list[Weighing]) -> None:
    """August to November in the northern subtropics: common practice, no source."""
    for weighing in picked:
        months = range(2, 7) if weighing.farm == "TAL" else range(8, 12)
        assert weighing.picked_on.month in months


def test_weighings_belong_to_the_season_of_their_day(cast: Cast, picked: list[Weighing]) -> None:
    for weighing in picked:
        farm = farm_named(cast, weighing.farm)
        assert farm.season_of(weighing.picked_on).year == weighing.season_year


def test_a_stand_is_picked_over_about_ten_weeks(picked: list[Weighing]) -> None:
    """Ten weeks or more: common practice, no source. Small last pickings may be left out."""
    days = [w.picked_on for w in picked if (w.block, w.season_year) == ("P1", 2026)]
    assert 9 * 7 <= (max(days) - min(days)).days <= 12 * 7


def test_sugar_apple_fruit_weigh_what_is_published(cast: Cast, picked: list[Weighing]) -> None:
    """113 to 682 g a fruit: published range of sugar apple."""
    means_g = [
        weighing.net_g / weighing.fruit_count
        for weighing in picked
        if weighing.net_g and weighing.fruit_count and species_of(cast, weighing) == "sugar-apple"
    ]
    assert len(means_g) > 1_000
    assert min(means_g) >= 113
    assert max(means_g) <= 682


def test_mean_fruit_weights_stay_within_the_species_range(
    cast: Cast, picked: list[Weighing]
) -> None:
    for weighing in picked:
        if weighing.net_g and weighing.fruit_count:
            least, most = cast.species_by_code[species_of(cast, weighing)].fruit_g
            assert least <= weighing.net_g / weighing.fruit_count <= most


@pytest.mark.parametrize("year", [2023, 2024, 2025])
def test_full_grown_atemoyas_crop_as_published(
    cast: Cast, picked: list[Weighing], year: int
) -> None:
    """23 to 34 kg a mature tree and 5 to 20 t/ha: FAO Ecocrop, atemoya."""
    ridge = block_named(farm_named(cast, "TAL"), "RIDGE")
    net_kg = sum(w.net_g or 0 for w in picked if (w.block, w.season_year) == ("RIDGE", year)) / 1000
    trees = sum(line.tree_count for line in ridge.planting_lines)
    assert 23 <= net_kg / trees <= 34
    assert 5 <= net_kg / ridge.area_m2 * 10 <= 20


@pytest.mark.parametrize(
    ("age", "fraction"),
    [
        (2, 0.0),  # a season too young
        (3, 0.2),  # the first crop
        (5, 0.6),  # rising
        (7, 1.0),  # full
        (30, 1.0),  # and no more than full
    ],
)
def test_a_trees_crop_rises_from_its_bearing_age(age: int, fraction: float) -> None:
    assert bearing_fraction(age, bearing_age_years=3) == pytest.approx(fraction)


def test_a_young_planting_crops_more_each_year(picked: list[Weighing]) -> None:
    net_g: defaultdict[int, int] = defaultdict(int)
    for weighing in picked:
        if (weighing.farm, weighing.block) == ("TRA", "P3"):
            net_g[weighing.season_year] += weighing.net_g or 0
    assert 0 < net_g[2024] < net_g[2025] < net_g[2026]


def test_trees_below_bearing_age_have_no_weighings(picked: list[Weighing]) -> None:
    assert ("TAL", "NEW") not in {(weighing.farm, weighing.block) for weighing in picked}


def test_one_block_is_weighed_tree_by_tree(cast: Cast, picked: list[Weighing]) -> None:
    terrace = block_named(farm_named(cast, "HAD"), "N1")
    by_tree = [weighing for weighing in picked if weighing.row is not None]
    assert {(weighing.farm, weighing.block) for weighing in by_tree} == {("HAD", "N1")}
    assert not [w for w in picked if (w.farm, w.block) == ("HAD", "N1") and w.row is None]
    for weighing in by_tree:
        at_place = [
            t for t in terrace.trees if (t.row, t.position) == (weighing.row, weighing.position)
        ]
        assert [tree for tree in at_place if tree.stands_on(weighing.picked_on)]


def test_a_removed_tree_and_its_replant_bear_nothing(picked: list[Weighing]) -> None:
    at_place = {w.season_year for w in picked if (w.row, w.position) == (3, 4)}
    assert at_place == {2024}


def test_a_graft_bears_beside_the_old_crown_from_the_season_after(
    picked: list[Weighing],
) -> None:
    cultivars = defaultdict(set)
    for weighing in picked:
        if (weighing.row, weighing.position) == (2, 2):
            cultivars[weighing.season_year].add(weighing.cultivar)
    both = {"Orvelada", "Rubrelinha"}
    assert cultivars == {2024: {"Orvelada"}, 2025: both, 2026: both}


def test_trees_differ(picked: list[Weighing]) -> None:
    per_tree = Counter[tuple[int | None, int | None]]()
    for weighing in picked:
        if weighing.row in (1, 3, 4) and weighing.season_year == 2026:
            per_tree[weighing.row, weighing.position] += weighing.net_g or 0
    assert max(per_tree.values()) > 1.2 * min(per_tree.values())


def test_grades_are_the_farms_own_and_some_fruit_is_culled(
    cast: Cast, picked: list[Weighing]
) -> None:
    for farm in cast.farms:
        used = {weighing.grade for weighing in picked if weighing.farm == farm.code}
        assert used - {None} == {grade.code for grade in farm.grades}


def test_net_is_gross_less_the_tare_of_all_containers(cast: Cast, picked: list[Weighing]) -> None:
    crated = [weighing for weighing in picked if weighing.gross_g is not None]
    assert len(crated) > 400
    for weighing in crated:
        assert weighing.container
        tare_g = farm_named(cast, weighing.farm).container(weighing.container).tare_g
        assert weighing.gross_g == (weighing.net_g or 0) + (weighing.containers or 0) * tare_g


def test_a_few_loads_are_only_counted_in_crates(picked: list[Weighing]) -> None:
    counted = [weighing for weighing in picked if weighing.net_g is None]
    assert {weighing.farm for weighing in counted} == {"ZIM"}
    assert 10 <= len(counted) <= 80
    assert all(weighing.containers and weighing.note for weighing in counted)


@pytest.mark.parametrize("farm", ["TAL", "ZIM"])
def test_a_docket_is_one_days_and_its_lines_are_numbered(picked: list[Weighing], farm: str) -> None:
    days, lines = defaultdict(set), defaultdict(list)
    for weighing in picked:
        if weighing.farm == farm:
            days[weighing.docket].add(weighing.picked_on)
            lines[weighing.docket].append(weighing.line)
    assert all(len(on) == 1 for on in days.values())
    assert all(numbers == list(range(1, len(numbers) + 1)) for numbers in lines.values())


def test_pickers_work_on_the_farm(cast: Cast, picked: list[Weighing]) -> None:
    for weighing in picked:
        assert weighing.pickers
        assert set(weighing.pickers) <= set(cast.workers(weighing.farm))
        assert len(set(weighing.pickers)) == len(weighing.pickers)


@given(weight_g=st.floats(min_value=500, max_value=200_000), data=st.data())
def test_a_scale_shows_the_nearest_step(weight_g: float, data: st.DataObject) -> None:
    farm = data.draw(st.sampled_from(read_cast(date(2026, 11, 20)).farms))
    step_g = float(farm.picking.scale_step * GRAMS[farm.sheet.weight_unit])
    shown_g = scale_reading_g(farm, weight_g)
    assert abs(shown_g - weight_g) <= step_g / 2 + 0.5


def test_a_planting_yields_what_was_drawn_for_it(cast: Cast, picked: list[Weighing]) -> None:
    """Loads too small to weigh are the only loss."""
    slope = [w for w in picked if (w.farm, w.block, w.season_year) == ("HAD", "S1", 2026)]
    [stand] = [s for s in stands_of(cast, "HAD", 2026) if s.block.code == "S1"]
    grown_g = stand.full_grown_trees * 20_000
    assert 0.85 * grown_g <= sum(w.net_g or 0 for w in slope) <= 1.17 * grown_g


def stands_of(cast: Cast, code: str, year: int) -> list:
    farm = farm_named(cast, code)
    return list(bearing_stands(cast, farm, farm.season_span(year)))


def test_every_picked_block_has_a_crop_that_opened_and_bloomed_before(
    cast: Cast, picked: list[Weighing]
) -> None:
    opened = {(crop.farm, crop.block, crop.season_year): crop for crop in crops(cast)}
    for weighing in picked:
        crop = opened[weighing.farm, weighing.block, weighing.season_year]
        assert crop.bloom_began_on is not None
        assert crop.opened_on <= crop.bloom_began_on < weighing.picked_on


@given(as_of=DAYS)
@settings(max_examples=5, deadline=None)
def test_crops_open_and_bloom_no_later_than_the_day(as_of: date) -> None:
    opened = crops(read_cast(as_of))
    assert opened
    for crop in opened:
        assert crop.opened_on <= (crop.bloom_began_on or as_of) <= as_of


def test_pruning_opens_a_crop_in_early_march_or_september(cast: Cast) -> None:
    """First week of March: common practice, no source. September in the south: Sanewski 1991."""
    for crop in crops(cast):
        if crop.opened_by == "pruning":
            month = 9 if crop.farm == "TAL" else 3
            early = crop.opened_on.replace(month=month, day=1)
            assert abs((crop.opened_on - early).days) <= 16


def test_evergreen_soursop_opens_with_its_bloom(cast: Cast) -> None:
    soursop = [crop for crop in crops(cast) if (crop.farm, crop.block) == ("URZ", "U2")]
    assert len(soursop) == 3
    assert all(crop.opened_by == "first-bloom" for crop in soursop)
    assert all(crop.opened_on == crop.bloom_began_on for crop in soursop)


def test_a_crop_opens_before_its_season_is_picked(cast: Cast) -> None:
    years = {crop.season_year for crop in crops(cast) if crop.farm == "TAL"}
    assert years == {2023, 2024, 2025, 2026}


def test_a_season_is_drawn_whole(cast: Cast) -> None:
    early = read_cast(date(2026, 8, 20), cast.as_of)
    farm = farm_named(cast, "HAD")
    season = farm.season_span(2026)
    assert season_weighings(early, farm, season) == season_weighings(cast, farm, season)
