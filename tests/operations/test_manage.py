"""The command line starts servers where a command needs them, and refuses in one sentence."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

import manage

PROJECT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["migrate"], "attached"),  # uses what `run` or `demo` may have started
        (["run"], "started"),  # serves, and refuses a second time
        (["demo"], "started"),
        (["check", "--deploy"], None),  # asks the database nothing
        (["spectacular", "--validate"], None),
        (["migrate", "--help"], None),
        ([], None),  # prints the help
    ],
)
def test_a_command_gets_the_servers_it_needs(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], expected: str | None
) -> None:
    monkeypatch.setattr(manage.embedded, "in_use", lambda: True)
    monkeypatch.setattr(manage.embedded, "servers", lambda: "started")
    monkeypatch.setattr(manage.embedded, "attached_or_started", lambda: "attached")
    found = manage.database_for(["manage.py", *arguments])
    assert (found if isinstance(found, str) else None) == expected


def test_a_given_address_starts_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(manage.embedded, "in_use", lambda: False)
    monkeypatch.setattr(manage.embedded, "servers", lambda: pytest.fail("started"))
    with manage.database_for(["manage.py", "run"]) as found:
        assert found is None


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"AS_OF": "yesterday"}, "AS_OF"),
        ({"DEBUG": "maybe"}, "DEBUG"),
        ({"DATABASE_URL": "mysql://elsewhere/orchard"}, "DATABASE_URL"),
    ],
)
def test_a_wrong_setting_stops_the_start_with_one_sentence(
    wrong: dict[str, str], named: str
) -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=PROJECT,
        env=os.environ | {"SECRET_KEY": "for this test"} | wrong,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith(named)
    assert len(done.stderr.splitlines()) == 1
