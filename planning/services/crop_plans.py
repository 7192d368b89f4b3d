"""Plans for further crops: how each stands, and when its bloom and harvest are to be expected."""

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from uuid import UUID

from planning.compute.crop_plans import EARLY, LATE, Done, Standing, State, Work, standing_of
from planning.models import CropPlan
from planning.queries.stage_forecasts import StageDate, stages_ahead
from planning.services.stage_forecasts import Ground, ground_of, plan_forecast_in
from records.choices import TaskKind
from records.models import Crop, TaskLog

OPENINGS = (TaskKind.PRUNING, TaskKind.LEAF_STRIPPING)
# What opens the crop, as forecasts name it: its last part, if it has two.
KINDS = {
    Work.STRIP_AND_PRUNE: "pruning",
    Work.PRUNING: "pruning",
    Work.LEAF_STRIPPING: "leaf stripping",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageExpected:
    """A stage of the planned crop, as stage forecasts tell it."""

    stage: str
    on_date: dt.date | None
    low_on: dt.date | None
    high_on: dt.date | None
    observed_on: dt.date | None
    method: str
    reason: str


STAGE_FIELDS = tuple(each.name for each in fields(StageExpected))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """How a plan stands, and its stages; none of a plan that was missed."""

    standing: Standing
    stages: Sequence[StageExpected]

    def on(self, stage: str) -> dt.date | None:
        return next((each.on_date for each in self.stages if each.stage == stage), None)


def outlooks(
    plans: Collection[CropPlan], today_in: Callable[[str], dt.date]
) -> dict[UUID, Outlook]:
    """By plan; a fixed number of queries a farm. `today_in` tells a time zone's local date."""
    done = _done(plans)
    by_farm: dict[UUID, list[CropPlan]] = defaultdict(list)
    for plan in plans:
        by_farm[plan.farm_id].append(plan)
    found: dict[UUID, Outlook] = {}
    for own in by_farm.values():
        today = today_in(own[0].farm.time_zone)
        standings = {
            plan.pk: standing_of(plan.planned_on, Work(plan.work), done[plan.block_id], today)
            for plan in own
        }
        stages = _stages(own, standings, today)
        found |= {pk: Outlook(standing=each, stages=stages[pk]) for pk, each in standings.items()}
    return found


def _done(plans: Collection[CropPlan]) -> dict[UUID, list[Done]]:
    """Pruning and leaf stripping recorded around the planned days, by block."""
    found: dict[UUID, list[Done]] = defaultdict(list)
    if not plans:
        return found
    days = [plan.planned_on for plan in plans]
    rows = TaskLog.objects.filter(
        block_id__in={plan.block_id for plan in plans},
        kind__in=OPENINGS,
        done_on__range=(min(days) - EARLY, max(days) + LATE),
        retired_on=None,
    )
    for pk, block_id, kind, on in rows.values_list("pk", "block_id", "kind", "done_on"):
        found[block_id].append(Done(record=str(pk), kind=kind, on=on))
    return found


def _stages(
    plans: Sequence[CropPlan], standings: Mapping[UUID, Standing], today: dt.date
) -> dict[UUID, Sequence[StageExpected]]:
    """Those stored of the crop itself once it is opened; else forecast from the plan."""
    stored = _stored(plans)
    one_block = plans[0].block_id if len({plan.block_id for plan in plans}) == 1 else None
    ground: Ground | None = None
    found: dict[UUID, Sequence[StageExpected]] = {}
    for plan in plans:
        standing = standings[plan.pk]
        if standing.state is State.MISSED:
            found[plan.pk] = ()
        elif standing.state is State.DONE and plan.pk in stored:
            found[plan.pk] = stored[plan.pk]
        else:
            ground = ground or ground_of(plan.farm, today, one_block, today)
            found[plan.pk] = _from_plan(ground, plan, standing, today)
    return found


def _stored(plans: Sequence[CropPlan]) -> dict[UUID, list[StageExpected]]:
    """By plan, the stored stages of the crop that it has become."""
    farm_id = plans[0].farm_id
    ids = {plan.block_id for plan in plans}
    crops = list(Crop.objects.filter(farm_id=farm_id, block_id__in=ids))
    ahead = stages_ahead(farm_id)
    found = {}
    for plan in plans:
        own = {crop.pk for crop in crops if _has_become(plan, crop)}
        stages = [_as_stored(each) for each in ahead.get(plan.block_id, ()) if each.crop_id in own]
        if stages:
            found[plan.pk] = stages
    return found


def _has_become(plan: CropPlan, crop: Crop) -> bool:
    is_its_own = crop.block_id == plan.block_id and crop.name == plan.name
    return is_its_own and plan.planned_on - EARLY <= crop.opened_on <= plan.planned_on + LATE


def _from_plan(
    ground: Ground, plan: CropPlan, standing: Standing, today: dt.date
) -> list[StageExpected]:
    """As if it were done on the planned day, on the day it was, or (late already) today."""
    opened_on = standing.done.on if standing.done else max(plan.planned_on, today)
    found = plan_forecast_in(
        ground,
        plan.block_id,
        opened_on,
        today,
        kind=KINDS[Work(plan.work)],
        crop_name=plan.name,
    )
    return [
        StageExpected(
            stage=each.stage.value,
            on_date=each.on,
            low_on=each.low,
            high_on=each.high,
            observed_on=each.observed_on,
            method=each.method.value,
            reason=each.reason,
        )
        for each in found
    ]


def _as_stored(row: StageDate) -> StageExpected:
    return StageExpected(**{name: getattr(row, name) for name in STAGE_FIELDS})
