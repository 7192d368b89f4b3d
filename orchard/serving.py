"""The service's own processes on one machine: the web server, the worker and the beat."""

import os
import sys
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from urllib.error import URLError

from django.core.management import call_command

from orchard import embedded
from orchard.processes import ProcessGroup

ADDRESS = "127.0.0.1:8000"
STATE = embedded.ROOT / "var"


@contextmanager
def process_group() -> Iterator[ProcessGroup]:
    with ProcessGroup(records=STATE / "service", logs=STATE / "log") as group:
        yield group


def prepare() -> None:
    """Bring the database up to date, as its owner."""
    (STATE / "static").mkdir(parents=True, exist_ok=True)
    call_command("migrate", verbosity=0, interactive=False)


def start_jobs(group: ProcessGroup, env: Mapping[str, str] | None = None) -> None:
    """The Celery worker and beat."""
    environment = {**os.environ, "BEAT_SCHEDULE_FILE": str(STATE / "beat-schedule"), **(env or {})}
    celery = [sys.executable, "-m", "celery", "--app", "orchard"]
    worker = [*celery, "worker", "--concurrency", "2", "--loglevel", "info"]
    group.start("worker", worker, env=environment, cwd=embedded.ROOT)
    group.start("beat", [*celery, "beat", "--loglevel", "info"], env=environment, cwd=embedded.ROOT)


def start_web(
    group: ProcessGroup, env: Mapping[str, str] | None = None, address: str = ADDRESS
) -> None:
    command = [sys.executable, "-m", "gunicorn", "orchard.wsgi", "--bind", address]
    command += ["--workers", "2", "--threads", "4", "--no-control-socket"]
    group.start(
        "web",
        command,
        env={"DATABASE_POOL_SIZE": "4", **os.environ, **(env or {})},
        cwd=embedded.ROOT,
        ready=lambda: answers(address),
    )


def answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"http://{address}/livez", timeout=2) as response:
            return bool(response.status == 200)
    except (URLError, OSError):
        return False
