"""A file of any kind but weighings, from its rows to what became of them."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import prefetch_related_objects

from records.choices import ImportState
from records.importing import staging
from records.importing.cells import Fault
from records.importing.outcomes import Counts
from records.importing.pages import Page
from records.importing.reading import Reading
from records.importing.recording import RECORDINGS
from records.importing.recording.drafts import Draft
from records.importing.recording.ground import Ground
from records.importing.recording.known import Keys, Stored, sent_of
from records.importing.recording.seeking import Seeker
from records.importing.recording.writing import added, blame, changed, differing
from records.importing.rows import RowProblem
from records.importing.sheets import FileRefused
from records.models import HarvestImport, ImportedRecord
from records.services.snapshots import names_below, taken_of

MAX_ROWS = 20_000
CORRECTED = Fault(
    "correction-kept",
    "The record was corrected since; the row says what it said before, so that stays.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A row that names nothing unknown, and what it is to become."""

    seek: Seeker
    draft: Draft
    key: str


class Written(NamedTuple):
    """A record of the import's, as it was before if it was there, and the row's hash."""

    record: Any
    before: dict[str, Any] | None
    sent: str


def settle(
    harvest_import: HarvestImport,
    reading: Reading[Any],
    decide: Callable[[Counts], ImportState],
) -> tuple[Counts, ImportState]:
    """Save what the rows say, and leave it saved if `decide` has the import land.

    FileRefused if there are more rows than are saved one by one.
    """
    if reading.row_count > MAX_ROWS:
        detail = f"The file has {reading.row_count:,} rows. Send it in parts of {MAX_ROWS:,}."
        raise FileRefused("too-many-rows", detail)
    settling = Settling(harvest_import, reading.pages)
    with transaction.atomic():
        settling.save(reading.rows())
        counts = settling.counts(reading.row_count)
        state = decide(counts)
        if state == ImportState.LANDED:
            settling.note_written()
        else:
            transaction.set_rollback(True)
    staging.note_problems(harvest_import, settling.problems)
    staging.note_problems(harvest_import, settling.warnings, is_warning=True)
    return counts, state


class Settling:
    """One import's rows on their way into the records."""

    def __init__(self, harvest_import: HarvestImport, pages: Sequence[Page]) -> None:
        self.harvest_import = harvest_import
        self.recording = RECORDINGS[harvest_import.kind]
        self.problems: list[RowProblem] = []
        self.warnings: list[RowProblem] = []
        self.written: list[Written] = []
        self.kept: list[tuple[Seeker, Any]] = []  # rows and their records, for what is odd in them
        self._ground = Ground(harvest_import)
        self._keys = Keys(harvest_import, self.recording)
        self._said = {page.sheet.name: page.said for page in pages}
        self._headings = {page.sheet.name: _headings(page) for page in pages}

    def save(self, rows: Iterable[Any]) -> None:
        entries = [entry for row in rows if (entry := self._entry(row))]
        stored = Stored(self.harvest_import, self.recording, [entry.key for entry in entries])
        for entry in entries:
            self._save(entry, stored)
        self._look_for_oddities()

    def counts(self, rows_read: int) -> Counts:
        new = sum(written.before is None for written in self.written)
        return Counts(
            read=rows_read,
            added=new,
            changed=len(self.written) - new,
            unchanged=len(self.kept) - len(self.written),
            refused=_rows(self.problems),
            warned=_rows(self.warnings),
        )

    def note_written(self) -> None:
        """Leave behind what is needed to take the import back."""
        model = self.recording.model
        keys = [written.record.pk for written in self.written]
        versions = dict(model.objects.filter(pk__in=keys).values_list("pk", "version"))
        ImportedRecord.objects.bulk_create(
            ImportedRecord(
                farm=self.harvest_import.farm,
                harvest_import=self.harvest_import,
                record_id=record.pk,
                landed_version=versions[record.pk],
                before=before,
                sent=sent,
            )
            for record, before, sent in self.written
        )

    # One row ------------------------------------------------------------------------------------

    def _entry(self, row: Any) -> Entry | None:
        if isinstance(row, RowProblem):
            self.problems.append(row)
            return None
        seek = Seeker(self._ground, row, self._headings[row.sheet])
        seek.check_farm()
        draft = self.recording.draft(seek)
        self._check_day(seek, draft)
        key, before = self._keys.next(draft) if not seek.problems else ("", 0)
        if before and self.recording.only_one:
            detail = "An earlier row of the file says the same day of the same station."
            seek.blame(Fault("row-repeated", detail), self.recording.only_one)
        self.problems += seek.problems
        return None if seek.problems else Entry(seek=seek, draft=draft, key=key)

    def _check_day(self, seek: Seeker, draft: Draft) -> None:
        if dated_by := self.recording.model.dated_by:
            seek.check_day(draft.facts[dated_by], dated_by)

    def _save(self, entry: Entry, stored: Stored) -> None:
        record = stored.by_key.get(entry.key)
        try:
            if record is None:
                self._add(entry)
            else:
                self._change(entry, record, stored)
        except ValidationError as error:
            blame(entry.seek, self.recording, error)
            self.problems += entry.seek.problems

    def _add(self, entry: Entry) -> None:
        ours = self.harvest_import
        stamps = {
            "harvest_import": ours,
            "import_key": entry.key,
            "created_by_id": ours.created_by_id,
            "farm": ours.farm,
        }
        record = added(entry.draft, self.recording, **stamps)
        self._note(entry, Written(record, None, sent_of(entry.seek.row)))

    def _change(self, entry: Entry, record: Any, stored: Stored) -> None:
        sent = sent_of(entry.seek.row)
        said = self._said[entry.seek.row.sheet]
        facts, below = differing(record, entry.draft, said, self.recording)
        is_back = record.retired_on is not None
        if (facts or below) and not is_back and stored.said_before(record, sent):
            entry.seek.warn(CORRECTED)
            facts = below = {}
        if not (facts or below or is_back):
            self.kept.append((entry.seek, record))
            return
        self._check_stored_day(entry, record)
        before = taken_of(record)
        ours = {"harvest_import": self.harvest_import, "retired_on": None}
        self._note(entry, Written(changed(record, facts, below, **ours), before, sent))

    def _check_stored_day(self, entry: Entry, record: Any) -> None:
        dated_by = self.recording.model.dated_by
        if dated_by and not self._ground.may_write(getattr(record, dated_by)):
            told = "The stored record is of a day when the co-op might not write it."
            raise ValidationError({dated_by: ValidationError(told, "outside-membership")})

    def _note(self, entry: Entry, written: Written) -> None:
        self.written.append(written)
        self.kept.append((entry.seek, written.record))

    def _look_for_oddities(self) -> None:
        """What the API tells as warnings of a record, and what was odd in naming it."""
        records = [record for _, record in self.kept]
        prefetch_related_objects(records, *names_below(self.recording.model))
        for seek, record in self.kept:
            for told in record.warnings:
                columns = self.recording.columns(told["pointer"].removeprefix("/"))
                seek.warn(Fault(told["code"], told["detail"]), *columns)
            self.warnings += seek.warnings


def _headings(page: Page) -> Mapping[str, str]:
    """How the sheet calls its columns: the first heading of each."""
    found: dict[str, str] = {}
    for heading in (*page.columns.used, *page.supplied):
        found.setdefault(heading.column.name, heading.text)
    return found


def _rows(problems: Iterable[RowProblem]) -> int:
    return len({(problem.sheet, problem.row) for problem in problems})
