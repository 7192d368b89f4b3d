"""The frame itself: which side is which, and when a goal holds."""

import json
from pathlib import Path

from tests.bench.frame import Bench, table, write


def test_a_ratio_is_ours_to_the_limit_or_how_much_faster_than_a_baseline() -> None:
    bench = Bench(is_full=True)
    bench.note_at_most(2, "read", 1.0, 1.5)
    bench.note_at_most(2, "write", 1.0, 2.5)
    bench.note_at_least(100, "rebuild", 500.0, 4.0)
    assert [(each.ratio, each.holds) for each in bench.results] == [
        (1.5, True),
        (2.5, False),
        (125.0, True),
    ]


def test_both_sides_run_by_turns() -> None:
    turns: list[str] = []
    bench = Bench(is_full=True)
    bench.at_most(2, "x", limit=lambda: turns.append("l"), ours=lambda: turns.append("o"), runs=3)
    assert "".join(turns) == "lololo"


def test_results_are_printed_and_written(tmp_path: Path) -> None:
    bench = Bench(is_full=True)
    bench.note_at_most(2, "read", 1.0, 1.5)
    write(bench.results, tmp_path / "results.json")
    assert json.loads((tmp_path / "results.json").read_text()) == [
        {
            "work": "read",
            "limit": 1.0,
            "ours": 1.5,
            "ratio": 1.5,
            "goal": "at most 2",
            "holds": True,
        }
    ]
    assert table(bench.results).splitlines()[1].split() == [
        *("read", "1.000", "s", "1.500", "s", "1.50", "at", "most", "2", "yes")
    ]
