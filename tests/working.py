"""What a worker would do, knowing every kind of job as one does."""

from django.db.models.functions import Now

import planning.tasks  # noqa: F401 - registers its handlers
import records.tasks  # noqa: F401 - registers its handlers
from records.choices import JobState
from records.models import Job
from records.services import jobs


def do_all_jobs() -> None:
    """Until there is nothing more, without waiting for what is put off."""
    while waiting := list(Job.objects.filter(state=JobState.WAITING)):
        Job.objects.filter(state=JobState.WAITING).update(run_after=Now())
        for job in waiting:
            assert jobs.run(job.pk), Job.objects.get(pk=job.pk).error
