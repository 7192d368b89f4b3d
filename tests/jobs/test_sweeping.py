"""Sweeping: every due job gets a message, lost ones another, and old jobs are forgotten."""

import datetime as dt
from uuid import uuid4

import pytest
from django.db.models.functions import Now
from django.utils import timezone

from records.choices import JobState
from records.models import Job
from records.services import jobs

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)
SECOND = dt.timedelta(seconds=1)
Published = list[tuple[str, list[str]]]


def test_a_due_job_is_published(published: Published) -> None:
    job_id = jobs.enqueue("test", "a")
    assert jobs.sweep() == [job_id]
    assert published == [("records.run_job", [str(job_id)])]


def test_a_job_that_is_not_due_is_not_published(published: Published) -> None:
    jobs.enqueue("test", "a", run_after=timezone.now() + DAY)
    assert jobs.sweep() == []
    assert published == []


def test_a_job_is_not_published_again_while_its_message_may_be_under_way(
    published: Published,
) -> None:
    jobs.enqueue("test", "a")
    jobs.sweep()
    jobs.enqueue("test", "a")
    assert jobs.sweep() == []


def test_a_job_whose_message_was_lost_is_published_again(published: Published) -> None:
    job_id = jobs.enqueue("test", "a")
    jobs.sweep()
    Job.objects.update(lease_until=Now() - SECOND)
    assert jobs.sweep() == [job_id]
    assert len(published) == 2


def test_a_job_that_waited_for_another_of_its_key_is_published_when_that_ends(
    published: Published, done: list[str]
) -> None:
    first = jobs.enqueue("test", "a")
    later = []
    jobs.handler("test")(lambda _: later.append(jobs.enqueue("test", "a")) or jobs.sweep())
    jobs.run(first)
    assert jobs.sweep() == later


def test_a_job_whose_worker_is_gone_is_published_again(published: Published) -> None:
    job_id = jobs.enqueue("test", "a")
    Job.objects.update(state=JobState.RUNNING, lease=uuid4(), lease_until=Now() - SECOND)
    assert jobs.sweep() == [job_id]


def test_a_job_that_took_its_worker_down_every_time_is_dead(published: Published) -> None:
    jobs.enqueue("test", "a")
    Job.objects.update(
        state=JobState.RUNNING,
        lease=uuid4(),
        lease_until=Now() - SECOND,
        attempts=jobs.MAX_ATTEMPTS,
    )
    assert jobs.sweep() == []
    assert Job.objects.get().state == JobState.DEAD


@pytest.mark.parametrize(
    ("state", "age", "is_kept"),
    [
        (JobState.DONE, 6 * DAY, True),  # fresh enough to look at
        (JobState.DONE, 8 * DAY, False),  # of no more use
        (JobState.DEAD, 8 * DAY, True),  # someone has to look at it
        (JobState.DEAD, 91 * DAY, False),  # and nobody did
        (JobState.WAITING, 91 * DAY, True),  # still to be done
    ],
)
def test_finished_jobs_are_forgotten_in_time(
    published: Published, state: JobState, age: dt.timedelta, is_kept: bool
) -> None:
    jobs.enqueue("test", "a")
    finished_at = None if state is JobState.WAITING else Now() - age
    Job.objects.update(state=state, run_after=Now() - age, finished_at=finished_at)
    jobs.sweep()
    assert Job.objects.exists() is is_kept
