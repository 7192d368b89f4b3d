"""The bridge from rows to plain values: aggregated in the database, in a few queries."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planning.queries.block_seasons import BlockSeason
from planning.queries.farm_seasons import farm_seasons
from records.models import Farm
from tests.cast import make_cultivar
from tests.planning.ground import (
    TODAY,
    join_co_op,
    make_block,
    make_co_op,
    make_farm,
    make_tree,
    weigh,
)

pytestmark = pytest.mark.django_db


def loaded(farm: Farm, co_op_id: Any = None) -> list[BlockSeason]:
    found = farm_seasons([farm], today_in=lambda _: TODAY, co_op_id=co_op_id)
    return [block for season in found for block in season.blocks]


def test_a_days_weighings_come_as_one_total() -> None:
    farm, cultivar = make_farm(), make_cultivar()
    block = make_block(farm)
    tree = make_tree(block, cultivar=cultivar)
    for kg in (1, 2, 3):
        weigh(block, "2026-09-10", kg, cultivar=cultivar, trees=[tree])
    weigh(block, "2026-09-11", 4, cultivar=cultivar, trees=[tree])
    (season,) = loaded(farm)
    (picking,) = season.pickings
    assert [day.net_g for day in picking.days] == [6_000, 4_000]
    assert sum(total.net_g for total in picking.trees) == 10_000


@pytest.mark.parametrize("in_co_op", [False, True])
def test_the_number_of_queries_does_not_grow_with_blocks_or_seasons(in_co_op: bool) -> None:
    small, large = make_farm("SMALL"), make_farm("LARGE")
    co_op = make_co_op()
    for farm, blocks, seasons in ((small, 1, 1), (large, 8, 6)):
        join_co_op(farm, co_op)
        for n in range(blocks):
            plant_and_pick(farm, f"B{n}", seasons, listed=bool(n % 2))
    co_op_id = co_op.pk if in_co_op else None
    assert queries_of(large, co_op_id) == queries_of(small, co_op_id) <= 16


def plant_and_pick(farm: Farm, code: str, seasons: int, *, listed: bool) -> None:
    block = make_block(farm, code)
    if listed:
        make_tree(block)
    for n in range(seasons):
        weigh(block, f"{2026 - n}-09-10", 10)


def queries_of(farm: Farm, co_op_id: Any) -> int:
    with CaptureQueriesContext(connection) as asked:
        loaded(farm, co_op_id)
    return len(asked)
