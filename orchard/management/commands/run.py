"""`run`: the whole service on one machine, until Ctrl-C."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from orchard import serving
from orchard.processes import ProcessError


class Command(BaseCommand):
    help = "Serve web, worker and beat on 127.0.0.1:8000."

    def handle(self, *args: Any, **options: Any) -> None:
        serving.prepare()
        try:
            with serving.process_group() as group:
                serving.start_jobs(group)
                serving.start_web(group)
                self.stdout.write(
                    f"Serving http://{serving.ADDRESS}/api/docs/ and /admin/; Ctrl-C stops.\n"
                    "The first admin: manage.py createsuperuser, in another terminal."
                )
                group.wait()
        except ProcessError as error:
            raise CommandError(str(error)) from None
