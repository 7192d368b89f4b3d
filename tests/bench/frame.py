"""How speed is measured: both sides of a comparison in one run, by turns, as a ratio of medians.

A figure in seconds means nothing next week; a ratio of two things done on the same machine in the
same minute does. The limit's side does the same work on the same rows with the least code that
can do it.
"""

import json
import os
import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path

RESULTS = Path("bench-results.json")
RUNS = 5
Work = Callable[[], object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Medians in seconds, and their ratio as the goal is put: ours to the limit, or the reverse."""

    work: str
    limit: float
    ours: float
    ratio: float
    goal: str
    holds: bool


@dataclass(slots=True)
class Bench:
    """`is_full`: at the sizes that the goals are about. Small sizes keep the code alive."""

    is_full: bool
    results: list[Result] = field(default_factory=list)

    def size(self, full: int, small: int) -> int:
        return full if self.is_full else small

    def at_most(
        self, ratio: float, work: str, *, limit: Work, ours: Work, runs: int = RUNS
    ) -> None:
        """Ours takes at most so many times the limit's time."""
        self.note_at_most(ratio, work, *self._by_turns(limit, ours, runs))

    def note_at_most(self, ratio: float, work: str, limit_s: float, ours_s: float) -> None:
        found = ours_s / limit_s
        self._note(work, limit_s, ours_s, found, f"at most {ratio:g}", found <= ratio)

    def note_at_least(self, ratio: float, work: str, baseline_s: float, ours_s: float) -> None:
        """Ours is at least so many times as fast as a baseline."""
        found = baseline_s / ours_s
        self._note(
            work, baseline_s, ours_s, found, f"at least {ratio:g} times as fast", found >= ratio
        )

    def note_only(self, work: str, limit_s: float, ours_s: float) -> None:
        """For information: there is no goal to hold."""
        self._note(work, limit_s, ours_s, ours_s / limit_s, "none", True)

    def _by_turns(self, limit: Work, ours: Work, runs: int) -> tuple[float, float]:
        times: list[tuple[float, float]] = []
        for _ in range(runs if self.is_full else 1):
            times.append((seconds(limit), seconds(ours)))
        limits, own = zip(*times, strict=True)
        return statistics.median(limits), statistics.median(own)

    def _note(
        self, work: str, limit: float, ours: float, ratio: float, goal: str, holds: bool
    ) -> None:
        self.results.append(
            Result(work=work, limit=limit, ours=ours, ratio=ratio, goal=goal, holds=holds)
        )


def seconds(work: Work) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def is_full() -> bool:
    return os.environ.get("BENCH") == "full"


def write(results: Iterable[Result], path: Path = RESULTS) -> None:
    path.write_text(json.dumps([asdict(result) for result in results], indent=2) + "\n")


def table(results: Iterable[Result]) -> str:
    heading = ("work", "limit", "ours", "ratio", "goal", "holds")
    lines = [heading, *(_cells(result) for result in results)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(heading))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )


def _cells(result: Result) -> tuple[str, ...]:
    return (
        result.work,
        f"{result.limit:.3f} s",
        f"{result.ours:.3f} s",
        f"{result.ratio:.2f}",
        result.goal,
        "yes" if result.holds else "no",
    )
