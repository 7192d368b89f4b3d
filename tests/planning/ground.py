"""A small farm to compute with: rows as they are stored, without the rules that write them."""

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models.functions import Now

from planning.models import SeasonSummary, SummaryLevel
from planning.services.season_summaries import rebuild_co_op, rebuild_farm
from records.choices import JobState
from records.models import (
    Block,
    CoOp,
    CoOpGrade,
    Cultivar,
    Farm,
    Grade,
    HarvestWeight,
    HarvestWeightTree,
    Intake,
    Job,
    Membership,
    SortedWeight,
    Tree,
)

TODAY = dt.date(2026, 11, 20)


def make_farm(code: str = "HOME", **extra: Any) -> Farm:
    return Farm.objects.create(code=code, name=code, **{"time_zone": "Atlantic/Madeira", **extra})


def make_block(farm: Farm, code: str = "N1", **extra: Any) -> Block:
    return Block.objects.create(farm=farm, code=code, **extra)


def make_tree(block: Block, position: int = 1, **extra: Any) -> Tree:
    return Tree.objects.create(
        farm_id=block.farm_id, block=block, **{"row": 1, "position": position, **extra}
    )


def join_co_op(farm: Farm, co_op: CoOp, starts_on: str = "2000-01-01", **extra: Any) -> Membership:
    return Membership.objects.create(farm=farm, co_op=co_op, starts_on=starts_on, **extra)


def make_co_op(**extra: Any) -> CoOp:
    return CoOp.objects.create(**{"code": "COOP", "name": "The co-op", **extra})


def weigh(
    block: Block,
    picked_on: str,
    kg: float | None = None,
    *,
    cultivar: Cultivar | None = None,
    trees: Iterable[Tree] = (),
    **extra: Any,
) -> HarvestWeight:
    """A weighing from the scale, or (without kilos) of containers or fruit."""
    scale: dict[str, Any] = {}
    if kg is not None:
        scale = {"weight": Decimal(str(kg)), "unit": "kg", "net_g": round(kg * 1000)}
    weight = HarvestWeight.objects.create(
        farm_id=block.farm_id,
        block=block,
        picked_on=picked_on,
        cultivar=cultivar,
        **scale,
        **extra,
    )
    for tree in trees:
        HarvestWeightTree.objects.create(farm_id=block.farm_id, weight=weight, tree=tree)
    return weight


def receive(
    farm: Farm,
    received_on: str,
    kg: float,
    *,
    sorted_kg: dict[Any, float] | None = None,
    **extra: Any,
) -> Intake:
    """An intake; `sorted_kg` by grade, grade of the co-op, or reason of the rejects."""
    weight: dict[str, Any] = {"weight": Decimal(str(kg)), "unit": "kg", "net_g": round(kg * 1000)}
    intake = Intake.objects.create(farm=farm, received_on=received_on, **weight, **extra)
    for what, part in (sorted_kg or {}).items():
        name = {Grade: "grade", CoOpGrade: "co_op_grade"}.get(type(what), "reject_reason")
        weight = {"weight": Decimal(str(part)), "unit": "kg", "net_g": round(part * 1000)}
        SortedWeight.objects.create(farm=farm, intake=intake, **{name: what}, **weight)
    return intake


def summaries(farm: Farm, level: SummaryLevel, **keys: Any) -> list[SeasonSummary]:
    """A farm's rows of one level, rebuilt, earliest season first."""
    rebuild_farm(farm.pk, TODAY)
    rows = SeasonSummary.objects.filter(farm=farm, level=level, **keys)
    return list(rows.order_by("season_year"))


def summary(farm: Farm, level: SummaryLevel = SummaryLevel.FARM, **keys: Any) -> SeasonSummary:
    """The one such row."""
    (row,) = summaries(farm, level, **keys)
    return row


def co_op_summary(co_op: CoOp, level: SummaryLevel, **keys: Any) -> SeasonSummary:
    rebuild_co_op(co_op.pk, lambda _: TODAY)
    return SeasonSummary.objects.get(co_op=co_op, level=level, **keys)


def stamp_all() -> None:
    """End the transaction as far as triggers can tell, and take the jobs that they leave as done.

    Only for what a test has brought up to date itself.
    """
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED")
    Job.objects.update(state=JobState.DONE, finished_at=Now())
