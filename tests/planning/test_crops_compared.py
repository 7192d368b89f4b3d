"""A further crop of a season is held against the main crop of its block."""

from typing import Any

import pytest

from planning.models import SeasonSummary, SummaryLevel
from records.models import Block, Crop, Farm
from tests.planning.ground import make_block, make_farm, make_tree, summaries, weigh

pytestmark = pytest.mark.django_db


@pytest.fixture
def farm() -> Farm:
    return make_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    block = make_block(farm)
    make_tree(block)
    return block


def a_crop(block: Block, name: str, opened_on: str) -> Crop:
    return Crop.objects.create(
        farm=block.farm, block=block, name=name, opened_by="pruning", opened_on=opened_on
    )


def comparison(farm: Farm, crop: Crop) -> Any:
    rows: list[SeasonSummary] = summaries(farm, SummaryLevel.CROP, crop=crop)
    return rows[0].against_main


def test_kilos_days_and_kilos_an_hour_are_compared(farm: Farm, block: Block) -> None:
    main, second = a_crop(block, "main", "2026-03-01"), a_crop(block, "second", "2026-06-01")
    weigh(block, "2026-09-10", 40, crop=main, minutes=60)
    weigh(block, "2026-10-30", 10, crop=second, minutes=20)
    found = comparison(farm, second)
    assert found["kilos_ratio"] == pytest.approx(0.25)
    # Cherimoya, Almeria: the second harvest about 50 days after the first (Soler & Cuevas 2008).
    assert found["p50_days_later"] == 50
    assert found["kg_per_picking_hour_ratio"] == pytest.approx(30 / 40)
    assert found["minutes_ratio"] is None
    assert found["reasons"] == {
        "minutes_ratio": (
            "this crop's minutes: work is recorded by block, and it had more than one crop"
        )
    }
    assert comparison(farm, main) is None


def test_what_was_not_weighed_is_not_compared(farm: Farm, block: Block) -> None:
    main, second = a_crop(block, "main", "2026-03-01"), a_crop(block, "second", "2026-06-01")
    weigh(block, "2026-09-10", 40, crop=main)
    weigh(block, "2026-10-30", crop=second, fruit_count=30)
    found = comparison(farm, second)
    assert (found["kilos_ratio"], found["p50_days_later"]) == (None, None)
    assert found["reasons"]["kilos_ratio"].startswith("this crop's 50 % picking date: nothing")
    assert (
        "no weighing has both a weight and minutes"
        in (found["reasons"]["kg_per_picking_hour_ratio"])
    )


def test_without_one_main_crop_there_is_nothing_to_compare_with(farm: Farm, block: Block) -> None:
    second, third = a_crop(block, "second", "2026-06-01"), a_crop(block, "third", "2026-07-01")
    weigh(block, "2026-10-30", 10, crop=second)
    weigh(block, "2026-11-10", 10, crop=third)
    found = comparison(farm, second)
    assert set(found["reasons"]) == {
        "kilos_ratio",
        "p50_days_later",
        "kg_per_picking_hour_ratio",
        "minutes_ratio",
    }
    assert "no main crop" in found["reasons"]["kilos_ratio"]


def test_a_crop_alone_is_compared_with_nothing(farm: Farm, block: Block) -> None:
    second = a_crop(block, "second", "2026-06-01")
    weigh(block, "2026-10-30", 10, crop=second)
    assert comparison(farm, second) is None
