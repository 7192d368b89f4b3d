"""Jobs that keep derived rows current, and the hourly look at the calendar."""

import datetime as dt
from uuid import UUID

from celery import shared_task
from django.utils import timezone

from orchard import clock
from planning.services.findings import rebuild_findings
from planning.services.schedules import farms_on_another_day, rebuild_schedule
from planning.services.season_summaries import (
    co_ops_of,
    farms_with_ended_season,
    refresh_co_op,
    refresh_farm,
    refresh_member,
)
from planning.services.stage_forecasts import rebuild_forecasts
from records.models import CoOp, Farm, Job
from records.services import jobs

FARM_CHANGED = "farm-changed"
CO_OP_CHANGED = "co-op-changed"
NEW_DAY = "new-day"
# Members that change together cause one rebuild of their co-op.
GATHER = dt.timedelta(seconds=10)
# The first schedule of a farm of thousands of blocks takes minutes; every later one, seconds.
REBUILD_LEASE = dt.timedelta(minutes=10)


@jobs.handler(FARM_CHANGED, lease=REBUILD_LEASE)
def farm_changed(job: Job) -> None:
    """Rebuild a farm's forecasts, schedule and findings, and bring its summaries up to date."""
    farm_id = UUID(job.key)
    farm = Farm.objects.filter(pk=farm_id).only("time_zone").first()
    if farm is None:
        return
    today = clock.today(farm.time_zone)
    rebuild_forecasts(farm_id, today)
    rebuild_schedule(farm_id, today)
    refresh_farm(farm_id, today)
    rebuild_findings(farm_id, today)
    for co_op_id in sorted(co_ops_of(farm_id)):
        refresh_member(co_op_id, farm_id, today)
        jobs.enqueue(CO_OP_CHANGED, str(co_op_id), run_after=timezone.now() + GATHER)


@jobs.handler(CO_OP_CHANGED, lease=REBUILD_LEASE)
def co_op_changed(job: Job) -> None:
    if CoOp.objects.filter(pk=job.key).exists():
        refresh_co_op(UUID(job.key), clock.today)


@jobs.handler(NEW_DAY, lease=REBUILD_LEASE)
def new_day(job: Job) -> None:
    """Let forecasts move, and tasks open, fall overdue and close, with the farm's calendar."""
    farm_id = UUID(job.key)
    farm = Farm.objects.filter(pk=farm_id).only("time_zone").first()
    if farm is not None:
        today = clock.today(farm.time_zone)
        rebuild_forecasts(farm_id, today)
        rebuild_schedule(farm_id, today)


@shared_task(name="planning.queue_hourly")
def queue_hourly() -> None:
    """Do what comes with a new day wherever it is past midnight: schedules, and seasons' ends."""
    for farm_id in farms_on_another_day(clock.today):
        jobs.enqueue(NEW_DAY, str(farm_id))
    for farm_id in farms_with_ended_season(clock.today):
        jobs.enqueue(FARM_CHANGED, str(farm_id))
