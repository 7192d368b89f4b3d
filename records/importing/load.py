"""An import from receipt to landing: read, gather, check, compare, land.

Reading and gathering are committed batch by batch, with the progress. All the rest is one
transaction for a file of no more than a step, so that it lands whole or not at all. A larger file
passes all of its checks in one and then lands step by step (`steps`). Either way an import can be
started again at any time.
"""

import datetime as dt
import logging
from functools import partial
from typing import Any
from uuid import UUID, uuid4

import pghistory
from django.db import IntegrityError, transaction
from django.utils import timezone

from orchard import clock
from records.choices import ImportKind, ImportState, OnProblem
from records.importing import (
    checks,
    comparing,
    landing,
    lookups,
    ownfarms,
    places,
    repeats,
    replacing,
    staging,
    steps,
)
from records.importing.answers import settings_for
from records.importing.contents import Content
from records.importing.kinds import KINDS
from records.importing.outcomes import Counts, count, differing_totals, explain, found, questions
from records.importing.plainrows import copied
from records.importing.reading import Reading, read_as
from records.importing.recording.settling import settle
from records.importing.replacing import Proposal, Replacement
from records.importing.rows import RowProblem
from records.importing.sheets import FileRefused
from records.importing.staging import Staged, SupersededError
from records.models import (
    HarvestImport,
    ImportFile,
    ImportProblem,
    ProposedChange,
)
from records.services import file_parts, jobs
from records.services.imports import (
    UNDER_WAY,
    imports_locked,
    remember_answers,
)

logger = logging.getLogger(__name__)

# Members of a co-op may live in several zones: a day that has begun in any of them is no future.
LATEST_ZONE = "Pacific/Kiritimati"


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
        steps.stop(harvest_import, "a fault on our side kept it from going on")


@transaction.atomic
def _begin(import_id: UUID) -> UUID | None:
    """Make the reading ours and forget what an earlier one left; None if there is none to do.

    One that was landing stays so, with all that was told of it.
    """
    under_way = HarvestImport.objects.filter(pk=import_id, state__in=UNDER_WAY)
    harvest_import = under_way.select_for_update().first()
    if harvest_import is None:
        return None
    attempt = uuid4()
    files = ImportFile.objects.filter(pk=import_id)
    staging.clear(import_id)
    if harvest_import.state == ImportState.LANDING:
        files.update(attempt=attempt)
        return attempt
    harvest_import.state = ImportState.READING
    harvest_import.save()
    files.update(attempt=attempt, progress=0)
    ImportProblem.objects.filter(harvest_import=import_id).delete()
    ProposedChange.objects.filter(harvest_import=import_id).delete()
    return attempt


def _bring_in(import_id: UUID, attempt: UUID) -> None:
    harvest_import = HarvestImport.objects.select_related("farm").get(pk=import_id)
    if repeats.answered(harvest_import, partial(_ours, import_id, attempt), _close):
        return
    try:
        with file_parts.on_disk(import_id) as path:
            reading = _read(harvest_import, Content.at(path))
            if not reading.is_ready:
                _ask(import_id, attempt, reading)
            elif harvest_import.kind != ImportKind.HARVEST_WEIGHTS:
                with imports_locked([harvest_import.farm_id]):
                    _record(import_id, attempt, reading)
            else:
                _weigh(harvest_import, attempt, reading)
    except FileRefused as refusal:
        _refuse_file(import_id, attempt, refusal)


def _weigh(harvest_import: HarvestImport, attempt: UUID, reading: Reading[Any]) -> None:
    told = steps.last_problem(harvest_import)
    staging.gather(harvest_import, attempt, copied(reading), reading.row_count)
    staged = Staged.of(harvest_import, reading.pages)
    if harvest_import.farm_id is None:
        _find_farms(staged, attempt)
    with imports_locked(ownfarms.farms_in(staged)):
        if harvest_import.state == ImportState.LANDING:
            state = _settle_rest(staged, attempt, told)
        else:
            state = _settle(harvest_import.pk, attempt, reading)
        if state == ImportState.LANDING:
            _land_in_steps(staged, attempt)


# Reading -----------------------------------------------------------------------------------------


def _read(harvest_import: HarvestImport, content: Content) -> Reading[Any]:
    today = clock.today(harvest_import.farm.time_zone if harvest_import.farm else LATEST_ZONE)
    kind = KINDS[harvest_import.kind]
    settings = settings_for(harvest_import)
    reading = read_as(kind, content, harvest_import.file_name, settings, today)
    if reading.row_count == 0:
        raise FileRefused("no-rows", "There are headings but no rows below them.")
    if reading.columns.missing and not reading.columns.unused:
        needed = "; ".join(" or ".join(names) for names in reading.columns.missing)
        raise FileRefused("missing-column", f"The sheet has no column for: {needed}.")
    return reading


# Outcomes, each one transaction ------------------------------------------------------------------


@transaction.atomic
def _refuse_file(import_id: UUID, attempt: UUID, refusal: FileRefused) -> None:
    harvest_import = _ours(import_id, attempt)
    if harvest_import.state == ImportState.LANDING:
        steps.stop(harvest_import, f"the file could not be read again: {refusal.detail}")
        return
    ImportProblem.objects.filter(harvest_import=harvest_import).delete()
    problem = RowProblem(row=0, column="", code=refusal.code, value="", detail=refusal.detail)
    staging.note_problems(harvest_import, [problem])
    harvest_import.explanation = refusal.detail
    _close(harvest_import, ImportState.REFUSED)


@transaction.atomic
def _ask(import_id: UUID, attempt: UUID, reading: Reading) -> None:
    harvest_import = _ours(import_id, attempt)
    if harvest_import.state == ImportState.LANDING:
        steps.stop(harvest_import, "the file is not understood any more as it was before")
        return
    harvest_import.found = found(reading)
    harvest_import.questions = questions(reading)
    harvest_import.explanation = "Answer the questions and the import goes on; nothing is guessed."
    _close(harvest_import, ImportState.QUESTION)


@transaction.atomic
def _find_farms(staged: Staged, attempt: UUID) -> None:
    _ours(staged.harvest_import.pk, attempt)
    ownfarms.find_farms(staged)


@transaction.atomic
def _settle(import_id: UUID, attempt: UUID, reading: Reading) -> ImportState:
    """Check and compare all rows, then land them if that is what is to happen.

    More of them than a step has are left `landing`.
    """
    harvest_import = _ours(import_id, attempt)
    staged = Staged.of(harvest_import, reading.pages)
    replaced = replacing.replacement(staged, reading.today)
    compare(staged, replaced)
    counts = count(staged, rows_read=reading.row_count)
    proposal = _propose(staged, replaced, counts)
    state = _outcome(harvest_import, counts, proposal)
    if state == ImportState.LANDED and not replaced and counts.written > steps.STEP:
        state = ImportState.LANDING
    if state == ImportState.LANDED:
        _land(staged, replaced, reading.today)
        counts = count(staged, rows_read=reading.row_count)
    counts.note(harvest_import, state, proposal)
    harvest_import.found = found(reading, differing_totals(harvest_import), replaced)
    harvest_import.explanation = explain(harvest_import, state, counts, proposal)
    _note_shown(harvest_import, state, proposal)
    if state == ImportState.LANDING:
        steps.begin(harvest_import)
    else:
        _close(harvest_import, state)
    return state


@transaction.atomic
def _settle_rest(staged: Staged, attempt: UUID, told: int) -> ImportState:
    """Check and compare anew what has not landed yet of an import that was landing."""
    harvest_import = _ours(staged.harvest_import.pk, attempt)
    compare(staged)
    if steps.take_stock(staged, harvest_import, told):
        return ImportState.LANDING
    steps.stop(harvest_import, "rows that passed before are refused now")
    return ImportState.STOPPED


def _land_in_steps(staged: Staged, attempt: UUID) -> None:
    ours = partial(_ours, staged.harvest_import.pk, attempt)
    try:
        while steps.land_next(staged, ours):
            pass
        _finish(staged, attempt)
    except IntegrityError:
        logger.exception("Import %s cannot go on", staged.harvest_import.pk)
        _stop(staged, attempt)


@transaction.atomic
def _stop(staged: Staged, attempt: UUID) -> None:
    harvest_import = _ours(staged.harvest_import.pk, attempt)
    steps.stop(harvest_import, "something that rows name was deleted meanwhile")


@transaction.atomic
def _finish(staged: Staged, attempt: UUID) -> None:
    harvest_import = _ours(staged.harvest_import.pk, attempt)
    counts = steps.counts_of(harvest_import, is_wide=bool(staged.over))
    counts.note(harvest_import, ImportState.LANDED)
    harvest_import.explanation = explain(harvest_import, ImportState.LANDED, counts)
    _follow(harvest_import)
    _close(harvest_import, ImportState.LANDED)


@transaction.atomic
def _record(import_id: UUID, attempt: UUID, reading: Reading[Any]) -> None:
    """Save the rows of any other kind of file, if that is what is to happen."""
    harvest_import = _ours(import_id, attempt)
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
    landing.land(staged, landing.ALL)
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
    at_work = [ImportState.READING, ImportState.LANDING]
    rows = HarvestImport.objects.filter(pk=import_id, state__in=at_work)
    harvest_import: HarvestImport | None = rows.select_for_update().first()
    if harvest_import is None:
        raise SupersededError
    staging.require_ours(harvest_import, attempt)
    return harvest_import


def _close(harvest_import: HarvestImport, state: ImportState) -> None:
    harvest_import.state = state
    harvest_import.finished_at = timezone.now()
    harvest_import.save()
    ImportFile.objects.filter(pk=harvest_import.pk).update(progress=100, attempt=None)
    staging.clear(harvest_import.pk)
