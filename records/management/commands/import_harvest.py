"""Brings a member's files in from the command line, by the service that the API uses."""

import argparse
from collections.abc import Iterable, Iterator
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
from records.importing.archives import SendingRefused, SentFile, SingleFile, take_apart
from records.models import CoOp, Farm, HarvestImport, ImportProblem
from records.services import imports

NO_SUCCESS = frozenset(
    {ImportState.REFUSED, ImportState.QUESTION, ImportState.FAILED, ImportState.STOPPED}
)


class Command(BaseCommand):
    help = (
        "Import files of a farm, or of a co-op's members (CSV, TSV, XLSX, ODS, or ZIPs of such "
        "files), of one kind."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("files", type=Path, nargs="+", metavar="file")
        whose = parser.add_mutually_exclusive_group(required=True)
        whose.add_argument("--farm", metavar="CODE")
        whose.add_argument("--co-op", metavar="CODE", help="whose members the rows name")
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

    def handle(
        self, *, files: list[Path], farm: str | None, co_op: str | None, **options: Any
    ) -> None:
        chosen = _said(options)
        chosen |= {"farm": _farm(farm)} if farm else {"co_op": _co_op(co_op)}
        singles = list(self._meant(_single_files(files)))
        outcomes = [self._import(single, chosen, len(singles)) for single in singles]
        if any(map(_failed, outcomes)):
            raise SystemExit(1)

    def _meant(self, singles: Iterable[SingleFile]) -> Iterator[SingleFile]:
        for single in singles:
            if single.ignored:
                self.stdout.write(f"ignored: {single.path}: {single.ignored}")
            else:
                yield single

    def _import(self, single: SingleFile, options: dict[str, Any], of_many: int) -> HarvestImport:
        received = imports.receive(file_name=single.name, content=single.content, **options)
        self._bring_in(received)
        if of_many > 1:
            self.stdout.write(single.path)
        self._report(received)
        return received

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


def _single_files(paths: list[Path]) -> list[SingleFile]:
    try:
        sent = [SentFile(name=path.name, content=path.read_bytes()) for path in paths]
        return take_apart(sent)
    except OSError as error:
        raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from None
    except SendingRefused as refusal:
        raise CommandError(" ".join(fault.detail for fault in refusal.faults)) from None


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


def _co_op(code: str | None) -> CoOp:
    co_op = CoOp.objects.filter(code=code).first()
    if co_op is None:
        raise CommandError(f"There is no co-op with the code {code}.")
    return co_op


def _failed(received: HarvestImport) -> bool:
    """Whether anything stood, or would stand, in the way of landing."""
    rejected = bool(received.rows_refused) and received.on_problem == OnProblem.REJECT
    return received.state in NO_SUCCESS or rejected
