"""What the broker calls."""

from uuid import UUID

from celery import shared_task

from records.services import jobs


@shared_task(name=jobs.RUN_TASK)
def run_job(job_id: str) -> None:
    jobs.run(UUID(job_id))


@shared_task(name=jobs.SWEEP_TASK)
def sweep_jobs() -> None:
    jobs.sweep()
