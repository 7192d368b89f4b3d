"""Jobs that keep derived rows current, and the hourly look at the calendar."""

import datetime as dt
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from orchard import clock
from planning.services.season_summaries import (
    co_ops_of,
    farms_with_ended_season,
    rebuild_co_op,
    rebuild_farm,
)
from records.models import CoOp, Farm, Job
from records.services import jobs

FARM_CHANGED = "farm-changed"
CO_OP_CHANGED = "co-op-changed"
# Members that change together cause one rebuild of their co-op.
GATHER = dt.timedelta(seconds=10)


@jobs.handler(FARM_CHANGED)
def farm_changed(job: Job) -> None:
    """Rebuild a farm's summaries, then have those of its co-ops rebuilt."""
    farm_id = UUID(job.key)
    farm = Farm.objects.filter(pk=farm_id).only("time_zone").first()
    if farm is None:
        return
    rebuild_farm(farm_id, clock.today(farm.time_zone))
    for co_op_id in sorted(co_ops_of(farm_id)):
        jobs.enqueue(CO_OP_CHANGED, str(co_op_id), run_after=timezone.now() + GATHER)


@jobs.handler(CO_OP_CHANGED)
def co_op_changed(job: Job) -> None:
    if CoOp.objects.filter(pk=job.key).exists():
        rebuild_co_op(UUID(job.key), clock.today)


@shared_task(name="planning.queue_hourly")
def queue_hourly() -> None:
    """Have the seasons closed that ended with the day, wherever it is past midnight."""
    for farm_id in farms_with_ended_season(clock.today):
        jobs.enqueue(FARM_CHANGED, str(farm_id))
