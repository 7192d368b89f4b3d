"""Files of many rows: how much memory they take, a bad row at their end, a file cut off midway."""

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection

from records.choices import ImportState
from records.models import HarvestWeight
from records.services.imports import receive
from tests.cast import Place, make_cast
from tests.importing.making import as_xlsx
from tests.records.sending import bring_in, details, problems

LIMIT_MB = 300
HEADINGS = "Date,Block,Kilos,Crates,Docket,Line\n"
WORKER = """
import re, sys
from pathlib import Path
import django
django.setup()
import planning.tasks, records.tasks
from records.importing import load
load.run(sys.argv[1])
# Of this program alone: `getrusage` also knows how large the one was that started it.
peak_kb = re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())
print(int(peak_kb[1]) // 1024)
"""


@pytest.fixture
def ours(committed: None) -> Place:
    return make_cast().ours


def lines(rows: int, last: str = "") -> Iterable[str]:
    yield HEADINGS
    for n in range(rows):
        weight = last if last and n == rows - 1 else f"{1 + n % 400 / 10}"
        yield f"2026-0{1 + n % 9}-1{n % 9},N1,{weight},{n % 9 + 1},D{n // 20},{n % 20 + 1}\n"


def written(path: Path, rows: int, last: str = "") -> Path:
    with path.open("w") as file:
        file.writelines(lines(rows, last))
    return path


def peak_mb_of_worker(import_id: Any) -> int:
    """Of a process that brings the import in as a worker does, on this test's database."""
    told = connection.settings_dict
    password = f":{quote(told['PASSWORD'], safe='')}" if told["PASSWORD"] else ""
    host = quote(told["HOST"] or "", safe="")
    port = f"&port={told['PORT']}" if told["PORT"] else ""
    url = f"postgresql://{told['USER']}{password}@/{told['NAME']}?host={host}{port}"
    done = subprocess.run(
        [sys.executable, "-c", WORKER, str(import_id)],
        env={**os.environ, "DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "orchard.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2_000:]
    return int(done.stdout.splitlines()[-1])


SIZES = [
    20_000,
    pytest.param(200_000, marks=pytest.mark.long),
    pytest.param(1_000_000, marks=pytest.mark.long),
]


@pytest.mark.parametrize("rows", SIZES)
def test_a_worker_stays_within_bounds_however_long_the_file(
    ours: Place, tmp_path: Path, rows: int
) -> None:
    path = written(tmp_path / "a.csv", rows)
    with path.open("rb") as content:
        sent = receive(farm=ours.farm, file_name="a.csv", content=content)
    assert peak_mb_of_worker(sent.pk) < LIMIT_MB
    sent.refresh_from_db()
    assert (sent.state, sent.rows_added) == (ImportState.LANDED, rows)


BAD_AT = [20_001, pytest.param(1_000_000, marks=pytest.mark.long)]


@pytest.mark.parametrize("rows", BAD_AT)
def test_nothing_lands_for_a_bad_row_at_the_very_end(
    ours: Place, tmp_path: Path, rows: int
) -> None:
    with written(tmp_path / "a.csv", rows, last="heavy").open("rb") as content:
        sent = bring_in(receive(farm=ours.farm, file_name="a.csv", content=content))
    assert sent.state == ImportState.REFUSED
    assert problems(sent) == [(rows + 1, "Kilos", "not-a-number", "heavy")]
    assert not HarvestWeight.objects.exists()


def test_a_text_cut_off_within_a_row_lands_nothing(ours: Place) -> None:
    content = "".join(lines(50)).encode()
    cut = content[: content.rindex(b",N1,") + 2]  # the last row ends within its block
    sent = bring_in(receive(farm=ours.farm, file_name="a.csv", content=cut))
    assert sent.state == ImportState.REFUSED
    assert [row for row, *_ in problems(sent)][-1] == 51
    assert not HarvestWeight.objects.exists()


def test_a_text_cut_off_within_quotes_is_told_so(ours: Place) -> None:
    cut = b'Date,Block,Kilos,Note\n2026-09-01,N1,2,ok\n2026-09-01,N1,2,"wet and'
    sent = bring_in(receive(farm=ours.farm, file_name="a.csv", content=cut))
    assert sent.state == ImportState.REFUSED
    assert "In row 3 a quotation mark" in details(sent)[0]


@pytest.mark.parametrize("share", [0.3, 0.9])
def test_a_workbook_cut_off_midway_is_damaged(ours: Place, share: float) -> None:
    rows = [line.strip().split(",") for line in lines(200)]
    content = as_xlsx({"Harvest": rows})
    cut = content[: int(len(content) * share)]
    sent = bring_in(receive(farm=ours.farm, file_name="a.xlsx", content=cut))
    assert sent.state == ImportState.REFUSED
    assert "damaged" in details(sent)[0]
    assert not HarvestWeight.objects.exists()
