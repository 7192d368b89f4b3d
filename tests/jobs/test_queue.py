"""Writing jobs: one row waits for each kind and key."""

import datetime as dt

import pytest
from django.utils import timezone

from records.choices import JobState
from records.models import Job
from records.services import jobs

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)


def test_jobs_of_one_kind_and_key_wait_as_one() -> None:
    first = jobs.enqueue("test", "a")
    assert jobs.enqueue("test", "a") == first
    assert Job.objects.count() == 1


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("test", "b"),  # another key
        ("other", "a"),  # another kind
    ],
)
def test_other_kinds_and_keys_wait_apart(kind: str, key: str) -> None:
    assert jobs.enqueue("test", "a") != jobs.enqueue(kind, key)


def test_a_job_is_queued_anew_while_one_like_it_is_running() -> None:
    running = jobs.enqueue("test", "a")
    Job.objects.filter(pk=running).update(state=JobState.RUNNING)
    assert jobs.enqueue("test", "a") != running


def test_the_latest_payload_counts() -> None:
    jobs.enqueue("test", "a", {"n": 1})
    jobs.enqueue("test", "a", {"n": 2})
    assert Job.objects.get().payload == {"n": 2}


@pytest.mark.parametrize(
    ("delays", "kept"),
    [
        ((2 * HOUR, HOUR), HOUR),  # brought forward
        ((HOUR, 2 * HOUR), HOUR),  # never put off, or a busy farm would wait for ever
    ],
)
def test_a_waiting_job_is_only_ever_brought_forward(
    delays: tuple[dt.timedelta, ...], kept: dt.timedelta
) -> None:
    now = timezone.now()
    for delay in delays:
        jobs.enqueue("test", "a", run_after=now + delay)
    assert Job.objects.get().run_after == now + kept


def test_a_job_without_a_time_is_due_at_once(done: list[str]) -> None:
    assert jobs.run(jobs.enqueue("test", "a"))
    assert done == ["a"]
