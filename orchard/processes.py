"""Child processes: each in a session of its own, recorded, watched, stopped in order."""

import contextlib
import dataclasses
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import FrameType, TracebackType
from typing import Any, Self

from orchard import leftovers

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
POLL_S = 0.05

Account = tuple[int, int]  # uid and gid


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


# The group -----------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Child:
    record: leftovers.Record
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
        leftovers.sweep(self._records, grace_s=self._grace_s)
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
        account: Account | None = None,
        stop_signal: signal.Signals = signal.SIGTERM,
        ready: Callable[[], bool] | None = None,
        ready_s: float = 60,
    ) -> None:
        """Start a child, as another account if given, and wait until `ready()` says so.

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
            record = leftovers.new_record(name, process.pid, stop_signal)
            self._children.append(_Child(record=record, process=process, log=log))
            leftovers.write(record, self._records)
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
                leftovers.end(child.record, grace_s=self._grace_s)
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


def dropping_to(account: Account | None) -> dict[str, Any]:
    """The arguments of `subprocess` that run a program as another account."""
    if account is None:
        return {}
    uid, gid = account
    return {"user": uid, "group": gid, "extra_groups": []}
