"""Real PostgreSQL and Valkey for every test; the tests run as the role that owns nothing."""

import contextlib
import os
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from psycopg import sql

from orchard import embedded

if embedded.in_use():
    # Not the store that a running service of this checkout uses.
    os.environ.setdefault("REDIS_URL", embedded.urls()["REDIS_URL"].replace("db=0", "db=1"))
os.environ.setdefault("SECRET_KEY", "only-for-tests")

servers = contextlib.ExitStack()


def pytest_configure(config: pytest.Config) -> None:
    """The first process starts the servers; the others of a parallel run use them."""
    if embedded.in_use() and not hasattr(config, "workerinput"):
        servers.enter_context(embedded.attached_or_started())


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput") and config.getoption("numprocesses", default=None):
        drop_template()
    servers.close()


def log_in_as(account: dict[str, Any]) -> None:
    from django.db import connection

    from orchard.management.commands.migrate import ACCOUNT, log_in

    log_in(connection, {key: account[key] for key in ACCOUNT})


@pytest.fixture(scope="session")
def django_db_setup(
    request: pytest.FixtureRequest, django_test_environment: None, django_db_blocker: Any
) -> Iterator[None]:
    """A database made and migrated by its owner, then used by the service's role."""
    from django.conf import settings
    from django.db import connection

    service = dict(connection.settings_dict)
    old_name = service["NAME"]
    with django_db_blocker.unblock():
        log_in_as(settings.OWNER_DATABASE)
        if hasattr(request.config, "workerinput"):
            connection.settings_dict["NAME"] = copy_of(shared_name(os.getppid()))
        else:
            migrate_new(shared_name(os.getpid()))
        log_in_as(service)
    yield
    with django_db_blocker.unblock():
        log_in_as(settings.OWNER_DATABASE)
        connection.creation.destroy_test_db(old_name, verbosity=0)


def shared_name(run: int) -> str:
    """A name for each run of the tests, so that runs at the same time do not meet."""
    from django.conf import settings

    return f"test_{settings.OWNER_DATABASE['NAME']}_{run}"


def migrate_new(name: str) -> None:
    from django.db import connection

    connection.settings_dict["TEST"]["NAME"] = name
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)


def copy_of(template: str) -> str:
    """The name of a copy; the first process of a parallel run makes and migrates the template."""
    from django.db import connection

    name, old_name = f"{template}_{os.getpid()}", connection.settings_dict["NAME"]
    with owner_of("postgres") as server:
        server.execute("SELECT pg_advisory_lock(hashtext(%s))", [template])
        if not server.execute(
            "SELECT 1 FROM pg_database WHERE datname = %s", [template]
        ).fetchone():
            migrate_new(template)
            connection.close()
            connection.settings_dict["NAME"] = old_name
        server.execute(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(*ids(name, template)))
    return name


def drop_template() -> None:
    with owner_of("postgres") as server:
        name = shared_name(os.getpid())
        server.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(*ids(name)))


def ids(*names: str) -> list[sql.Identifier]:
    return [sql.Identifier(name) for name in names]


def owner_of(database: str) -> psycopg.Connection[Any]:
    from django.conf import settings

    owner = settings.OWNER_DATABASE
    return psycopg.connect(
        dbname=database,
        user=owner["USER"],
        password=owner["PASSWORD"] or None,
        host=owner["HOST"] or None,
        port=owner["PORT"] or None,
        autocommit=True,
    )


@pytest.fixture
def committed(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Real commits, with triggers and ticks; the owner empties the tables afterwards."""
    from django.db import connection

    with django_db_blocker.unblock():
        yield
        connection.close()
        empty_tables()


def empty_tables() -> None:
    from django.db import connection

    kept = ("django_migrations", "django_content_type", "auth_permission", "records_species")
    with owner_of(connection.settings_dict["NAME"]) as database:
        found = database.execute(
            "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public'"
            " AND tablename <> ALL (%s)",
            [list(kept)],
        ).fetchall()
        database.execute("TRUNCATE " + ", ".join(name for (name,) in found) + " CASCADE")
