#!/usr/bin/env python
"""Django's command line; without DATABASE_URL it brings its own PostgreSQL and Valkey."""

import contextlib
import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

from orchard import embedded

WITHOUT_DATABASE = {"check", "collectstatic", "help", "spectacular", "version"}
SERVING = {"demo", "run"}  # one of these at a time in a checkout; other commands attach to it


def database_for(arguments: list[str]) -> contextlib.AbstractContextManager[object]:
    """The embedded servers, where the command needs them and no address is given."""
    command = arguments[1] if len(arguments) > 1 else "help"
    asks_for_help = {"-h", "--help", "--version"} & set(arguments)
    if asks_for_help or command in WITHOUT_DATABASE or not embedded.in_use():
        return contextlib.nullcontext()
    return embedded.servers() if command in SERVING else embedded.attached_or_started()


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "orchard.settings")
    try:
        with database_for(sys.argv):
            execute_from_command_line(sys.argv)
    except (embedded.EmbeddedError, ImproperlyConfigured) as error:
        sys.exit(str(error))
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
