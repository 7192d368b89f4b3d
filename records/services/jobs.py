"""Background work: rows of `Job` are the truth, Celery messages only point at them.

`enqueue` (or the change tick's trigger) writes a waiting row, `sweep` publishes a message for
every row that is due, `run` claims the row and calls its handler. A lost message is published
again and a doubled one finds nothing to claim, so that a handler only has to bear being run
again after a failure. Jobs of one kind and key never run side by side, as long as they end
within their lease.

Every time in the table is the database's, so that the hosts' clocks need not agree.
"""

import datetime as dt
import json
import logging
import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, connection, transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import Now
from kombu import pools
from kombu.exceptions import OperationalError
from uuid_utils.compat import uuid7

from orchard.celery import app
from records.choices import JobState
from records.models import Farm, Job

logger = logging.getLogger(__name__)

RUN_TASK = "records.run_job"
SWEEP_TASK = "records.sweep_jobs"

MAX_ATTEMPTS = 10
FIRST_DELAY_S = 5.0
MAX_DELAY_S = 3600.0
LEASE = dt.timedelta(minutes=2)
# A message unread for so long is taken for lost; the next sweep publishes another.
MESSAGE_LIFE = dt.timedelta(seconds=20)
SWEEP_SIZE = 1000
DONE_KEPT = dt.timedelta(days=7)
DEAD_KEPT = dt.timedelta(days=90)

Work = Callable[[Job], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handler:
    """What does the jobs of one kind, and how long it may take before it is taken for dead."""

    work: Work
    lease: dt.timedelta


_handlers: dict[str, Handler] = {}


def handler(kind: str, *, lease: dt.timedelta = LEASE) -> Callable[[Work], Work]:
    """Register a function as the one that does the jobs of a kind."""

    def register(work: Work) -> Work:
        _handlers[kind] = Handler(work=work, lease=lease)
        return work

    return register


# Writing jobs ------------------------------------------------------------------------------------

ENQUEUE = """
INSERT INTO records_job AS j (id, kind, key, payload, state, attempts, error, run_after)
VALUES (%s, %s, %s, %s::jsonb, 'waiting', 0, '', coalesce(%s, now()))
ON CONFLICT (kind, key) WHERE state = 'waiting' DO UPDATE
SET payload = excluded.payload, run_after = least(j.run_after, excluded.run_after),
    queued_at = now()
RETURNING id
"""


def enqueue(
    kind: str,
    key: str,
    payload: dict[str, Any] | None = None,
    run_after: dt.datetime | None = None,
) -> UUID:
    """Queue a job, or bring forward the one that is waiting for the same kind and key.

    The latest payload counts. Ring `wake` as well for work that should not wait for the next
    sweep.
    """
    with connection.cursor() as cursor:
        cursor.execute(ENQUEUE, [uuid7(), kind, key, json.dumps(payload or {}), run_after])
        job_id: UUID = cursor.fetchone()[0]
    return job_id


def farms_changed(farms: QuerySet[Farm]) -> None:
    """Have what is derived from farms rebuilt, where no change of their own rows says so."""
    for farm_id in farms.values_list("pk", flat=True):
        enqueue("farm-changed", str(farm_id))


# Running jobs ------------------------------------------------------------------------------------


def run(job_id: UUID) -> bool:
    """Do a job if it is due and nobody else is doing it; whether it was done."""
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        return False
    found = _handlers.get(job.kind)
    if found is None:
        _note_unknown(job)
        return False
    if not _claim(job, found.lease):
        return False
    try:
        return _do(job, found.work)
    finally:
        _let_sibling_through(job)


def _claim(job: Job, lease: dt.timedelta) -> bool:
    """Take the job, committed at once; false when it is not to be had."""
    token = uuid4()
    with transaction.atomic(durable=True):
        claimed = (
            Job.objects.filter(_claimable(), ~_running_sibling(), pk=job.pk)
            .filter(attempts__lt=MAX_ATTEMPTS)
            .update(
                state=JobState.RUNNING,
                attempts=F("attempts") + 1,
                lease=token,
                lease_until=Now() + lease,
            )
        )
    if claimed:
        job.refresh_from_db()
    return bool(claimed) and job.lease == token


def _claimable() -> Q:
    return Q(state=JobState.WAITING, run_after__lte=Now()) | _abandoned()


def _abandoned() -> Q:
    """Jobs whose worker did not come back."""
    return Q(state=JobState.RUNNING, lease_until__lt=Now())


def _running_sibling() -> Exists:
    return Exists(
        Job.objects.filter(
            kind=OuterRef("kind"),
            key=OuterRef("key"),
            state=JobState.RUNNING,
            lease_until__gte=Now(),
        )
    )


def _do(job: Job, work: Work) -> bool:
    try:
        work(job)
    except Exception as error:
        logger.exception("Job %s (%s) failed, attempt %s", job.pk, job, job.attempts)
        _fail(job, f"{type(error).__name__}: {error}")
        return False
    return _finish(job, JobState.DONE, error="")


def _finish(job: Job, state: JobState, *, error: str) -> bool:
    """Close a job that is still ours; false when its lease went to another worker."""
    ours = Job.objects.filter(pk=job.pk, state=JobState.RUNNING, lease=job.lease)
    return bool(ours.update(state=state, error=error, lease=None, finished_at=Now()))


def _fail(job: Job, error: str) -> None:
    if job.attempts >= MAX_ATTEMPTS:
        _finish(job, JobState.DEAD, error=error)
        return
    try:
        with transaction.atomic():
            _back_to_waiting(job, error)
    except IntegrityError:  # another job of this kind and key waits already
        _finish(job, JobState.DONE, error=f"superseded after {error}")


def _back_to_waiting(job: Job, error: str) -> None:
    ours = Job.objects.filter(pk=job.pk, state=JobState.RUNNING, lease=job.lease)
    ours.update(
        state=JobState.WAITING,
        error=error,
        lease=None,
        lease_until=None,
        run_after=Now() + dt.timedelta(seconds=back_off_s(job.attempts)),
    )


def back_off_s(attempts: int) -> float:
    """Seconds until the next attempt: doubled each time, with up to a quarter of jitter."""
    delay_s = min(FIRST_DELAY_S * 2.0 ** (attempts - 1), MAX_DELAY_S)
    return delay_s * random.uniform(0.75, 1)


def _let_sibling_through(job: Job) -> None:
    """The next sweep may publish the job of this kind and key that waited for this one."""
    waiting = Job.objects.filter(kind=job.kind, key=job.key, state=JobState.WAITING)
    waiting.filter(lease_until__isnull=False).update(lease_until=None)


def _note_unknown(job: Job) -> None:
    """Leave a job that this process cannot do to one that can (a newer release, say)."""
    error = f"The process that was asked does not know jobs of kind {job.kind}."
    unnoted = Job.objects.filter(pk=job.pk, state=JobState.WAITING).exclude(error=error)
    if unnoted.update(error=error):
        logger.error("No handler for jobs of kind %s", job.kind)


# Sweeping ----------------------------------------------------------------------------------------


def sweep() -> list[UUID]:
    """Publish a message for every job that is due, and forget finished jobs in time."""
    _bury()
    Job.objects.filter(state=JobState.DONE, finished_at__lt=Now() - DONE_KEPT).delete()
    Job.objects.filter(state=JobState.DEAD, finished_at__lt=Now() - DEAD_KEPT).delete()
    due = hand_out()
    for job_id in due:
        app.send_task(RUN_TASK, [str(job_id)], expires=MESSAGE_LIFE.total_seconds())
    return due


def hand_out() -> list[UUID]:
    """The jobs to be done now. None is handed out again until its message must be lost.

    While a job waits, `lease_until` says how long its message is believed to be under way.
    """
    unsent = Q(lease_until__isnull=True) | Q(lease_until__lt=Now())
    waiting = Job.objects.filter(unsent, state=JobState.WAITING, run_after__lte=Now())
    with transaction.atomic():
        locked = waiting.select_for_update(skip_locked=True).order_by("run_after")
        ids = list(locked.values_list("pk", flat=True)[:SWEEP_SIZE])
        Job.objects.filter(pk__in=ids).update(lease_until=Now() + MESSAGE_LIFE)
    abandoned = Job.objects.filter(_abandoned()).values_list("pk", flat=True)[:SWEEP_SIZE]
    return [*ids, *abandoned]


def _bury() -> None:
    """Give up jobs that took their worker down with them every time."""
    lost = Job.objects.filter(_abandoned(), attempts__gte=MAX_ATTEMPTS)
    lost.update(
        state=JobState.DEAD,
        error="The worker did not come back from the last attempt.",
        lease=None,
        finished_at=Now(),
    )


# The doorbell ------------------------------------------------------------------------------------

# A broker that is down costs a caller half a second at most, and one caller in thirty seconds.
IMPATIENT = {
    "socket_timeout": 0.5,
    "socket_connect_timeout": 0.5,
    "max_retries": 0,
}
QUIET_S = 30.0
# Many writers must not ask for more sweeps than help; what comes between waits for beat's.
RING_EVERY_S = 0.2


class Doorbell:
    """Tells a worker to sweep now; quiet for a while after the broker failed to answer."""

    def __init__(self) -> None:
        self.quiet_until_s = 0.0
        self.is_down = False

    def ring(self) -> None:
        if time.monotonic() < self.quiet_until_s:
            return
        self.quiet_until_s = time.monotonic() + RING_EVERY_S
        try:
            self._publish()
        except (OperationalError, OSError) as error:
            self._fall_quiet(error)
        else:
            self.is_down = False

    def _publish(self) -> None:
        options = {**app.conf.broker_transport_options, **IMPATIENT}
        broker = app.connection_for_write(transport_options=options)
        with pools.producers[broker].acquire(block=True, timeout=0.5) as producer:
            app.send_task(SWEEP_TASK, producer=producer, retry=False, expires=5)

    def _fall_quiet(self, error: Exception) -> None:
        self.quiet_until_s = time.monotonic() + QUIET_S
        if not self.is_down:
            logger.warning("The broker does not answer; jobs wait for the next sweep: %s", error)
        self.is_down = True


_doorbell = Doorbell()


def wake() -> None:
    """Have due jobs started once the current transaction has committed. Never raises."""
    transaction.on_commit(_doorbell.ring, robust=True)
