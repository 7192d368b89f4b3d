"""Child processes: each in a session of its own, recorded, stopped in order.

A record names a child and the process that supervises it, each by pid and start time, so that a
reused pid is never taken for either. A recorded child whose supervisor is gone is a leftover of a
`kill -9`, and the next group that starts with the same records stops it.
"""

import contextlib
import dataclasses
import json
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import FrameType, TracebackType
from typing import Any, Self

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
POLL_S = 0.05


class ProcessError(Exception):
    """A child ended by itself or did not become ready; the text is one sentence for the user."""


class StopRequested(KeyboardInterrupt):
    """SIGINT, SIGTERM or SIGHUP asked this process to stop."""


# Signals -------------------------------------------------------------------------------------


def _request_stop(number: int, _frame: FrameType | None) -> None:
    for each in STOP_SIGNALS:
        signal.signal(each, _already_stopping)
    raise StopRequested(signal.Signals(number).name)


def _already_stopping(_number: int, _frame: FrameType | None) -> None:
    """A second signal must not cut the orderly stop short."""


@contextlib.contextmanager
def _handling(handler: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    previous = {each: signal.signal(each, handler) for each in STOP_SIGNALS}
    try:
        yield
    finally:
        for each, former in previous.items():
            signal.signal(each, former)


def _in_main_thread() -> bool:
    return threading.current_thread() is threading.main_thread()


@contextlib.contextmanager
def stoppable() -> Iterator[None]:
    """Let the first stop signal raise `StopRequested` in the block, and ignore later ones.

    Handlers are set even where SIGINT came down ignored, as it does in a background shell.
    """
    if not _in_main_thread() or signal.getsignal(signal.SIGTERM) in {
        _request_stop,
        _already_stopping,
    }:
        yield
        return
    with _handling(_request_stop):
        yield


@contextlib.contextmanager
def uninterrupted() -> Iterator[None]:
    """Hold a stop request of `stoppable` back until the block is over."""
    if not _in_main_thread() or signal.getsignal(signal.SIGTERM) is not _request_stop:
        yield
        return
    arrived: list[int] = []
    with _handling(lambda number, _frame: arrived.append(number)):
        yield
    if arrived:
        signal.raise_signal(arrived[0])


# Records -------------------------------------------------------------------------------------


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


def _record(name: str, pid: int, stop_signal: int) -> Record:
    supervisor = os.getpid()
    return Record(
        name=name,
        pid=pid,
        started=start_time(pid) or "",
        supervisor_pid=supervisor,
        supervisor_started=start_time(supervisor) or "",
        stop_signal=stop_signal,
    )


def _write(record: Record, folder: Path) -> None:
    path = folder / f"{record.pid}.json"
    draft = path.with_suffix(".draft")
    draft.write_text(json.dumps(dataclasses.asdict(record)))
    draft.replace(path)


def _read(path: Path) -> Record | None:
    try:
        return Record(**json.loads(path.read_text()))
    except (ValueError, TypeError, FileNotFoundError):
        return None


def _end(record: Record, grace_s: float) -> None:
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
            _end(record, grace_s)
            swept.append(record.name)
        path.unlink(missing_ok=True)
    return swept


# The group -----------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Child:
    record: Record
    process: subprocess.Popen[bytes]
    log: Path


class ProcessGroup:
    """Children that live no longer than the `with` block; stopped the last one first.

    Each child's output goes to `logs`/NAME.log. A child has `grace_s` seconds to stop when asked.
    """

    def __init__(self, *, records: Path, logs: Path, grace_s: float = 20) -> None:
        self._records = records
        self._logs = logs
        self._grace_s = grace_s
        self._children: list[_Child] = []
        self._signals = contextlib.ExitStack()

    def __enter__(self) -> Self:
        self._records.mkdir(parents=True, exist_ok=True)
        self._logs.mkdir(parents=True, exist_ok=True)
        self._signals.enter_context(stoppable())
        sweep(self._records, grace_s=self._grace_s)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        with self._signals:
            self.stop()

    def start(
        self,
        name: str,
        command: Sequence[str | Path],
        *,
        env: Mapping[str, str] | None = None,
        cwd: Path | None = None,
        account: tuple[int, int] | None = None,
        stop_signal: signal.Signals = signal.SIGTERM,
        ready: Callable[[], bool] | None = None,
        ready_s: float = 60,
    ) -> None:
        """Start a child, as another (uid, gid) if given, and wait until `ready()` says so.

        Raises ProcessError when it ends or is not ready within `ready_s` seconds.
        """
        log = self._logs / f"{name}.log"
        with log.open("wb") as output, uninterrupted():
            process = subprocess.Popen(  # noqa: S603 - commands are the project's own
                command,
                env=env,
                cwd=cwd,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                **dropping_to(account),
            )
            record = _record(name, process.pid, stop_signal)
            self._children.append(_Child(record=record, process=process, log=log))
            _write(record, self._records)
        if ready:
            self._wait_until(ready, ready_s)

    def wait(self) -> None:
        """Block until a stop signal arrives; raise ProcessError when a child ends before that."""
        with contextlib.suppress(StopRequested):
            while True:
                self.check()
                time.sleep(POLL_S)

    def check(self) -> None:
        """Raise ProcessError if a child has ended."""
        for child in self._children:
            code = child.process.poll()
            if code is not None:
                raise ProcessError(
                    f"{child.record.name} ended unexpectedly with code {code}; see {child.log}."
                )

    def stop(self) -> None:
        """Stop the children, the last one first."""
        with uninterrupted():
            while self._children:
                child = self._children.pop()
                _end(child.record, self._grace_s)
                child.process.wait()
                (self._records / f"{child.record.pid}.json").unlink(missing_ok=True)

    def _wait_until(self, ready: Callable[[], bool], ready_s: float) -> None:
        deadline = time.monotonic() + ready_s
        while not ready():
            self.check()
            if time.monotonic() > deadline:
                child = self._children[-1]
                raise ProcessError(
                    f"{child.record.name} was not ready in {ready_s:g} s; see {child.log}."
                )
            time.sleep(POLL_S)


def dropping_to(account: tuple[int, int] | None) -> dict[str, Any]:
    """The arguments of `subprocess` that run a program as another (uid, gid)."""
    if account is None:
        return {}
    uid, gid = account
    return {"user": uid, "group": gid, "extra_groups": []}
