from collections.abc import Callable

import pytest

from records.models import Job
from records.services import jobs


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The keys of `test` jobs in the order in which they were done."""
    keys: list[str] = []
    monkeypatch.setattr(jobs, "_handlers", {})
    jobs.handler("test")(lambda job: keys.append(job.key))
    return keys


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[Job], None]:
    """`test` jobs that always fail."""

    def fail(job: Job) -> None:
        raise RuntimeError("the shed is locked")

    monkeypatch.setattr(jobs, "_handlers", {})
    return jobs.handler("test")(fail)


@pytest.fixture
def published(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, list[str]]]:
    """What would have gone to the broker: task names and arguments."""
    sent: list[tuple[str, list[str]]] = []
    monkeypatch.setattr(
        jobs.app, "send_task", lambda name, args=(), **_: sent.append((name, list(args)))
    )
    return sent
