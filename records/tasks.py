"""What the broker calls, and the jobs of this app."""

import datetime as dt
import logging
from uuid import UUID

from celery import shared_task

from records.importing import load
from records.models import Job
from records.services import imports, invitations, jobs, passwords

logger = logging.getLogger(__name__)

MAX_READINGS = 3  # a file that fails so often is not at fault; its sender should know
READING_LEASE = dt.timedelta(minutes=26)  # above the worker's hard time limit


@shared_task(name=jobs.RUN_TASK)
def run_job(job_id: str) -> None:
    jobs.run(UUID(job_id))


@shared_task(name=jobs.SWEEP_TASK)
def sweep_jobs() -> None:
    jobs.sweep()


@jobs.handler(imports.KIND, lease=READING_LEASE)
def bring_in(job: Job) -> None:
    """Bring one import to its outcome."""
    import_id = UUID(job.key)
    try:
        load.run(import_id, by=job.payload.get("by", ""))
    except Exception:
        if job.attempts < MAX_READINGS:
            raise
        logger.exception("Import %s is given up", import_id)
        load.give_up(import_id)


@jobs.handler(invitations.MAIL)
def mail_invitation(job: Job) -> None:
    invitations.send_mail(UUID(job.key))


@jobs.handler(passwords.MAIL)
def mail_password_link(job: Job) -> None:
    passwords.send_mail(UUID(job.key))
