"""An import from receipt to landing: read, gather, check, compare, land.

Reading and gathering are committed batch by batch, with the progress. All the rest is one
transaction, so that an import lands whole or not at all and can be started again at any time.
"""

import datetime as dt
import logging
from functools import partial
from typing import Any
from uuid import UUID, uuid4

import pghistory
from django.db import transaction
from django.utils import timezone

from orchard import clock
from records.choices import ImportKind, ImportState, OnProblem
from records.importing import (
    checks,
    comparing,
    landing,
    lookups,
    places,
    replacing,
    staging,
)
from records.importing.kinds import KINDS
from records.importing.outcomes import Counts, count, differing_totals, explain, found, questions
from records.importing.reading import Reading, Settings, read_as
from records.importing.recording.ground import words_of
from records.importing.recording.settling import settle
from records.importing.replacing import Proposal, Replacement
from records.importing.rows import RowProblem
from records.importing.sheets import FileRefused
from records.importing.staging import Staged, SupersededError
from records.models import (
    FileLayout,
    HarvestImport,
    ImportFile,
    ImportProblem,
    ProposedChange,
)
from records.services import jobs
from records.services.imports import UNDER_WAY, lock_imports, remember_answers

logger = logging.getLogger(__name__)


def run(import_id: UUID, *, by: str = "") -> None:
    """Bring an import to its outcome, unless it has one. Harmless if run twice, or twice at once.

    `by` is who sent it, for the audit history.
    """
    with pghistory.context(harvest_import=str(import_id), **({"by": by} if by else {})):
        attempt = _begin(import_id)
        if attempt is None:
            return
        try:
            _bring_in(import_id, attempt)
        except SupersededError:
            logger.info("Import %s was taken over or deleted while it was read", import_id)


@transaction.atomic
def give_up(import_id: UUID) -> None:
    """After the last attempt: say so, and let the sender start again."""
    under_way = HarvestImport.objects.filter(pk=import_id, state__in=UNDER_WAY)
    harvest_import = under_way.select_for_update().first()
    if harvest_import is not None:
        harvest_import.explanation = (
            "The file could not be brought in because of a fault on our side, and nothing was "
            "written. Start the import again later."
        )
        _close(harvest_import, ImportState.FAILED)


@transaction.atomic
def _begin(import_id: UUID) -> UUID | None:
    """Make the reading ours and forget what an earlier one left; None if there is none to do."""
    under_way = HarvestImport.objects.filter(pk=import_id, state__in=UNDER_WAY)
    harvest_import = under_way.select_for_update().first()
    if harvest_import is None:
        return None
    harvest_import.state = ImportState.READING
    harvest_import.save()
    attempt = uuid4()
    ImportFile.objects.filter(pk=import_id).update(attempt=attempt, progress=0)
    staging.clear(import_id)
    ImportProblem.objects.filter(harvest_import=import_id).delete()
    ProposedChange.objects.filter(harvest_import=import_id).delete()
    return attempt


def _bring_in(import_id: UUID, attempt: UUID) -> None:
    harvest_import = HarvestImport.objects.select_related("farm").get(pk=import_id)
    try:
        reading = _read(harvest_import)
        if not reading.is_ready:
            _ask(import_id, attempt, reading)
        elif harvest_import.kind != ImportKind.HARVEST_WEIGHTS:
            _record(import_id, attempt, reading)
        else:
            staging.gather(harvest_import, attempt, reading.rows(), reading.row_count)
            _settle(import_id, attempt, reading)
    except FileRefused as refusal:
        _refuse_file(import_id, attempt, refusal)


# Reading -----------------------------------------------------------------------------------------


def _read(harvest_import: HarvestImport) -> Reading[Any]:
    content = bytes(ImportFile.objects.get(pk=harvest_import.pk).content)
    today = clock.today(harvest_import.farm.time_zone)
    kind = KINDS[harvest_import.kind]
    settings = _settings(harvest_import)
    reading = read_as(kind, content, harvest_import.file_name, settings, today)
    if reading.row_count == 0:
        raise FileRefused("no-rows", "There are headings but no rows below them.")
    if reading.columns.missing and not reading.columns.unused:
        needed = "; ".join(" or ".join(names) for names in reading.columns.missing)
        raise FileRefused("missing-column", f"The sheet has no column for: {needed}.")
    return reading


def _settings(harvest_import: HarvestImport) -> Settings:
    """What the sender said, over what is kept for the series, over what is kept for the farm."""
    farm, series = harvest_import.farm, harvest_import.series
    layouts = FileLayout.objects.filter(farm=farm, kind=harvest_import.kind, series=series)
    kept = layouts.first() or FileLayout()
    mark: Any = harvest_import.decimal_mark or None
    order: Any = harvest_import.date_order or None
    saved_mark: Any = kept.decimal_mark or farm.decimal_mark or None
    saved_order: Any = kept.date_order or farm.date_order or None
    return Settings(
        encoding=harvest_import.encoding or None,
        delimiter=harvest_import.delimiter or None,
        sheet=harvest_import.sheet or None,
        decimal_mark=mark,
        date_order=order,
        unit=harvest_import.unit or None,
        mapping={**kept.mapping, **harvest_import.mapping},
        known=words_of(harvest_import, KINDS[harvest_import.kind].file.spread),
        saved_decimal_mark=saved_mark,
        saved_date_order=saved_order,
        saved_unit=kept.unit or farm.weight_unit or None,
    )


# Outcomes, each one transaction ------------------------------------------------------------------


@transaction.atomic
def _refuse_file(import_id: UUID, attempt: UUID, refusal: FileRefused) -> None:
    harvest_import = _ours(import_id, attempt)
    ImportProblem.objects.filter(harvest_import=harvest_import).delete()
    problem = RowProblem(row=0, column="", code=refusal.code, value="", detail=refusal.detail)
    staging.note_problems(harvest_import, [problem])
    harvest_import.explanation = refusal.detail
    _close(harvest_import, ImportState.REFUSED)


@transaction.atomic
def _ask(import_id: UUID, attempt: UUID, reading: Reading) -> None:
    harvest_import = _ours(import_id, attempt)
    harvest_import.found = found(reading)
    harvest_import.questions = questions(reading)
    harvest_import.explanation = "Answer the questions and the import goes on; nothing is guessed."
    _close(harvest_import, ImportState.QUESTION)


@transaction.atomic
def _settle(import_id: UUID, attempt: UUID, reading: Reading) -> None:
    """Check and compare all rows, then land them if that is what is to happen."""
    harvest_import = _ours(import_id, attempt)
    lock_imports(harvest_import.farm_id)
    staged = Staged.of(harvest_import, reading.pages)
    replaced = replacing.replacement(staged, reading.today)
    compare(staged, replaced)
    counts = count(staged, rows_read=reading.row_count)
    proposal = _propose(staged, replaced, counts)
    state = _outcome(harvest_import, counts, proposal)
    if state == ImportState.LANDED:
        _land(staged, replaced, reading.today)
    counts.note(harvest_import, state, proposal)
    harvest_import.found = found(reading, differing_totals(harvest_import), replaced)
    harvest_import.explanation = explain(harvest_import, state, counts, proposal)
    _note_shown(harvest_import, state, proposal)
    _close(harvest_import, state)


@transaction.atomic
def _record(import_id: UUID, attempt: UUID, reading: Reading[Any]) -> None:
    """Save the rows of any other kind of file, if that is what is to happen."""
    harvest_import = _ours(import_id, attempt)
    lock_imports(harvest_import.farm_id)
    counts, state = settle(harvest_import, reading, partial(_outcome, harvest_import))
    if state == ImportState.LANDED:
        _follow(harvest_import)
    counts.note(harvest_import, state)
    harvest_import.found = found(reading, differing_totals(harvest_import))
    harvest_import.explanation = explain(harvest_import, state, counts)
    _close(harvest_import, state)


def compare(staged: Staged, replaced: Replacement | None = None) -> None:
    """Everything up to the first write: what rows mean, what is wrong, what is new or changed."""
    if replaced:
        replacing.hold(staged, replaced)
    staged.analyse()
    lookups.look_up_words(staged)
    places.find_trees(staged)
    places.find_crops(staged)
    by_line = comparing.has_lines(staged)
    checks.check_rows(staged, by_line=by_line)
    comparing.match(staged, by_line=by_line)
    staged.analyse()
    checks.check_outcome(staged)
    if replaced:
        replacing.check_rows(staged, replaced)
    comparing.classify(staged)


def _propose(staged: Staged, replaced: Replacement | None, counts: Counts) -> Proposal | None:
    """What a replacement would change, unless a refused row leaves that open."""
    if counts.refused or not staged.harvest_import.replaces:
        return None
    if replaced is None:
        raise FileRefused(
            "no-rows",
            "The file has no weighing. Say the days that it replaces: replaces_from, "
            "replaces_until.",
        )
    return replacing.propose(staged, replaced)


def _outcome(
    harvest_import: HarvestImport, counts: Counts, proposal: Proposal | None = None
) -> ImportState:
    """A replacement lands only as it was shown to its sender."""
    if harvest_import.dry_run:
        return ImportState.CHECKED
    if counts.refused and harvest_import.on_problem == OnProblem.REJECT:
        return ImportState.REFUSED
    if proposal and proposal.digest != harvest_import.shown:
        return ImportState.CHECKED
    return ImportState.LANDED


def _land(staged: Staged, replaced: Replacement | None, today: dt.date) -> None:
    landing.land(staged)
    if replaced:
        replacing.retire(staged, today)
    _follow(staged.harvest_import)


def _follow(harvest_import: HarvestImport) -> None:
    if harvest_import.remember:
        remember_answers(harvest_import)
    jobs.wake()


def _note_shown(
    harvest_import: HarvestImport, state: ImportState, proposal: Proposal | None
) -> None:
    """From now on a dry run, so that the sender must say that it is to land."""
    if proposal and state == ImportState.CHECKED:
        harvest_import.shown = proposal.digest
        harvest_import.dry_run = True


def _ours(import_id: UUID, attempt: UUID) -> HarvestImport:
    """The import, locked; SupersededError if another reading took it over."""
    rows = HarvestImport.objects.filter(pk=import_id, state=ImportState.READING)
    harvest_import: HarvestImport | None = rows.select_for_update().first()
    if harvest_import is None:
        raise SupersededError
    staging.note_progress(harvest_import, attempt, staging.READING_PERCENT)
    return harvest_import


def _close(harvest_import: HarvestImport, state: ImportState) -> None:
    harvest_import.state = state
    harvest_import.finished_at = timezone.now()
    harvest_import.save()
    ImportFile.objects.filter(pk=harvest_import.pk).update(progress=100, attempt=None)
    staging.clear(harvest_import.pk)
