"""A workbook stored, all of it or nothing; a dry run does the same and takes it back."""

from collections.abc import Callable
from dataclasses import dataclass

import pghistory
from django.db import connection, transaction

from orchard import clock
from orchard.access import Area, Caller
from records.importing.farm_workbooks import people, places, trees
from records.importing.farm_workbooks.reading import Entry, Problem, read_book
from records.importing.farm_workbooks.run import Run
from records.models import Invitation

MAX_BYTES = 10 * 2**20  # 20,000 trees one by one are some 2 MB


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOutcome:
    sheet: str
    created: int
    changed: int
    unchanged: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was stored, or would be. Invitations come with their links, unless it is a dry run."""

    state: str  # checked, loaded or refused
    sheets: list[SheetOutcome]
    problems: list[Problem]
    invited: list[tuple[Invitation, str]]


def may_load(caller: Caller) -> bool:
    """Whether there is any farm that the caller may set up: people only, never apps."""
    return caller.may_ever("writes", Area.PEOPLE)


ROW_BY_ROW: dict[str, Callable[[Run, Entry], None]] = {
    "farms": places.load_farm,
    "memberships": places.load_membership,
    "cultivars": places.load_cultivar,
    "blocks": places.load_block,
    "planting lines": places.load_planting_line,
}


def load(content: bytes, file_name: str, *, caller: Caller, dry_run: bool) -> Outcome:
    """Load a workbook. FileRefused if the file as a whole cannot be read."""
    book = read_book(content, file_name, clock.today("UTC"))
    with transaction.atomic(), pghistory.context(farm_workbook=file_name):
        _one_at_a_time()
        run = Run(book=book, caller=caller)
        for kind, load_row in ROW_BY_ROW.items():
            for entry in book.entries[kind]:
                load_row(run, entry)
        trees.load_trees(run, book.entries["trees"])
        for entry in book.entries["people"]:
            people.load_person(run, entry)
        if dry_run or run.is_refused:
            transaction.set_rollback(True)
    return _outcome(run, dry_run=dry_run)


def _one_at_a_time() -> None:
    """The same workbook sent twice at once is loaded once, and then found unchanged."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended('farm workbooks', 0))")


def _outcome(run: Run, *, dry_run: bool) -> Outcome:
    state = "checked" if dry_run else "refused" if run.is_refused else "loaded"
    return Outcome(
        state=state,
        sheets=[
            SheetOutcome(
                sheet=kind,
                created=made["created"],
                changed=made["changed"],
                unchanged=made["unchanged"],
            )
            for kind, made in run.made.items()
            if run.book.entries[kind]
        ],
        problems=sorted(run.problems, key=lambda each: (each.is_warning, each.sheet, each.row)),
        invited=run.invited if state == "loaded" else [],
    )
