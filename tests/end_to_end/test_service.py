"""The service as it runs: gunicorn, a real Celery worker and beat, over HTTP."""

import datetime as dt
import json
import os
import re
import socket
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import UUID

import pytest
import redis
from django.conf import settings
from django.db import connection
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from orchard import serving
from orchard.processes import ProcessGroup
from records.models import HarvestWeight, Token
from tests.cast import Cast, make_cast

PATIENCE_S = 90  # only so that a failure ends

SHEET = """\
Date;Block;Grade;Weight (kg)
10/09/2026;N1;A;12,5
10/09/2026;N1;C;1,5
24/09/2026;N1;A;16
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A running service and an app's token for our farm."""

    address: str
    secret: str
    cast: Cast
    group: ProcessGroup
    environment: dict[str, str]

    def ask(self, path: str, body: bytes | None = None, kind: str = "application/json") -> Any:
        request = urllib.request.Request(f"http://{self.address}/api/v1/{path}", data=body)
        request.add_header("Authorization", f"Bearer {self.secret}")
        request.add_header("Content-Type", kind)
        with urllib.request.urlopen(request, timeout=30) as response:
            return json.load(response)

    def farm_summary(self) -> Any:
        farm = self.cast.ours.farm.pk
        found = self.ask(f"season-summaries?farm={farm}&level=farm&season=2026")["results"]
        return found[0] if found else None


def environment() -> dict[str, str]:
    """The children's: the test's database, and a broker store of their own."""
    account = connection.settings_dict
    login = f"{quote(account['USER'])}:{quote(account['PASSWORD'] or '')}"
    place = f"host={quote(account['HOST'], safe='')}&port={account['PORT'] or 5432}"
    return {
        **os.environ,
        "DATABASE_URL": f"postgresql://{login}@/{account['NAME']}?{place}",
        "REDIS_URL": re.sub(r"(db=|/)\d+$", r"\g<1>2", settings.REDIS_URL),
        "ALLOWED_HOSTS": "127.0.0.1",
        "SECRET_KEY": settings.SECRET_KEY,
        "AS_OF": "2026-10-01",
    }


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture
def service(committed: None, tmp_path: Path) -> Iterator[Service]:
    cast = make_cast()
    token = Token(
        farm=cast.ours.farm,
        name="end to end",
        scopes=["harvest:write", "records:read"],
        expires_at=dt.datetime.now(dt.UTC) + dt.timedelta(days=1),
    )
    secret = token.issue()
    token.save(force_insert=True)
    env = {**environment(), "BEAT_SCHEDULE_FILE": str(tmp_path / "beat")}
    address = f"127.0.0.1:{free_port()}"
    with ProcessGroup(records=tmp_path / "pids", logs=tmp_path / "log") as group:
        serving.start_jobs(group, env)
        serving.start_web(group, env, address)
        yield Service(address=address, secret=secret, cast=cast, group=group, environment=env)


def eventually(found: Callable[[], Any]) -> Any:
    deadline = time.monotonic() + PATIENCE_S
    while not (value := found()):
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.3)
    return value


def test_a_members_file_becomes_a_season_summary(service: Service) -> None:
    farm = service.cast.ours.farm
    fields = {"farm": str(farm.pk), "file": upload("picks.csv", SHEET)}
    sent = service.ask("harvest-imports", encode_multipart(BOUNDARY, fields), MULTIPART_CONTENT)
    done = eventually(lambda: finished(service, sent["id"]))
    assert (done["state"], done["rows_added"], done["rows_refused"]) == ("landed", 3, 0), done
    summary = eventually(lambda: with_kilos(service, 30.0))
    assert summary["marketable_share"] == pytest.approx(28.5 / 30)
    assert summary["p50_on"] == "2026-09-24"
    assert summary["is_closed"] is False


def test_what_the_broker_loses_the_sweeper_catches(service: Service) -> None:
    """A weighing is stored, every message is thrown away, and the summary still follows."""
    ours = service.cast.ours
    body = {
        "farm": str(ours.farm.pk),
        "block": str(ours.block.pk),
        "picked_on": "2026-09-10",
        "weight": 7,
        "unit": "kg",
    }
    made = service.ask("harvest-weights", json.dumps(body).encode())
    redis.Redis.from_url(service.environment["REDIS_URL"]).flushdb()
    assert HarvestWeight.objects.filter(pk=UUID(made["id"])).exists()
    assert eventually(lambda: with_kilos(service, 7.0))


def upload(name: str, text: str) -> Any:
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile(name, text.encode(), "text/csv")


def finished(service: Service, key: str) -> Any:
    service.group.check()
    found = service.ask(f"harvest-imports/{key}")
    return found if found["state"] not in {"received", "reading"} else None


def with_kilos(service: Service, net_kg: float) -> Any:
    service.group.check()
    summary = service.farm_summary()
    return summary if summary and summary["net_kg"] == net_kg else None
