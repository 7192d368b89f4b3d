"""Real PostgreSQL and Valkey for every test; the tests run as the role that owns nothing."""

import contextlib
import os
from collections.abc import Iterator
from typing import Any

import pytest

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
    servers.close()


def log_in_as(account: dict[str, Any]) -> None:
    from django.db import connection

    from orchard.management.commands.migrate import ACCOUNT, log_in

    log_in(connection, {key: account[key] for key in ACCOUNT})


@pytest.fixture(scope="session")
def django_db_setup(django_test_environment: None, django_db_blocker: Any) -> Iterator[None]:
    """A database made and migrated by its owner, then used by the service's role."""
    from django.conf import settings
    from django.db import connection

    service = dict(connection.settings_dict)
    # A name of its own, so that test runs at the same time do not meet.
    name = f"test_{settings.OWNER_DATABASE['NAME']}_{os.getpid()}"
    connection.settings_dict["TEST"]["NAME"] = name
    with django_db_blocker.unblock():
        log_in_as(settings.OWNER_DATABASE)
        old_name = connection.settings_dict["NAME"]
        connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        log_in_as(service)
    yield
    with django_db_blocker.unblock():
        log_in_as(settings.OWNER_DATABASE)
        connection.creation.destroy_test_db(old_name, verbosity=0)


@pytest.fixture
def committed(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Real commits, with triggers and ticks; the owner empties the tables afterwards."""
    from django.db import connection

    with django_db_blocker.unblock():
        yield
        connection.close()
        empty_tables()


def empty_tables() -> None:
    import psycopg
    from django.conf import settings
    from django.db import connection

    owner = settings.OWNER_DATABASE
    kept = ("django_migrations", "django_content_type", "auth_permission", "records_species")
    with psycopg.connect(
        dbname=connection.settings_dict["NAME"],
        user=owner["USER"],
        password=owner["PASSWORD"] or None,
        host=owner["HOST"] or None,
        port=owner["PORT"] or None,
        autocommit=True,
    ) as database:
        found = database.execute(
            "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public'"
            " AND tablename <> ALL (%s)",
            [list(kept)],
        ).fetchall()
        database.execute("TRUNCATE " + ", ".join(name for (name,) in found) + " CASCADE")
