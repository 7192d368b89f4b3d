"""Roll-ups against a recompute from the raw rows, in plain Python."""

import datetime as dt
from collections import Counter, defaultdict
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from planning.models import SeasonSummary, SummaryLevel
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.models import Farm, HarvestWeight
from tests.cast import make_cultivar
from tests.planning.ground import TODAY, join_co_op, make_block, make_co_op, make_farm, weigh

DAYS = st.dates(min_value=dt.date(2024, 1, 1), max_value=dt.date(2026, 11, 20))
WEIGHINGS = st.lists(
    st.fixed_dictionaries(
        {
            "farm": st.sampled_from([0, 1]),
            "block": st.sampled_from([0, 1, 2]),
            "cultivar": st.sampled_from([None, 0, 1]),
            "picked_on": DAYS,
            "kg": st.one_of(st.none(), st.integers(min_value=0, max_value=50)),
            "fruit_count": st.integers(min_value=1, max_value=200),
            "retired": st.booleans(),
        }
    ),
    max_size=25,
)
JOINED_ON = dt.date(2025, 6, 15)
START_MONTHS = (1, 7)


@pytest.mark.django_db
@given(rows=WEIGHINGS)
@settings(max_examples=25, deadline=None)
def test_every_level_equals_a_plain_group_by(rows: list[dict[str, Any]]) -> None:
    with transaction.atomic():
        farms = [make_farm(f"F{month}", season_start_month=month) for month in START_MONTHS]
        co_op = make_co_op()
        for farm in farms:
            join_co_op(farm, co_op, JOINED_ON.isoformat())
        plant(farms, rows)
        for farm in farms:
            rebuild_farm(farm.pk, TODAY)
        rebuild_co_op(co_op.pk, lambda _: TODAY)
        kept = list(HarvestWeight.objects.filter(retired_on=None).select_related("farm"))
        assert stored() == recomputed(kept)
        transaction.set_rollback(True)


def plant(farms: list[Farm], rows: list[dict[str, Any]]) -> None:
    cultivars = [make_cultivar(), make_cultivar("Tamisca")]
    blocks = {farm.pk: [make_block(farm, f"B{n}") for n in range(3)] for farm in farms}
    for row in rows:
        weigh(
            blocks[farms[row["farm"]].pk][row["block"]],
            row["picked_on"],
            row["kg"] or None,
            cultivar=None if row["cultivar"] is None else cultivars[row["cultivar"]],
            fruit_count=row["fruit_count"],
            retired_on=row["picked_on"] if row["retired"] else None,
        )


Totals = dict[tuple[Any, ...], tuple[int, int, dt.date, dt.date]]


def stored() -> Totals:
    """Kilos, fruit, first and last day by what each row is about."""
    keys = ("level", "season_year", "farm_id", "member_id", "block_id", "cultivar_id")
    return {
        tuple(getattr(row, key) for key in keys): (
            row.net_g,
            row.fruit_count,
            row.first_on,
            row.last_on,
        )
        for row in SeasonSummary.objects.all()
    }


def recomputed(weights: list[HarvestWeight]) -> Totals:
    grams: Counter[tuple[Any, ...]] = Counter()
    fruit: Counter[tuple[Any, ...]] = Counter()
    days: dict[tuple[Any, ...], set[dt.date]] = defaultdict(set)
    for weight in weights:
        for key in keys_of(weight):
            grams[key] += weight.net_g or 0
            fruit[key] += weight.fruit_count
            days[key].add(weight.picked_on)
    return {key: (grams[key], fruit[key], min(days[key]), max(days[key])) for key in fruit}


def keys_of(weight: HarvestWeight) -> list[tuple[Any, ...]]:
    """The rows that a weighing counts in."""
    day, farm, cultivar = weight.picked_on, weight.farm_id, weight.cultivar_id
    year = day.year if day.month >= weight.farm.season_start_month else day.year - 1
    own = [
        (SummaryLevel.FARM, year, farm, None, None, None),
        (SummaryLevel.BLOCK, year, farm, None, weight.block_id, None),
        (SummaryLevel.CULTIVAR, year, farm, None, None, cultivar),
    ]
    shared = [
        (SummaryLevel.MEMBER, year, None, farm, None, None),
        (SummaryLevel.MEMBER_CULTIVAR, year, None, farm, None, cultivar),
        (SummaryLevel.CO_OP, year, None, None, None, None),
        (SummaryLevel.CO_OP_CULTIVAR, year, None, None, None, cultivar),
    ]
    return own + shared if day >= JOINED_ON else own
