"""Seasons of a block, cultivar or farm against each other, from stored summaries."""

import datetime as dt
import math
from decimal import Decimal
from typing import Any

import pytest

from planning.models import SeasonSummary, SummaryLevel
from records.models import HarvestWeight, Tree, TrunkGirth
from records.services.saving import save
from tests.cast import Cast, Place, client_of, client_with

V1 = "/api/v1/season-comparisons"


def summed(place: Place, year: int, kg: float, **values: Any) -> SeasonSummary:
    row: SeasonSummary = SeasonSummary.objects.create(
        **{
            "farm": place.farm,
            "block": place.block,
            "level": SummaryLevel.BLOCK,
            "season_year": year,
            "season_label": str(year),
            "starts_on": dt.date(year, 1, 1),
            "ends_on": dt.date(year, 12, 31),
            "is_closed": True,
            "net_g": round(kg * 1000),
            "estimated_g": 0,
            "grades": [],
            "weeks": [],
            "reasons": {},
            "inputs": {},
            "method": "made for a test",
            **values,
        }
    )
    return row


def compared(client: Any, **query: Any) -> list[dict[str, Any]]:
    answer = client.get(V1, {name: str(value) for name, value in query.items()})
    assert answer.status_code == 200, answer.content
    rows: list[dict[str, Any]] = answer.json()["results"]
    return rows


def test_a_block_is_compared_year_on_year(cast: Cast) -> None:
    for year, kg in ((2022, 100), (2023, 50), (2024, 100)):
        summed(cast.ours, year, kg, p50_on=dt.date(year, 9, 1 + year - 2022))
    rows = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    assert [row["season_year"] for row in rows] == [2022, 2023, 2024]
    assert [row["before_net_kg_percent"] for row in rows] == [None, -50.0, 100.0]
    assert [row["mean_net_kg_percent"] for row in rows] == [None, -50.0, 33.3]
    assert [row["alternate_bearing"] for row in rows] == [None, 0.3333, 0.3333]
    assert rows[2]["before_p50_days_later"] == 2.0  # a day, and that of 29 February


def test_a_missing_season_is_told_and_not_bridged(cast: Cast) -> None:
    summed(cast.ours, 2022, 100)
    summed(cast.ours, 2024, 0)
    *_, last = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    assert last["before_net_kg_percent"] is None
    assert last["reasons"]["before"] == "Of the season before 2024 nothing is recorded."
    assert last["alternate_bearing"] is None
    assert last["reasons"]["alternate_bearing"].startswith("No two complete seasons")


def test_bases_and_levels_are_series_of_their_own(cast: Cast) -> None:
    summed(cast.ours, 2023, 100)
    summed(cast.ours, 2024, 90, basis="received")
    summed(cast.ours, 2024, 40, block=None, level=SummaryLevel.FARM)
    summed(cast.ours, 2024, 30, block=None, level=SummaryLevel.CULTIVAR, cultivar_id=None)
    rows = compared(client_of(cast.ours.owner), farm=cast.ours.farm.pk)
    assert len(rows) == 4
    assert all(row["before_net_kg_percent"] is None for row in rows)
    only = compared(client_of(cast.ours.owner), farm=cast.ours.farm.pk, level="block")
    assert [(row["basis"], row["net_kg"]) for row in only] == [("picked", 100), ("received", 90)]


def measure(tree: Tree, girth_mm: int, on: str, trunk: int = 1) -> None:
    TrunkGirth.objects.create(
        farm=tree.farm, tree=tree, trunk=trunk, measured_on=on, girth_mm=girth_mm
    )


def test_yield_efficiency_goes_by_the_last_girths_before_picking(cast: Cast) -> None:
    for day, girth_mm in (("2023-05-01", 400), ("2024-05-01", 500), ("2024-10-01", 520)):
        measure(cast.ours.tree, girth_mm, day)
    summed(cast.ours, 2024, 43, kg_per_tree=43.0, bearing_trees=1, first_on=dt.date(2024, 9, 1))
    [row] = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    # 43 kg on a girth of 50 cm: recomputed.
    assert row["kg_per_cm2"] == 0.21614
    assert row["mean_section_cm2"] == 198.94
    assert (row["girths_from"], row["girths_to"], row["trees_measured"]) == (
        *("2024-05-01", "2024-05-01"),
        1,
    )
    assert "kg_per_cm2" not in row["reasons"]


def test_trees_that_do_not_stand_or_bear_are_left_out(cast: Cast) -> None:
    gone = Tree.objects.create(
        farm=cast.ours.farm,
        block=cast.ours.block,
        row=9,
        position=1,
        removed_on=dt.date(2024, 8, 31),
    )
    idle = Tree.objects.create(
        farm=cast.ours.farm, block=cast.ours.block, row=9, position=2, non_bearing=True
    )
    for tree in (gone, idle, cast.ours.tree):
        measure(tree, 500, "2024-05-01")
    summed(cast.ours, 2024, 43, kg_per_tree=43.0, bearing_trees=9, first_on=dt.date(2024, 9, 1))
    [row] = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    assert row["trees_measured"] == 1
    assert row["reasons"]["kg_per_cm2"] == "By 1 of 9 bearing trees."


def test_trunks_of_a_tree_add_up(cast: Cast) -> None:
    for trunk in (1, 2):
        measure(cast.ours.tree, 250, "2024-05-01", trunk)
    summed(cast.ours, 2024, 43, kg_per_tree=43.0, first_on=dt.date(2024, 9, 1))
    [row] = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    assert row["mean_section_cm2"] == pytest.approx(2 * 25**2 / (4 * math.pi), abs=0.005)


def test_an_app_that_may_not_see_field_records_sees_no_girths(cast: Cast) -> None:
    measure(cast.ours.tree, 500, "2024-05-01")
    summed(cast.ours, 2024, 43, kg_per_tree=43.0, first_on=dt.date(2024, 9, 1))
    app = client_with(cast.ours.farm, "harvest:read")
    [row] = compared(app, block=cast.ours.block.pk)
    assert row["kg_per_cm2"] is None
    assert row["reasons"]["kg_per_cm2"] == "Girths of trunks are not shared with you."


def test_the_spread_between_trees_is_that_of_the_summary(cast: Cast) -> None:
    """A uniformity trial of peaches: the mean is as printed, the CV printed (34.4 %) is not.

    Strickland 1935, Journal of Agriculture, Victoria 33: 408-416; from his data it is 31.14 %.
    """
    spread = {"n": 144, "net_kg": 8575.6, "mean_kg": 59.55, "sd_kg": 18.54, "cv": 0.31137}
    summed(cast.ours, 2024, 8_575.6, spread=spread)
    [row] = compared(client_of(cast.ours.owner), block=cast.ours.block.pk)
    assert (row["trees_weighed"], row["trees_cv"]) == (144, 0.3114)


def test_co_op_staff_see_their_members_series_and_not_its_blocks(cast: Cast) -> None:
    summed(cast.ours, 2024, 100)
    for year, kg in ((2023, 80), (2024, 100)):
        summed(
            cast.ours,
            year,
            kg,
            farm=None,
            block=None,
            co_op=cast.co_op,
            member=cast.ours.farm,
            level=SummaryLevel.MEMBER,
        )
    rows = compared(client_of(cast.staff), farm=cast.ours.farm.pk)
    assert {row["level"] for row in rows} == {"member"}
    assert [row["before_net_kg_percent"] for row in rows] == [None, 25.0]
    assert rows[0]["farm_code"] == "OURS"


def test_a_comparison_is_of_a_farm_or_a_block(cast: Cast) -> None:
    answer = client_of(cast.ours.owner).get(V1)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["parameter"] == "farm"


def test_comparisons_come_as_a_table(cast: Cast) -> None:
    summed(cast.ours, 2023, 100)
    summed(cast.ours, 2024, 150)
    query = {"farm": str(cast.ours.farm.pk), "format": "csv"}
    text = client_of(cast.ours.owner).get(V1, query).content.decode()
    heading, _, second = text.splitlines()
    column = heading.split(",").index("before_net_kg_percent")
    assert second.split(",")[:1] == ["block"]
    assert "50.0" in second.split(",")[column - 1 :]


def test_many_blocks_cost_as_many_queries_as_one(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    """Who asks (4), the farm, the summaries, and the girths."""
    summed(cast.ours, 2024, 100)
    client = client_of(cast.ours.owner)
    for year in (2023, 2022):
        with django_assert_num_queries(7):
            compared(client, farm=cast.ours.farm.pk)
        summed(cast.ours, year, 50)


def test_each_tree_has_its_kilos_by_its_own_trunk(cast: Cast, settings: Any) -> None:
    settings.AS_OF = dt.date(2026, 12, 1)
    place = cast.ours
    other = Tree.objects.create(farm=place.farm, block=place.block, row=1, position=2)
    weights = [("43", [place.tree]), ("9", [place.tree, other])]  # the second is of both
    for kilos, trees in weights:
        weight = HarvestWeight(
            farm=place.farm,
            block=place.block,
            picked_on=dt.date(2026, 9, 10),
            weight=Decimal(kilos),
            unit="kg",
            weight_kind="net",
        )
        save(weight, trees=trees)
    measure(place.tree, 500, "2026-05-01")
    answer = client_of(place.owner).get(
        "/api/v1/yield-efficiencies", {"block": str(place.block.pk), "season": "2026"}
    )
    first, second = answer.json()["results"]
    assert (first["net_kg"], first["kg_per_cm2"], first["reason"]) == (43.0, 0.21614, None)
    assert second["kg_per_cm2"] is None
    assert second["reason"] == ("It was not weighed by itself. Its trunk was not measured in time.")
