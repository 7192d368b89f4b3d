"""Running jobs: once, by one worker, and again when that fails."""

import datetime as dt
import threading
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.db.models.functions import Now
from django.utils import timezone

from records.choices import JobState
from records.models import Job
from records.services import jobs

MINUTE = dt.timedelta(minutes=1)


def abandon(job_id: Any, **changes: Any) -> None:
    """As if the worker that claimed the job had been killed long ago."""
    Job.objects.filter(pk=job_id).update(
        state=JobState.RUNNING, lease=uuid4(), lease_until=Now() - MINUTE, **changes
    )


@pytest.mark.django_db
def test_a_job_is_done_and_kept_as_done(done: list[str]) -> None:
    job_id = jobs.enqueue("test", "a")
    assert jobs.run(job_id)
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.attempts, job.error) == (JobState.DONE, 1, "")
    assert job.finished_at is not None


@pytest.mark.django_db
def test_a_doubled_message_does_nothing(done: list[str]) -> None:
    job_id = jobs.enqueue("test", "a")
    jobs.run(job_id)
    assert not jobs.run(job_id)
    assert done == ["a"]


@pytest.mark.django_db
def test_a_message_for_a_job_that_is_gone_does_nothing(done: list[str]) -> None:
    assert not jobs.run(uuid4())
    assert done == []


@pytest.mark.django_db
def test_a_job_is_not_done_before_its_time(done: list[str]) -> None:
    job_id = jobs.enqueue("test", "a", run_after=timezone.now() + MINUTE)
    assert not jobs.run(job_id)
    assert Job.objects.get(pk=job_id).state == JobState.WAITING


@pytest.mark.django_db
def test_a_kind_that_this_process_does_not_know_stays_waiting(done: list[str]) -> None:
    job_id = jobs.enqueue("unheard-of", "a")
    assert not jobs.run(job_id)
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.attempts) == (JobState.WAITING, 0)
    assert "unheard-of" in job.error


@pytest.mark.django_db
def test_a_failure_is_noted_and_tried_again_later(failing: Callable[[Job], None]) -> None:
    job_id = jobs.enqueue("test", "a")
    assert not jobs.run(job_id)
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.error) == (JobState.WAITING, "RuntimeError: the shed is locked")
    assert timezone.now() < job.run_after <= timezone.now() + dt.timedelta(seconds=5)
    assert not jobs.run(job_id)


@pytest.mark.parametrize(
    ("attempts", "longest_s"),
    [
        (1, 5),  # the first wait
        (2, 10),  # doubled
        (5, 80),  # and doubled again
        (10, 2560),  # the last attempt's, were there another
        (12, 3600),  # never more than an hour
    ],
)
def test_back_off_doubles_with_up_to_a_quarter_of_jitter(attempts: int, longest_s: int) -> None:
    waits = [jobs.back_off_s(attempts) for _ in range(200)]
    assert all(longest_s * 0.75 <= wait <= longest_s for wait in waits)
    assert len(set(waits)) > 1


@pytest.mark.django_db
def test_after_the_last_attempt_a_job_is_dead(failing: Callable[[Job], None]) -> None:
    job_id = jobs.enqueue("test", "a")
    Job.objects.filter(pk=job_id).update(attempts=jobs.MAX_ATTEMPTS - 1)
    jobs.run(job_id)
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.error) == (JobState.DEAD, "RuntimeError: the shed is locked")
    assert job.finished_at is not None


@pytest.mark.django_db
def test_a_failure_is_superseded_by_a_job_queued_meanwhile(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    newer = []

    def fail(job: Job) -> None:
        newer.append(jobs.enqueue("test", "a"))
        raise RuntimeError("too early")

    monkeypatch.setattr(jobs, "_handlers", {})
    jobs.handler("test")(fail)
    older = jobs.enqueue("test", "a")
    jobs.run(older)
    assert Job.objects.get(pk=older).state == JobState.DONE
    assert "superseded" in Job.objects.get(pk=older).error
    assert Job.objects.get(pk=newer[0]).state == JobState.WAITING


@pytest.mark.django_db
def test_a_job_whose_lease_ran_out_is_taken_over(done: list[str]) -> None:
    job_id = jobs.enqueue("test", "a")
    abandon(job_id, attempts=1)
    assert jobs.run(job_id)
    assert Job.objects.get(pk=job_id).attempts == 2


@pytest.mark.django_db
def test_a_job_within_its_lease_is_not_taken_over(done: list[str]) -> None:
    job_id = jobs.enqueue("test", "a")
    abandon(job_id)
    Job.objects.filter(pk=job_id).update(lease_until=Now() + MINUTE)
    assert not jobs.run(job_id)
    assert done == []


@pytest.mark.django_db
def test_a_worker_that_lost_its_lease_cannot_close_the_job(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    other = uuid4()

    def dawdle(job: Job) -> None:
        Job.objects.filter(pk=job.pk).update(lease=other)

    monkeypatch.setattr(jobs, "_handlers", {})
    jobs.handler("test")(dawdle)
    job_id = jobs.enqueue("test", "a")
    assert not jobs.run(job_id)
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.lease) == (JobState.RUNNING, other)


@pytest.mark.django_db
def test_jobs_of_one_kind_and_key_follow_each_other(done: list[str]) -> None:
    first = jobs.enqueue("test", "a")
    Job.objects.filter(pk=first).update(state=JobState.RUNNING, lease_until=Now() + MINUTE)
    second = jobs.enqueue("test", "a")
    assert not jobs.run(second)
    Job.objects.filter(pk=first).update(state=JobState.DONE)
    assert jobs.run(second)


def test_two_workers_with_one_message_do_the_job_once(
    committed: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    started, may_end = threading.Event(), threading.Event()
    done: list[str] = []

    def work(job: Job) -> None:
        done.append(job.key)
        started.set()
        may_end.wait(10)

    monkeypatch.setattr(jobs, "_handlers", {})
    jobs.handler("test")(work)
    job_id = jobs.enqueue("test", "a")
    outcomes = []
    workers = [threading.Thread(target=run_and_close, args=(job_id, outcomes)) for _ in range(2)]
    for worker in workers:
        worker.start()
    assert started.wait(10)
    assert Job.objects.get(pk=job_id).state == JobState.RUNNING  # the claim is committed
    may_end.set()
    for worker in workers:
        worker.join(10)
    assert done == ["a"]
    assert sorted(outcomes) == [False, True]


def run_and_close(job_id: Any, outcomes: list[bool]) -> None:
    try:
        outcomes.append(jobs.run(job_id))
    finally:
        connection.close()
