"""The doorbell: rung after commit, and never in the way of who rings it."""

import logging
import socket
import time
from collections.abc import Iterator

import pytest
from django.db import transaction
from kombu.exceptions import OperationalError

from records.services import jobs


@pytest.fixture
def bell(monkeypatch: pytest.MonkeyPatch) -> jobs.Doorbell:
    fresh = jobs.Doorbell()
    monkeypatch.setattr(jobs, "_doorbell", fresh)
    return fresh


@pytest.fixture
def silent_broker() -> Iterator[str]:
    """Takes connections and never answers."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"redis://127.0.0.1:{server.getsockname()[1]}/0"


def point_at(url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        jobs.app,
        "connection_for_write",
        lambda **options: jobs.app.connection_for_read(url, **options),
    )


def test_it_rings_once_the_transaction_has_committed(
    committed: None, bell: jobs.Doorbell, published: list[tuple[str, list[str]]]
) -> None:
    with transaction.atomic():
        jobs.wake()
        assert published == []
    assert published == [("records.sweep_jobs", [])]


def test_it_does_not_ring_when_the_transaction_is_rolled_back(
    committed: None, bell: jobs.Doorbell, published: list[tuple[str, list[str]]]
) -> None:
    with transaction.atomic():
        jobs.wake()
        transaction.set_rollback(True)
    assert published == []


def test_many_rings_at_once_publish_one_sweep(
    committed: None, bell: jobs.Doorbell, published: list[tuple[str, list[str]]]
) -> None:
    for _ in range(50):
        jobs.wake()
    assert len(published) == 1


def test_a_real_broker_gets_the_message(committed: None, bell: jobs.Doorbell) -> None:
    with jobs.app.connection_for_read() as broker:
        queue = broker.SimpleQueue("celery")
        queue.clear()
        jobs.wake()
        message = queue.get(timeout=5)
        assert message.headers["task"] == "records.sweep_jobs"
        message.ack()
    assert not bell.is_down


def test_a_broker_that_is_down_is_logged_once_and_then_left_alone(
    committed: None,
    bell: jobs.Doorbell,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    asked = []

    def refuse(*args: object, **options: object) -> None:
        asked.append(args)
        raise OperationalError("connection refused")

    monkeypatch.setattr(jobs.app, "send_task", refuse)
    with caplog.at_level(logging.WARNING):
        jobs.wake()
        jobs.wake()
        bell.quiet_until_s = 0.0  # half a minute later
        jobs.wake()
    assert len(asked) == 2
    assert len(caplog.records) == 1


def test_a_broker_that_hangs_costs_the_caller_about_a_second_once(
    committed: None, bell: jobs.Doorbell, silent_broker: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    point_at(silent_broker, monkeypatch)
    before_s = time.monotonic()
    for _ in range(20):
        jobs.wake()
    assert bell.is_down
    assert time.monotonic() - before_s < 3


def test_a_broker_that_is_gone_raises_nothing(
    committed: None, bell: jobs.Doorbell, monkeypatch: pytest.MonkeyPatch
) -> None:
    point_at("redis://127.0.0.1:9/0", monkeypatch)
    jobs.wake()
    assert bell.is_down
