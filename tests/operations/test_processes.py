"""Child processes start, are watched, stop in order and are swept after a `kill -9`."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import which

import pytest

from orchard.leftovers import _start_time_from_ps, start_time, sweep
from orchard.processes import ProcessError, ProcessGroup

PROJECT = Path(__file__).resolve().parents[2]
SLEEP = ["sleep", "60"]

SUPERVISOR = """
import sys
from pathlib import Path
from orchard.processes import ProcessGroup

folder = Path(sys.argv[1])
child = "trap 'echo $0 >> {0}/stopped; exit' TERM; touch {0}/$0.ready; while :; do sleep 0.02; done"
with ProcessGroup(records=folder / "processes", logs=folder / "log") as group:
    for name in ("web", "worker", "beat"):
        ready = (folder / f"{name}.ready").exists
        group.start(name, ["sh", "-c", child.format(folder), name], ready=ready)
    (folder / "serving").touch()
    group.wait()
(folder / "left").touch()
"""


def until(condition: Callable[[], object], seconds: float = 20) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited too long"
        time.sleep(0.02)


def children(folder: Path) -> dict[str, int]:
    records = [json.loads(path.read_text()) for path in (folder / "processes").glob("*.json")]
    return {record["name"]: record["pid"] for record in records}


@pytest.fixture
def group(tmp_path: Path) -> ProcessGroup:
    return ProcessGroup(records=tmp_path / "processes", logs=tmp_path / "log", grace_s=5)


@pytest.fixture
def supervisor(tmp_path: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A supervisor as a shell would start it in the background: with SIGINT ignored."""
    command = [sys.executable, "-c", SUPERVISOR, str(tmp_path)]
    former = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        process = subprocess.Popen(command, cwd=PROJECT)
    finally:
        signal.signal(signal.SIGINT, former)
    until((tmp_path / "serving").exists)
    yield process
    process.kill()
    process.wait()
    sweep(tmp_path / "processes", grace_s=5)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_stops_the_children_last_one_first(
    supervisor: subprocess.Popen[bytes], tmp_path: Path, number: signal.Signals
) -> None:
    pids = children(tmp_path)
    supervisor.send_signal(number)
    assert supervisor.wait(20) == 0
    assert (tmp_path / "stopped").read_text().split() == ["beat", "worker", "web"]
    assert (tmp_path / "left").exists()
    assert [start_time(pid) for pid in pids.values()] == [None, None, None]
    assert children(tmp_path) == {}


def test_a_second_signal_does_not_cut_the_stop_short(
    supervisor: subprocess.Popen[bytes], tmp_path: Path
) -> None:
    pids = children(tmp_path)
    for _ in range(5):
        supervisor.send_signal(signal.SIGTERM)
        time.sleep(0.01)
    assert supervisor.wait(20) == 0
    assert [start_time(pid) for pid in pids.values()] == [None, None, None]


def test_a_killed_supervisor_leaves_children_that_the_next_group_sweeps(
    supervisor: subprocess.Popen[bytes], group: ProcessGroup, tmp_path: Path
) -> None:
    pids = children(tmp_path)
    supervisor.kill()
    supervisor.wait()
    assert all(start_time(pid) for pid in pids.values())
    with group:
        assert [start_time(pid) for pid in pids.values()] == [None, None, None]
    assert (tmp_path / "stopped").read_text().split() == ["beat", "worker", "web"]


def test_children_of_a_living_supervisor_are_left_alone(
    supervisor: subprocess.Popen[bytes], tmp_path: Path
) -> None:
    pids = children(tmp_path)
    assert sweep(tmp_path / "processes", grace_s=5) == []
    assert supervisor.poll() is None
    assert all(start_time(pid) for pid in pids.values())
    assert children(tmp_path) == pids


def test_a_reused_pid_is_never_stopped(group: ProcessGroup, tmp_path: Path) -> None:
    bystander = subprocess.Popen(SLEEP)
    leftover = {
        "name": "web",
        "pid": bystander.pid,
        "started": "before the machine last started",
        "supervisor_pid": bystander.pid,
        "supervisor_started": "before the machine last started",
        "stop_signal": signal.SIGTERM,
    }
    path = tmp_path / "processes" / f"{bystander.pid}.json"
    path.parent.mkdir()
    path.write_text(json.dumps(leftover))
    try:
        with group:
            assert bystander.poll() is None
            assert not path.exists()
    finally:
        bystander.kill()
        bystander.wait()


def test_a_damaged_record_is_forgotten(group: ProcessGroup, tmp_path: Path) -> None:
    damaged = tmp_path / "processes" / "1.json"
    damaged.parent.mkdir()
    damaged.write_text("")
    with group:
        assert not damaged.exists()


def test_a_child_that_ends_by_itself_is_reported(group: ProcessGroup, tmp_path: Path) -> None:
    with group:
        group.start("web", ["sh", "-c", "echo no port; exit 3"])
        with pytest.raises(
            ProcessError, match=r"web ended unexpectedly with code 3; see .*web\.log"
        ):
            group.wait()
    assert (tmp_path / "log" / "web.log").read_text() == "no port\n"


def test_a_child_that_is_never_ready_is_reported(group: ProcessGroup) -> None:
    with group, pytest.raises(ProcessError, match=r"worker was not ready in 0\.1 s"):
        group.start("worker", SLEEP, ready=lambda: False, ready_s=0.1)


def test_a_child_that_will_not_stop_is_killed_with_its_own_children(tmp_path: Path) -> None:
    group = ProcessGroup(records=tmp_path / "processes", logs=tmp_path / "log", grace_s=0.2)
    stubborn = f"trap '' TERM; sleep 60 & echo $! > {tmp_path}/pid; touch {tmp_path}/ready; wait"
    with group:
        group.start("worker", ["sh", "-c", stubborn], ready=(tmp_path / "ready").exists)
        grandchild = int((tmp_path / "pid").read_text())
        assert start_time(grandchild)
    until(lambda: start_time(grandchild) is None)


def test_children_run_in_sessions_of_their_own(group: ProcessGroup, tmp_path: Path) -> None:
    with group:
        group.start("web", SLEEP)
        pid = children(tmp_path)["web"]
        assert os.getsid(pid) == pid


def test_the_former_signal_handlers_come_back(group: ProcessGroup) -> None:
    former = [signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)]
    with group:
        assert signal.getsignal(signal.SIGTERM) is not former[1]
    assert [signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)] == former


@pytest.mark.parametrize(
    "began",
    [
        start_time,
        # the way of systems without /proc
        pytest.param(
            _start_time_from_ps, marks=pytest.mark.skipif(not which("ps"), reason="no ps")
        ),
    ],
)
def test_the_start_time_is_steady_and_ends_with_the_process(
    began: Callable[[int], str | None],
) -> None:
    process = subprocess.Popen(SLEEP)
    first = began(process.pid)
    assert first
    assert first == began(process.pid)
    assert first != began(1)
    process.kill()
    until(lambda: began(process.pid) is None)  # ended, though not yet waited for
    process.wait()
