"""Weighings written as any of the layouts that members use land as the same rows."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings

from records.choices import ImportState
from records.models import Block, Farm, Grade, HarvestWeight
from records.models.harvest import to_grams
from tests.cast import Cast
from tests.importing.test_layouts_read_alike import (
    BLOCKS,
    GRADES,
    Habits,
    Weighing,
    a_sheet_a_block,
    a_sheet_a_month,
    all_habits,
    layouts,
    picked,
)
from tests.records.sending import counts, details, send

Layout = Callable[[list[Weighing], Habits], bytes]


@pytest.fixture
def farm(cast: Cast) -> Farm:
    """A farm with the blocks and grades that are written about."""
    farm = cast.ours.farm
    Block.objects.bulk_create(Block(farm=farm, code=code) for code in BLOCKS)
    Grade.objects.bulk_create(Grade(farm=farm, code=code, is_marketable=True) for code in GRADES)
    return farm


def sent(farm: Farm, weighings: list[Weighing], habits: Habits, layout: Layout) -> Any:
    is_workbook = layout in (a_sheet_a_block, a_sheet_a_month)
    return send(
        farm,
        layout(weighings, habits),
        file_name="h.xlsx" if is_workbook else "h.csv",
        unit=habits.unit,
        decimal_mark="" if is_workbook else habits.decimal_mark,
        date_order="" if is_workbook else "day-month-year",
    )


def stored(farm: Farm) -> list[tuple[Any, ...]]:
    rows = HarvestWeight.objects.filter(farm=farm, retired_on=None)
    return sorted(rows.values_list("picked_on", "block__code", "grade__code", "weight", "net_g"))


def expected(weighings: list[Weighing], unit: str) -> list[tuple[Any, ...]]:
    return sorted((*one, to_grams(one.weight, unit)) for one in weighings)


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(picked, all_habits, layouts, layouts)
def test_every_layout_lands_as_the_same_rows_and_is_known_again(
    farm: Farm, weighings: list[Weighing], habits: Habits, first: Layout, later: Layout
) -> None:
    farm.decimal_mark, farm.date_order = habits.decimal_mark, "day-month-year"
    farm.save()
    with transaction.atomic():
        landed = sent(farm, weighings, habits, first)
        assert (landed.state, details(landed)) == (ImportState.LANDED, [])
        assert counts(landed) == (len(weighings), 0, 0, 0)
        assert stored(farm) == expected(weighings, habits.unit)
        again = sent(farm, weighings, habits, later)
        assert (counts(again), details(again)) == ((0, 0, len(weighings), 0), [])
        transaction.set_rollback(True)
    assert stored(farm) == []
