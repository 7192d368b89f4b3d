"""Minutes by kind of work, each counted once, and kilos per hour of picking."""

from typing import Any

import pytest

from planning.models import SeasonSummary, SummaryLevel
from planning.services.season_summaries import rebuild_co_op
from records.choices import Basis, CountKind, PollinationMethod, Shares, TaskKind
from records.models import Block, Crop, Farm, FruitCount, PollinationRound, TaskLog
from tests.cast import make_cultivar
from tests.planning.ground import (
    TODAY,
    co_op_summary,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    receive,
    summaries,
    summary,
    weigh,
)

pytestmark = pytest.mark.django_db

DAY = "2026-09-10"


def count(block: Block, minutes: int) -> FruitCount:
    return FruitCount.objects.create(
        farm_id=block.farm_id,
        block=block,
        counted_on=DAY,
        kind=CountKind.RETAINED,
        flowers_looked_at=10,
        fruit=4,
        minutes=minutes,
    )


@pytest.fixture
def farm() -> Farm:
    return make_farm()


@pytest.fixture
def block(farm: Farm) -> Block:
    return make_block(farm)


def work(block: Block, minutes: int | None, done_on: str = DAY, **extra: Any) -> TaskLog:
    kind = extra.pop("kind", TaskKind.PRUNING)
    return TaskLog.objects.create(
        farm_id=block.farm_id, block=block, kind=kind, done_on=done_on, minutes=minutes, **extra
    )


def pollinate(block: Block, minutes: int, pollinated_on: str = DAY) -> PollinationRound:
    return PollinationRound.objects.create(
        farm_id=block.farm_id,
        block=block,
        pollinated_on=pollinated_on,
        method=PollinationMethod.NATURAL,
        cultivar=make_cultivar(f"Of {pollinated_on}", block.farm),
        flowers=10,
        minutes=minutes,
    )


def test_every_kind_of_work_is_counted_once(block: Block, farm: Farm) -> None:
    work(block, 120)
    work(block, 30)
    work(block, 45, kind=TaskKind.THINNING)
    work(block, None, kind=TaskKind.WEEDING)
    pollinate(block, 90)
    count(block, 20)
    weigh(block, DAY, 10, minutes=60)
    expected = {"pruning": 150, "thinning": 45, "pollination": 90, "counting": 20, "picking": 60}
    assert summary(farm, SummaryLevel.BLOCK).minutes == expected
    assert summary(farm).minutes == expected


def test_kilos_per_hour_are_over_weighings_that_have_both(block: Block, farm: Farm) -> None:
    weigh(block, DAY, 30, minutes=60)
    weigh(block, DAY, 15, minutes=30)
    weigh(block, DAY, 1000)  # nobody noted how long it took
    weigh(block, DAY, fruit_count=5, minutes=600)  # nobody weighed it
    row = summary(farm)
    assert row.kg_per_picking_hour == 30.0
    assert row.minutes == {"picking": 690}


def test_without_timed_weighings_the_reason_is_told(block: Block, farm: Farm) -> None:
    weigh(block, DAY, 30)
    row = summary(farm)
    assert row.kg_per_picking_hour is None
    told = row.reasons["kg_per_picking_hour"]
    assert told == "kg per hour of picking: no weighing has both a weight and minutes"
    assert row.minutes is None
    assert row.reasons["minutes"] == "minutes: no minutes of work are recorded"


def test_work_counts_in_the_season_of_its_day_before_anything_is_picked(farm: Farm) -> None:
    block = make_block(farm)
    work(block, 60, "2025-12-31")
    work(block, 90, "2026-01-01")
    rows = summaries(farm, SummaryLevel.FARM)
    assert [(row.season_year, row.minutes, row.net_g) for row in rows] == [
        (2025, {"pruning": 60}, 0),
        (2026, {"pruning": 90}, 0),
    ]


def test_minutes_of_blocks_add_up_to_the_farms(farm: Farm) -> None:
    for n in range(3):
        work(make_block(farm, f"B{n}"), 10 * (n + 1))
    blocks = summaries(farm, SummaryLevel.BLOCK)
    assert sum(row.minutes["pruning"] for row in blocks) == summary(farm).minutes["pruning"] == 60


def test_retired_work_does_not_count(block: Block, farm: Farm) -> None:
    work(block, 10)
    work(block, 20, retired_on=DAY)
    assert summary(farm).minutes == {"pruning": 10}


def test_a_crops_minutes_are_known_where_the_block_had_no_other(block: Block, farm: Farm) -> None:
    main = Crop.objects.create(farm=farm, block=block, name="main", opened_on="2026-03-01")
    work(block, 10)
    weigh(block, DAY, 5, crop=main, minutes=15)
    assert summary(farm, SummaryLevel.CROP).minutes == {"pruning": 10, "picking": 15}
    second = Crop.objects.create(farm=farm, block=block, name="second", opened_on="2026-06-01")
    weigh(block, DAY, 5, crop=second)
    for row in summaries(farm, SummaryLevel.CROP):
        assert row.minutes is None
        assert "more than one crop" in row.reasons["minutes"]


def test_work_is_not_split_between_cultivars(block: Block, farm: Farm) -> None:
    weigh(block, DAY, 5, cultivar=make_cultivar(), minutes=10)
    row = summary(farm, SummaryLevel.CULTIVAR)
    assert row.minutes is None
    assert row.reasons["minutes"] == "minutes: work is recorded by block, not by cultivar"
    assert row.kg_per_picking_hour == 30.0


def test_rows_of_intakes_show_the_same_work(block: Block, farm: Farm) -> None:
    work(block, 10)
    receive(farm, DAY, 5)
    row = summary(farm, basis=Basis.RECEIVED)
    assert row.minutes == {"pruning": 10}
    assert "this row is of intakes" in row.reasons["kg_per_picking_hour"]


def test_a_co_op_sees_the_work_of_members_that_share_all(farm: Farm, block: Block) -> None:
    co_op, reserved = make_co_op(), make_farm("NEXT")
    join_co_op(farm, co_op, shares=Shares.ALL)
    join_co_op(reserved, co_op)
    for place in (block, make_block(reserved)):
        work(place, 10)
        weigh(place, DAY, 5, minutes=20)
    open_row = co_op_summary(co_op, SummaryLevel.MEMBER, member=farm)
    assert open_row.minutes == {"pruning": 10, "picking": 20}
    assert open_row.kg_per_picking_hour == 15.0
    closed = co_op_summary(co_op, SummaryLevel.MEMBER, member=reserved)
    assert closed.minutes is None
    assert closed.kg_per_picking_hour is None
    for name in ("minutes", "kg_per_picking_hour"):
        assert closed.reasons[name].endswith("the member shares its harvest, not its work")
    total = co_op_summary(co_op, SummaryLevel.CO_OP)
    assert total.minutes is None
    assert total.kg_per_picking_hour == 15.0
    assert "1 of 2 members" in total.reasons["kg_per_picking_hour"]


def test_work_alone_makes_no_row_for_a_co_op(farm: Farm, block: Block) -> None:
    co_op = make_co_op()
    join_co_op(farm, co_op, shares=Shares.ALL)
    work(block, 10)
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    assert not SeasonSummary.objects.filter(co_op=co_op).exists()
