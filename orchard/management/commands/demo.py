"""`demo`: the invented co-op, from its members' files to the consolidated season table."""

import datetime as dt
import os
import secrets
import time
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Q
from django.utils import timezone

from orchard import serving
from orchard.demo import load, outlook, settle, table
from orchard.demo.cast import Cast
from orchard.demo.cast_files import read_cast
from orchard.demo.load_deliveries import load_deliveries
from orchard.processes import ProcessError, ProcessGroup
from records.choices import ImportState, JobState
from records.models import CoOp, Farm, HarvestImport, Job, Token

FOLDER = serving.STATE / "demo"
PATIENCE_S = 300


class Command(BaseCommand):
    help = "Load and serve the demo co-op (ONCE=1 stops after printing; AS_OF=date sets today)."

    def handle(self, *args: Any, **options: Any) -> None:
        serving.prepare()
        FOLDER.mkdir(parents=True, exist_ok=True)
        cast = self.cast()
        settings.AS_OF = cast.as_of
        environment = {"AS_OF": cast.as_of.isoformat()}
        try:
            with serving.process_group() as group:
                serving.start_jobs(group, environment)
                self.bring_up_to_date(cast, group)
                co_op = CoOp.objects.get(code=cast.co_op.code)
                self.stdout.write(table.consolidated(co_op))
                self.stdout.write(settle.settle(cast, FOLDER / "statements"))
                self.stdout.write(outlook.outlook(co_op))
                if os.environ.get("ONCE") != "1":
                    serving.start_web(group, environment)
                self.print_addresses(cast)
                if os.environ.get("ONCE") != "1":
                    group.wait()
        except ProcessError as error:
            raise CommandError(str(error)) from None

    def cast(self) -> Cast:
        """The cast on the day that the demo was first loaded for, or today."""
        kept = FOLDER / "as-of"
        asked = settings.AS_OF or dt.datetime.now(dt.UTC).date()
        if not kept.exists():
            return read_cast(asked)
        as_of = dt.date.fromisoformat(kept.read_text())
        if settings.AS_OF not in {None, as_of}:
            raise CommandError(
                f"The demo is loaded as of {as_of}; remove {serving.STATE} to load another day."
            )
        return read_cast(as_of)

    def bring_up_to_date(self, cast: Cast, group: ProcessGroup) -> None:
        if not load.is_loaded(cast):
            self.stdout.write(f"Loading the demo co-op as of {cast.as_of} ...")
            (FOLDER / "as-of").write_text(cast.as_of.isoformat())
            load.load_records(cast, secret("password"))
        sent = load.send_files(cast, FOLDER / "files")
        wait_for_jobs(group)
        for each in HarvestImport.objects.filter(pk__in=[each.pk for each in sent]):
            if each.state not in {ImportState.LANDED, ImportState.UNDONE}:
                raise CommandError(f"{each.file_name}: {each.explanation}")
        load_deliveries(cast)
        wait_for_jobs(group)
        settle.apply_sure_fixes(CoOp.objects.get(code=cast.co_op.code))
        wait_for_jobs(group)

    def print_addresses(self, cast: Cast) -> None:
        co_op = CoOp.objects.get(code=cast.co_op.code)
        staff = token("co-op-token", ["harvest:read", "settlement:read"], co_op=co_op)
        first = Farm.objects.get(code=cast.farms[0].code)
        token("farm-token", ["harvest:write", "records:read", "schedule:read"], farm=first)
        origin = f"http://{serving.ADDRESS}"
        admin = next(p.email for p in cast.people if p.roles[0].role == "platform-admin")
        self.stdout.write(
            f"""
API documentation  {origin}/api/docs/
Web admin          {origin}/admin/   {admin}   password {secret("password")}
Members' files     {FOLDER / "files"}
Tokens             {FOLDER / "co-op-token"}, {FOLDER / "farm-token"} (of {first.code})

curl -H "Authorization: Bearer {staff}" \\
     "{origin}/api/v1/season-summaries?level=member&season={cast.as_of.year}"
"""
        )


def secret(name: str) -> str:
    """A random secret of this checkout's demo, made at the first run and kept."""
    path = FOLDER / name
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(9))
    return path.read_text()


def token(name: str, scopes: list[str], **owner: Any) -> str:
    """An app's token, kept in a file: the one of the first run, while it lasts."""
    path = FOLDER / name
    usable = Token.objects.usable(timezone.now()).filter(name=name, **owner)
    if not path.exists() or not usable.exists():
        expires_at = timezone.now() + dt.timedelta(days=365)
        made = Token(name=name, scopes=scopes, expires_at=expires_at, **owner)
        issued = made.issue()
        made.save(force_insert=True)
        path.touch(mode=0o600)
        path.write_text(issued)
    return path.read_text()


def wait_for_jobs(group: ProcessGroup) -> None:
    """Until the worker has done all there is to do."""
    deadline = time.monotonic() + PATIENCE_S
    while open_jobs().exists():
        group.check()
        if time.monotonic() > deadline:
            raise CommandError(f"Jobs are still open after {PATIENCE_S} s: {names(open_jobs())}.")
        time.sleep(0.2)


def open_jobs() -> Any:
    """Jobs that are due or running, or that gave up."""
    unfinished = Q(state__in=[JobState.WAITING, JobState.RUNNING])
    return Job.objects.filter(unfinished)


def names(jobs: Iterable[Job]) -> str:
    return ", ".join(f"{job.kind} ({job.error or job.state})" for job in jobs)
