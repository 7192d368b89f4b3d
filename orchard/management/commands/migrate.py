"""`migrate`, logged in as the owner of the tables instead of the role that serves requests."""

from typing import Any

from django.conf import settings
from django.core.management.commands.migrate import Command as MigrateCommand
from django.db import connections


class Command(MigrateCommand):
    def handle(self, *args: Any, **options: Any) -> None:
        connection = connections[options["database"]]
        connection.close()
        connection.settings_dict.update(
            {key: settings.OWNER_DATABASE[key] for key in ("USER", "PASSWORD", "HOST", "PORT")}
        )
        super().handle(*args, **options)
        connection.close()
