"""What a `kill -9` of a supervisor leaves running, and how the next start sweeps it.

A record names a child and the process that supervises it, each by pid and start time, so that a
reused pid is never taken for either. A recorded child whose supervisor is gone is a leftover.
"""

import contextlib
import dataclasses
import json
import os
import signal
import subprocess
import time
from pathlib import Path

POLL_S = 0.05


def start_time(pid: int) -> str | None:
    """When a process began, as text that tells it from any other with its pid; None if ended."""
    if Path("/proc/self/stat").exists():
        return _start_time_from_proc(pid)
    return _start_time_from_ps(pid)


def _start_time_from_proc(pid: int) -> str | None:
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(errors="replace")
    except (FileNotFoundError, ProcessLookupError):
        return None
    # The name of the program, in brackets, may itself hold spaces and brackets.
    fields = stat.rpartition(")")[2].split()
    state, ticks_since_boot = fields[0], fields[19]
    if state in {"Z", "X"}:
        return None
    boot = Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    return f"{boot} {ticks_since_boot}"


def _start_time_from_ps(pid: int) -> str | None:
    command = ["ps", "-o", "state=,lstart=", "-p", str(pid)]
    shown = subprocess.run(command, capture_output=True, text=True, check=False).stdout  # noqa: S603 - a number is the only argument
    state, _, began = shown.strip().partition(" ")
    return None if state[:1] in {"", "Z"} else began.strip()


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """A child as its supervisor wrote it down."""

    name: str
    pid: int
    started: str
    supervisor_pid: int
    supervisor_started: str
    stop_signal: int

    def is_alive(self) -> bool:
        return start_time(self.pid) == self.started

    def is_orphaned(self) -> bool:
        return start_time(self.supervisor_pid) != self.supervisor_started


def new_record(name: str, pid: int, stop_signal: int) -> Record:
    """A child of this process, which supervises it."""
    supervisor = os.getpid()
    return Record(
        name=name,
        pid=pid,
        started=start_time(pid) or "",
        supervisor_pid=supervisor,
        supervisor_started=start_time(supervisor) or "",
        stop_signal=stop_signal,
    )


def write(record: Record, folder: Path) -> None:
    """Keep a record where `sweep` finds it; a crash never leaves half of one."""
    path = folder / f"{record.pid}.json"
    draft = path.with_suffix(".draft")
    draft.write_text(json.dumps(dataclasses.asdict(record)))
    draft.replace(path)


def _read(path: Path) -> Record | None:
    try:
        return Record(**json.loads(path.read_text()))
    except (ValueError, TypeError, FileNotFoundError):
        return None


def end(record: Record, *, grace_s: float) -> None:
    """Ask a process to stop; when the grace is over, kill what is left of its group."""
    deadline = time.monotonic() + grace_s
    if record.is_alive():
        os.kill(record.pid, record.stop_signal)
    while record.is_alive() and time.monotonic() < deadline:
        time.sleep(POLL_S)
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(record.pid, signal.SIGKILL)


def sweep(records: Path, *, grace_s: float) -> list[str]:
    """Stop what a killed supervisor left running, the youngest first; return their names."""
    swept = []
    paths = sorted(records.glob("*.json"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    for path in paths:
        record = _read(path)
        if record and not record.is_orphaned():
            continue
        if record and record.is_alive():
            end(record, grace_s=grace_s)
            swept.append(record.name)
        path.unlink(missing_ok=True)
    return swept
