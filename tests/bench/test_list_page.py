"""A page of 100 weighings, access checks included, against the least code that reads it.

Then the same page from two gunicorn workers, against a plain ModelSerializer with the standard
renderer served by the same workers.
"""

import contextlib
import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

import orjson
from django.db import connection
from django.urls import resolve
from psycopg.rows import dict_row
from rest_framework.test import APIRequestFactory

from records.models import Farm
from tests.bench.frame import Bench, seconds
from tests.cast import make_place, secret_of
from tests.conftest import owner_of

PAGE = 100
PATH = "/api/v1/harvest-weights"
REQUESTS = 50  # of each side by turns, for one figure
OF_BARE = 2.5
OF_SERIALIZER = 4
DEEP = 1.2  # a page in the depth of the list to the first one; what is above 1 is noise
ROOT = Path(__file__).parents[2]

WEIGHINGS = """
INSERT INTO records_harvestweight (id, farm_id, block_id, picked_on, weight, unit, weight_kind,
    containers, fruit_count, net_g, crop_chosen_by, docket, ticket, pickers, note, version)
SELECT uuidv7(), %(farm)s, %(block)s, date '2026-08-01' + n %% 70, 12.5, 'kg', 'net', 2, 30,
       12500, 'date', 'D' || n, '', '{}', '', 1
FROM generate_series(1, %(rows)s) n
"""
LIMIT = """
SELECT id, version, created_at, updated_at, farm_id, block_id, picked_on, weight, unit,
       weight_kind, containers, container_id, tare_g, fruit_count, net_g,
       estimated_from_containers_g, grade_id, entered_cultivar_id, cultivar_id, crop_id,
       crop_chosen_by, docket, ticket, pickers, minutes, note, harvest_import_id, recorded_at,
       retired_on, ARRAY(SELECT tree_id FROM records_harvestweighttree l
                         WHERE l.weight_id = h.id ORDER BY 1) AS trees
FROM records_harvestweight h WHERE farm_id = %s ORDER BY created_at, id LIMIT 101
"""


def test_a_page_costs_little_more_than_reading_its_rows(bench: Bench, committed: None) -> None:
    farm, secret = weigh(bench.size(100_000, 300))
    page, bare = in_process(PATH, secret), by_psycopg(farm)
    rows = orjson.loads(page())["results"]
    assert [row["id"] for row in rows] == [row["id"] for row in orjson.loads(bare())[:PAGE]]
    deep = in_process(cursor_at(secret, pages=bench.size(200, 2)), secret)
    took = by_turns(bench, page, bare, deep)
    bench.note_at_most(OF_BARE, "page of 100 weighings, in process", took[bare], took[page])
    bench.note_at_most(DEEP, "page of 100, deep in the list", took[page], took[deep])


def test_two_workers_serve_more_pages_than_a_plain_serializer(
    bench: Bench, committed: None
) -> None:
    _, secret = weigh(bench.size(100_000, 300))
    number = bench.size(800, 8)
    with served() as port:
        took: dict[str, list[float]] = {PATH: [], "/plain-serializer": []}
        for _ in range(bench.size(3, 1)):
            for path, times in took.items():
                times.append(seconds(partial(load, port, path, secret, number)))
    bench.note_at_least(
        OF_SERIALIZER,
        f"{number} pages from 2 workers, to a ModelSerializer",
        median(took["/plain-serializer"]),
        median(took[PATH]),
    )


def weigh(rows: int) -> tuple[Farm, str]:
    """A farm with weighings, and the token of an app that reads them."""
    place = make_place("LONG")
    values = {"farm": place.farm.pk, "block": place.block.pk, "rows": rows}
    with connection.cursor() as cursor:
        cursor.execute(WEIGHINGS, values)
        cursor.execute("SELECT count(*) FROM records_harvestweight")
        assert cursor.fetchone() == (rows,)
    with owner_of(connection.settings_dict["NAME"]) as owner:
        owner.execute("ANALYZE records_harvestweight")
    return place.farm, secret_of(place.farm, "harvest:read")


def in_process(address: str, secret: str) -> Callable[[], bytes]:
    path, _, query = address.partition("?")
    view: Any = resolve(path).func
    headers = {"Authorization": f"Bearer {secret}"}

    def page() -> bytes:
        answer = view(APIRequestFactory().get(path, QUERY_STRING=query, headers=headers))
        content: bytes = answer.render().content
        return content

    return page


def by_psycopg(farm: Farm) -> Callable[[], bytes]:
    def page() -> bytes:
        with connection.connection.cursor(row_factory=dict_row) as cursor:
            cursor.execute(LIMIT, [farm.pk])
            return orjson.dumps(cursor.fetchall(), default=float)

    return page


def cursor_at(secret: str, *, pages: int) -> str:
    address = PATH
    for _ in range(pages):
        address = orjson.loads(in_process(address, secret)())["next"]
        address = address.removeprefix("http://testserver")
    return address


def by_turns(bench: Bench, *sides: Callable[[], bytes]) -> dict[Callable[[], bytes], float]:
    times: dict[Callable[[], bytes], list[float]] = {side: [] for side in sides}
    for _ in range(bench.size(REQUESTS, 2)):
        for side in sides:
            times[side].append(seconds(side))
    return {side: median(found) for side, found in times.items()}


# Under gunicorn ----------------------------------------------------------------------------------


@contextmanager
def served() -> Iterator[int]:
    """Two workers on this test's database; the port that they listen on."""
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "tests.bench.plain:application"]
    environment = {
        **os.environ,
        "BENCH_DATABASE": connection.settings_dict["NAME"],
        "CALLER_RATE": "1000000/min",
        "DATABASE_POOL_SIZE": "2",
        "DEBUG": "",
    }
    process = subprocess.Popen(
        [*command, "--workers=2", f"--bind=127.0.0.1:{port}", "--log-level=error"],
        cwd=ROOT,
        env=environment,
    )
    try:
        wait_for(port)
        yield port
    finally:
        process.terminate()
        process.wait()


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
    return port


def wait_for(port: int) -> None:
    for _ in range(300):
        with contextlib.suppress(OSError):
            return socket.create_connection(("127.0.0.1", port)).close()
        time.sleep(0.1)
    raise AssertionError("gunicorn did not start")


def status(port: int, path: str, secret: str) -> int:
    client = http.client.HTTPConnection("127.0.0.1", port)
    with contextlib.closing(client):
        client.request("GET", path, headers={"Authorization": f"Bearer {secret}"})
        answer = client.getresponse()
        answer.read()
        return answer.status


def load(port: int, path: str, secret: str, number: int) -> None:
    """So many requests, four at a time."""
    with ThreadPoolExecutor(4) as clients:
        found = list(clients.map(lambda _: status(port, path, secret), range(number)))
    assert found == [200] * number
