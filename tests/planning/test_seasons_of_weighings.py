"""Which season a weighing counts in."""

import pytest

from planning.models import SeasonSummary, SummaryLevel
from records.models import Crop, SeasonStart
from tests.planning.ground import make_block, make_farm, summaries, summary, weigh

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("start_month", "picked_on", "label", "span"),
    [
        # the calendar year
        (1, "2026-02-10", "2026", ("2026-01-01", "2026-12-31")),
        # south of the equator: the season crosses New Year and is named by the year it starts in
        (7, "2026-02-10", "2025/26", ("2025-07-01", "2026-06-30")),
        # the first and the last day
        (7, "2026-07-01", "2026/27", ("2026-07-01", "2027-06-30")),
        (7, "2026-06-30", "2025/26", ("2025-07-01", "2026-06-30")),
    ],
)
def test_a_weighing_counts_in_the_farms_season_of_its_day(
    start_month: int, picked_on: str, label: str, span: tuple[str, str]
) -> None:
    farm = make_farm(season_start_month=start_month)
    weigh(make_block(farm), picked_on, 10)
    row = summary(farm)
    assert (row.season_label, row.season_year) == (label, int(label[:4]))
    assert (row.starts_on.isoformat(), row.ends_on.isoformat()) == span


def test_a_crop_picked_late_stays_in_the_season_in_which_it_bloomed() -> None:
    farm = make_farm()
    block = make_block(farm)
    crop = Crop.objects.create(
        farm=farm,
        block=block,
        opened_by="pruning",
        opened_on="2025-12-01",
        bloom_began_on="2026-05-01",
    )
    weigh(block, "2026-12-20", 10, crop=crop)
    weigh(block, "2027-01-15", 5, crop=crop)
    row = summary(farm)
    assert (row.season_label, row.net_g) == ("2026", 15_000)
    assert row.last_on.isoformat() == "2027-01-15"


def test_until_bloom_is_seen_a_crop_belongs_to_the_season_in_which_it_was_opened() -> None:
    farm = make_farm()
    block = make_block(farm)
    crop = Crop.objects.create(farm=farm, block=block, opened_by="pruning", opened_on="2025-12-01")
    weigh(block, "2026-02-01", 10, crop=crop)
    assert summary(farm).season_label == "2025"


def test_two_crops_of_a_season_are_summed_up_apart_and_together() -> None:
    farm = make_farm()
    block = make_block(farm)
    for name, day, kg in (("main", "2026-08-01", 10), ("second", "2026-12-01", 4)):
        crop = Crop.objects.create(
            farm=farm, block=block, name=name, opened_by="pruning", opened_on="2026-02-01"
        )
        weigh(block, day, kg, crop=crop)
    weigh(block, "2026-10-01", 1)  # of neither
    crops = summaries(farm, SummaryLevel.CROP)
    assert sorted(row.net_g for row in crops) == [4_000, 10_000]
    assert {row.block_id for row in crops} == {block.pk}
    assert summary(farm, SummaryLevel.BLOCK).net_g == 15_000


def test_a_change_of_season_start_leaves_closed_seasons_alone() -> None:
    farm = make_farm()
    block = make_block(farm)
    SeasonStart.objects.create(farm=farm, applies_from="2026-02-01", month=7)
    weigh(block, "2025-08-10", 5)
    weigh(block, "2026-08-10", 10)
    labels = [(row.season_label, row.net_g) for row in summaries(farm, SummaryLevel.FARM)]
    # 2026 had begun by the date of the change and goes on until July 2027
    assert labels == [("2025", 5_000), ("2026/27", 10_000)]


def test_a_block_may_have_a_season_start_of_its_own() -> None:
    farm = make_farm()
    north, south = make_block(farm, "N"), make_block(farm, "S")
    SeasonStart.objects.create(farm=farm, block=south, applies_from="2020-01-01", month=7)
    weigh(north, "2026-02-10", 10)
    weigh(south, "2026-02-10", 7)
    assert summary(farm, SummaryLevel.BLOCK, block=north).season_label == "2026"
    assert summary(farm, SummaryLevel.BLOCK, block=south).season_label == "2025/26"


def test_a_farm_whose_blocks_start_apart_joins_the_seasons_of_one_year() -> None:
    farm = make_farm()
    north, south = make_block(farm, "N"), make_block(farm, "S")
    SeasonStart.objects.create(farm=farm, block=south, applies_from="2020-01-01", month=7)
    weigh(north, "2026-08-10", 10)
    weigh(south, "2027-02-10", 7)
    row = summary(farm)
    assert (row.season_label, row.net_g, row.is_closed) == ("2026", 17_000, False)
    assert (row.starts_on.isoformat(), row.ends_on.isoformat()) == ("2026-01-01", "2027-06-30")


@pytest.mark.parametrize(
    ("farm_changes_on", "label"),
    [
        ("2023-01-01", "2025/26"),  # before the block's own: the block's rules
        ("2025-01-01", "2025/26"),  # after it: the block no longer follows
    ],
)
def test_a_block_with_its_own_start_no_longer_follows_the_farms(
    farm_changes_on: str, label: str
) -> None:
    farm = make_farm()
    block = make_block(farm)
    SeasonStart.objects.create(farm=farm, block=block, applies_from="2024-01-01", month=7)
    SeasonStart.objects.create(farm=farm, applies_from=farm_changes_on, month=4)
    weigh(block, "2026-05-10", 1)
    assert summary(farm, SummaryLevel.BLOCK).season_label == label


def test_an_earlier_change_of_the_farms_counts_until_the_blocks_own() -> None:
    farm = make_farm()
    block = make_block(farm)
    SeasonStart.objects.create(farm=farm, applies_from="2018-01-01", month=4)
    SeasonStart.objects.create(farm=farm, block=block, applies_from="2024-01-01", month=7)
    weigh(block, "2020-02-10", 1)
    assert summary(farm, SummaryLevel.BLOCK).season_label == "2019/20"


def test_no_season_is_summed_up_before_anything_is_picked() -> None:
    farm = make_farm()
    make_block(farm)
    assert summaries(farm, SummaryLevel.FARM) == []
    assert not SeasonSummary.objects.exists()
