"""Brings a member's file in from the command line, by the service that the API uses."""

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from records.choices import (
    DateOrder,
    DecimalMark,
    Delimiter,
    ImportKind,
    ImportState,
    OnProblem,
    WeightUnit,
)
from records.importing import load
from records.models import Farm, HarvestImport, ImportProblem
from records.services import imports

NO_SUCCESS = frozenset({ImportState.REFUSED, ImportState.QUESTION, ImportState.FAILED})


class Command(BaseCommand):
    help = "Import a farm's file (CSV, TSV, XLSX or ODS) of weighings, or of another kind."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--farm", required=True, metavar="CODE")
        parser.add_argument("--kind", default=ImportKind.HARVEST_WEIGHTS, choices=ImportKind.values)
        parser.add_argument("--series", default=None, help="what newer files replace it under")
        parser.add_argument("--decimal-mark", default="", choices=DecimalMark.values)
        parser.add_argument("--date-order", default="", choices=DateOrder.values)
        parser.add_argument("--unit", default="", choices=WeightUnit.values)
        parser.add_argument("--encoding", default="")
        parser.add_argument(
            "--delimiter", default="", type=_delimiter, metavar="MARK", help=", ; tab or |"
        )
        parser.add_argument("--sheet", default="")
        parser.add_argument("--dry-run", action="store_true")
        parser.add_argument("--on-problem", default=OnProblem.REJECT, choices=OnProblem.values)

    def handle(self, *, file: Path, farm: str, **options: Any) -> None:
        try:
            content = file.read_bytes()
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from None
        received = imports.receive(
            farm=_farm(farm),
            file_name=file.name,
            content=content,
            **_said(options),
        )
        self._bring_in(received)
        self._report(received)
        if _failed(received):
            raise SystemExit(1)

    def _bring_in(self, received: HarvestImport) -> None:
        try:
            load.run(received.pk, by="import_harvest")
        except Exception:
            load.give_up(received.pk)
            raise
        received.refresh_from_db()

    def _report(self, received: HarvestImport) -> None:
        self.stdout.write(f"{received.state}: {received.explanation}")
        for question in received.questions:
            self.stdout.write(f"  {question['setting']}: {question['detail']}")
        for problem in ImportProblem.objects.filter(harvest_import=received).order_by("row", "pk"):
            kind = "warning" if problem.is_warning else "refused"
            value = f" {problem.value!r}" if problem.value else ""
            where = f"row {problem.row}, {problem.column}{value}" if problem.row else "file"
            self.stdout.write(f"  {kind} {where}: {problem.detail}")


def _said(options: dict[str, Any]) -> dict[str, Any]:
    """What was said of the file; its kind has a usual series."""
    names = ("kind", "series", *imports.OPTIONS)
    return {name: options[name] for name in names if options.get(name) is not None}


def _delimiter(text: str) -> str:
    delimiter = "\t" if text == "tab" else text
    if delimiter and delimiter not in Delimiter.values:
        raise argparse.ArgumentTypeError("a comma, a semicolon, tab or | is needed")
    return delimiter


def _farm(code: str) -> Farm:
    farm = Farm.objects.filter(code=code).first()
    if farm is None:
        raise CommandError(f"There is no farm with the code {code}.")
    return farm


def _failed(received: HarvestImport) -> bool:
    """Whether anything stood, or would stand, in the way of landing."""
    rejected = bool(received.rows_refused) and received.on_problem == OnProblem.REJECT
    return received.state in NO_SUCCESS or rejected
