"""The cast is whole: what it names exists, nothing stands twice, nothing lies ahead."""

import shutil
from collections import Counter
from datetime import date
from itertools import combinations
from pathlib import Path

import pytest
from pyproj import Geod

from orchard.demo.cast import Block, Cast, Farm, Tree
from orchard.demo.cast_files import FIXTURES, read_cast
from orchard.demo.layouts import BY_GRADE, CELLS


def blocks(cast: Cast) -> list[Block]:
    return [block for farm in cast.farms for block in farm.blocks]


def planted_cultivars(block: Block) -> set[str]:
    grafted = {tree.graft.cultivar for tree in block.trees if tree.graft}
    return grafted | {planting.cultivar for planting in (*block.planting_lines, *block.trees)}


def farm_cultivars(farm: Farm) -> set[str]:
    return {name for block in farm.blocks for name in planted_cultivars(block)}


def test_seven_farms_of_which_six_share_an_island(cast: Cast) -> None:
    zones = Counter(farm.time_zone for farm in cast.farms)
    assert zones == {"Atlantic/Madeira": 6, "Australia/Brisbane": 1}


def test_island_farms_lie_near_each_other_and_the_associate_far_south(cast: Cast) -> None:
    for farm in cast.farms:
        near = (-26.5, 152.9) if farm.membership.is_associate else (32.7, -17.0)
        assert (float(farm.latitude), float(farm.longitude)) == pytest.approx(near, abs=0.1)


def test_the_associates_season_crosses_new_year(cast: Cast) -> None:
    [associate] = [farm for farm in cast.farms if farm.membership.is_associate]
    assert associate.season_of(date(2027, 2, 1)).label == "2026/27"


def test_one_cultivar_grows_on_five_farms(cast: Cast) -> None:
    growers = Counter(name for farm in cast.farms for name in farm_cultivars(farm))
    assert growers["Orvelada"] == 5


def test_five_species_are_all_grown(cast: Cast) -> None:
    grown = {name for farm in cast.farms for name in farm_cultivars(farm)}
    species = {cast.cultivar_by_name[name].species for name in grown}
    assert len(species) == 5
    assert species == set(cast.species_by_code)


def test_a_farm_plants_shared_cultivars_and_its_own_only(cast: Cast) -> None:
    for farm in cast.farms:
        owners = {cast.cultivar_by_name[name].farm for name in farm_cultivars(farm)}
        assert owners <= {None, farm.code}
    assert any(cultivar.farm for cultivar in cast.cultivars)


def test_grades_and_crates_that_are_named_exist(cast: Cast) -> None:
    co_op_grades = {grade.code for grade in cast.co_op.grades}
    for farm in cast.farms:
        assert {grade.co_op_grade for grade in farm.grades} <= co_op_grades | {None}
        if farm.picking.crates:
            assert farm.container(farm.picking.crates).tare_g > 0


def test_one_grade_is_not_mapped_to_the_co_ops(cast: Cast) -> None:
    unmapped = [g for farm in cast.farms for g in farm.grades if g.co_op_grade is None]
    assert len(unmapped) == 1


def test_culls_alone_have_a_reason_and_grade_shares_make_a_crop(cast: Cast) -> None:
    for farm in cast.farms:
        assert all(bool(grade.cull_reason) != grade.is_marketable for grade in farm.grades)
        assert sum(grade.share for grade in farm.grades) == pytest.approx(1)


def test_roles_are_on_farms_that_exist_and_every_farm_has_people(cast: Cast) -> None:
    roles = [role for person in cast.people for role in person.roles]
    farms = {farm.code for farm in cast.farms}
    assert {role.farm for role in roles if role.farm} == farms
    assert {role.farm for role in roles if role.role == "owner"} == farms
    assert all(cast.workers(farm) for farm in farms)
    assert {role.role for role in roles} == {
        "owner",
        "manager",
        "worker",
        "adviser",
        "co-op-staff",
        "platform-admin",
    }


def test_addresses_are_in_domains_that_cannot_exist(cast: Cast) -> None:
    """RFC 2606 reserves the top-level domain `example`."""
    assert all(person.email.endswith(".example") for person in cast.people)


@pytest.mark.parametrize("of_what", ["cultivars", "people", "blocks", "farms"])
def test_nothing_has_two_bearers_of_one_name(cast: Cast, of_what: str) -> None:
    names = {
        "cultivars": [cultivar.name for cultivar in cast.cultivars],
        "people": [person.email for person in cast.people],
        "blocks": [(farm.code, block.code) for farm in cast.farms for block in farm.blocks],
        "farms": [farm.code for farm in cast.farms],
    }[of_what]
    assert len(names) > 6
    assert len(names) == len(set(names))


def test_a_block_has_listed_trees_or_planting_lines(cast: Cast) -> None:
    for block in blocks(cast):
        assert bool(block.trees) != bool(block.planting_lines)


def both_stand(one: Tree, other: Tree) -> bool:
    first, second = sorted((one, other), key=lambda tree: tree.planted_on)
    return first.removed_on is None or first.removed_on > second.planted_on


def test_no_two_trees_stand_at_one_place_on_one_day(cast: Cast) -> None:
    for block in blocks(cast):
        for one, other in combinations(block.trees, 2):
            same_place = (one.row, one.position) == (other.row, other.position)
            assert not (same_place and both_stand(one, other))


def test_listed_trees_have_gaps_a_replant_and_a_top_worked_tree(cast: Cast) -> None:
    [terrace] = [block for block in blocks(cast) if block.weighed_by_tree]
    places = Counter((tree.row, tree.position) for tree in terrace.trees)
    assert len(places) == 5 * 6 - 2
    assert [place for place, trees in places.items() if trees == 2] == [(3, 4)]
    [top_worked] = [tree for tree in terrace.trees if tree.graft]
    assert top_worked.graft
    assert (top_worked.graft.cultivar, top_worked.graft.share_percent) == ("Rubrelinha", 40)


def test_an_outline_covers_about_the_entered_area(cast: Cast) -> None:
    outlined = [block for block in blocks(cast) if block.boundary]
    assert len(outlined) == 3
    for block in outlined:
        assert block.boundary
        longitudes, latitudes = zip(*block.boundary["coordinates"][0], strict=True)
        area_m2, _ = Geod(ellps="WGS84").polygon_area_perimeter(longitudes, latitudes)
        assert area_m2 == pytest.approx(block.area_m2, rel=0.02)


def test_sheets_have_columns_that_can_be_filled(cast: Cast) -> None:
    for farm in cast.farms:
        assert {field for _, field in farm.sheet.columns} <= {*CELLS, BY_GRADE}


def dates_in(cast: Cast) -> list[date]:
    trees = [tree for block in blocks(cast) for tree in block.trees]
    return [
        *(farm.membership.starts_on for farm in cast.farms),
        *(tree.planted_on for tree in trees),
        *(tree.removed_on for tree in trees if tree.removed_on),
        *(tree.graft.grafted_on for tree in trees if tree.graft),
    ]


@pytest.mark.parametrize(
    "as_of",
    [
        date(2026, 1, 1),  # the northern season's first day
        date(2026, 6, 30),  # the southern season's last day
        date(2026, 7, 1),  # and its first
        date(2028, 2, 29),  # a leap day
        date(2030, 12, 31),  # the northern season's last day
    ],
)
def test_nothing_lies_ahead(as_of: date) -> None:
    assert max(dates_in(read_cast(as_of))) <= as_of


def test_one_member_joined_in_the_second_season(cast: Cast) -> None:
    seasons = {farm.code: farm.season_of(farm.membership.starts_on).year for farm in cast.farms}
    joined_late = [code for code, year in seasons.items() if year > 2024]
    assert joined_late == ["URZ"]
    assert seasons["URZ"] == 2025


def test_memberships_differ_in_what_they_share_and_allow(cast: Cast) -> None:
    kinds = {(farm.membership.shares, farm.membership.staff_may_edit) for farm in cast.farms}
    assert kinds == {("harvest", False), ("harvest", True), ("all", False), ("all", True)}


def test_the_same_orchard_grows_older_when_counted_from_one_day() -> None:
    then, now = read_cast(date(2026, 12, 31)), read_cast(date(2027, 1, 1), date(2026, 12, 31))
    assert now.farms == then.farms


@pytest.mark.parametrize(
    ("find", "put", "error"),
    [
        ('time_zone = "', 'timezone = "', TypeError),  # an unknown key
        ("season_start_month = 1\n", "", KeyError),  # a missing one
    ],
)
def test_a_slip_in_the_files_is_refused(
    tmp_path: Path, find: str, put: str, error: type[Exception]
) -> None:
    folder = shutil.copytree(FIXTURES, tmp_path / "demo")
    farm = folder / "farms" / "HAD.toml"
    farm.write_text(farm.read_text(encoding="utf-8").replace(find, put), encoding="utf-8")
    with pytest.raises(error):
        read_cast(date(2026, 11, 20), folder=folder)
