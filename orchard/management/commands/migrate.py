"""`migrate`, logged in as the owner of the tables instead of the role that serves requests."""

from typing import Any

from django.conf import settings
from django.core.management.commands.migrate import Command as MigrateCommand
from django.db import connections

ACCOUNT = ("USER", "PASSWORD", "HOST", "PORT")


class Command(MigrateCommand):
    def handle(self, *args: Any, **options: Any) -> None:
        connection: Any = connections[options["database"]]
        service = {key: connection.settings_dict[key] for key in ACCOUNT}
        log_in(connection, {key: settings.OWNER_DATABASE[key] for key in ACCOUNT})
        try:
            super().handle(*args, **options)
        finally:
            log_in(connection, service)


def log_in(connection: Any, account: dict[str, Any]) -> None:
    """Use another account from the next query on."""
    connection.close()
    connection.close_pool()
    connection.settings_dict.update(account)
