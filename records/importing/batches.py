"""Several files or a ZIP sent in one step: each is matched to a farm and started as an import.

A file of which it is not certain whose it is waits with its bytes until a person says so.
"""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from orchard.access import Area, Caller
from records.choices import BatchFileState, ImportState
from records.importing.archives import SentFile, SingleFile, take_apart
from records.importing.filenames import KnownFarm, Match, Matcher, pattern_of
from records.models import BatchFile, CoOp, Farm, FileBatch, HarvestImport, Membership
from records.services.imports import ImportConflictError, start_import
from records.services.saving import fault

OPTIONS = ("series", "dry_run", "on_problem")
EARLIER = dt.timedelta(days=400)  # names of files that landed longer ago tell nothing any more
MAX_CANDIDATES = 50
ROWS_AT_ONCE = 50  # with the bytes of those that wait


def send(
    *,
    files: Sequence[SentFile],
    caller: Caller,
    co_op: CoOp | None = None,
    **options: Any,
) -> FileBatch:
    """Take files in, match each to a farm and start the imports. SendingRefused, all or nothing."""
    singles = take_apart(files)
    with transaction.atomic():
        batch = FileBatch(
            co_op_id=co_op.pk if co_op else _only_co_op(caller),
            created_by_id=caller.person_id,
            created_by_token_id=caller.token_id,
            **options,
        )
        batch.save(force_insert=True)
        _take_in(batch, singles, caller)
    return batch


@transaction.atomic
def answer(waiting: BatchFile, *, farm: Farm, caller: Caller) -> BatchFile:
    """Start the import of a file whose farm a person named.

    ImportConflictError if it waits no more, PermissionDenied where the caller may not send.
    """
    file = _locked(waiting)
    if not _sendable(caller).filter(pk=farm.pk).exists():
        raise PermissionDenied(f"You may not send files for {farm.code}.")
    if not _of_batch(Farm.objects.filter(pk=farm.pk), file.batch.co_op_id).exists():
        raise fault("farm", "This farm is no member of the co-op of these files.", "no-member")
    if file.farm_id == farm.pk:  # the same answer again, from a phone that missed the first reply
        return file
    _require_waiting(file)
    content = bytes(file.content or b"")
    started = Sending.of(file.batch, caller, [farm], [file.file_sha256])
    started.start(file, farm, content, reason=f"{caller.name} said that it is from {farm.code}.")
    file.save()
    return file


@transaction.atomic
def drop(waiting: BatchFile, *, caller: Caller) -> BatchFile:
    """Let a waiting file go for good. ImportConflictError if it waits no more."""
    file = _locked(waiting)
    if file.state == BatchFileState.DROPPED:
        return file
    _require_waiting(file)
    file.state, file.content, file.candidates = BatchFileState.DROPPED, None, []
    file.reason = f"{caller.name} dropped it."
    file.save()
    return file


def sendable_farms(batch: FileBatch, caller: Caller) -> QuerySet[Farm]:
    """The farms that the caller may name for a file of the batch."""
    farms: QuerySet[Farm] = _of_batch(_sendable(caller), batch.co_op_id).order_by("code")
    return farms


# Taking in ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Sending:
    """What one step of sending knows: who sends what for which farms, and what has landed."""

    batch: FileBatch
    caller: Caller
    farms: dict[UUID, Farm]
    # Imports by farm and content: those that have landed, and those of this very step.
    known: dict[tuple[UUID, str], UUID] = field(default_factory=dict)

    @classmethod
    def of(
        cls, batch: FileBatch, caller: Caller, farms: Iterable[Farm], digests: Iterable[str]
    ) -> "Sending":
        by_id = {farm.pk: farm for farm in farms}
        landed = HarvestImport.objects.filter(
            farm_id__in=by_id, file_sha256__in=set(digests), state=ImportState.LANDED
        )
        known = landed.order_by("created_at").values_list("farm_id", "file_sha256", "pk")
        return cls(
            batch=batch,
            caller=caller,
            farms=by_id,
            known={(farm_id, digest): pk for farm_id, digest, pk in known},
        )

    def start(self, file: BatchFile, farm: Farm, content: bytes, *, reason: str) -> None:
        """Start the file's import, unless the farm has sent these bytes before."""
        key = (farm.pk, file.file_sha256)
        file.farm_id, file.content, file.candidates = farm.pk, None, []
        if key in self.known:
            file.state, file.harvest_import_id = BatchFileState.ALREADY_SENT, self.known[key]
            file.reason = f"{reason} The same file was sent before, so it is not imported again."
            return
        options = {name: getattr(self.batch, name) for name in OPTIONS}
        started = start_import(
            farm=farm, file_name=file.file_name, content=content, caller=self.caller, **options
        )
        self.known[key] = started.pk
        file.state, file.reason = BatchFileState.STARTED, reason
        file.harvest_import_id = started.pk


def _take_in(batch: FileBatch, singles: Sequence[SingleFile], caller: Caller) -> None:
    visible = list(_of_batch(Farm.objects.visible_to(caller), batch.co_op_id).order_by("code"))
    sendable = set(_sendable(caller).values_list("pk", flat=True))
    matcher = _matcher(visible, singles, caller)
    digests = [hashlib.sha256(single.content).hexdigest() for single in singles]
    farms = [farm for farm in visible if farm.pk in sendable]
    sending = Sending.of(batch, caller, farms, digests)
    files = [
        _file(batch, place, single, digest)
        for place, (single, digest) in enumerate(zip(singles, digests, strict=True), start=1)
    ]
    for file, single in zip(files, singles, strict=True):
        if not single.ignored:
            _decide(file, single, matcher.match(single.folders, single.name), sending)
    BatchFile.objects.bulk_create(files, batch_size=ROWS_AT_ONCE)


def _file(batch: FileBatch, place: int, single: SingleFile, digest: str) -> BatchFile:
    return BatchFile(
        batch=batch,
        place=place,
        file_name=single.name,
        folders=list(single.folders),
        archive=single.archive,
        size_bytes=len(single.content),
        file_sha256=digest,
        state=BatchFileState.IGNORED,
        reason=single.ignored,
    )


def _decide(file: BatchFile, single: SingleFile, match: Match, sending: Sending) -> None:
    """Start the import where one farm is certain, else keep the file with a question."""
    if len(match.farms) == 1 and match.farms[0].id in sending.farms:
        farm = sending.farms[match.farms[0].id]
        sending.start(file, farm, single.content, reason=match.reason)
        return
    file.state, file.content = BatchFileState.QUESTION, single.content
    file.reason = f"{match.reason} {_question(match)}"
    file.candidates = [
        {"farm": str(farm.id), "code": farm.code, "may_send": farm.id in sending.farms}
        for farm in match.farms[:MAX_CANDIDATES]
    ]


def _question(match: Match) -> str:
    if len(match.farms) == 1:
        return "You may not send files for this farm: say whose it is, or drop it."
    return "Say which farm it is from, or drop it."


# Farms -------------------------------------------------------------------------------------------


def _only_co_op(caller: Caller) -> UUID | None:
    """The co-op of a person or an app that sends for one co-op and nothing else."""
    co_ops = caller.co_ops_with("writes", Area.IMPORT)
    is_clear = len(co_ops) == 1 and not caller.farms and not caller.is_platform_admin
    return co_ops[0] if is_clear else None


def _sendable(caller: Caller) -> QuerySet[Farm]:
    farms = Farm.objects.filter(retired_on__isnull=True)
    may: QuerySet[Farm] = farms.where_caller_may("writes", Area.IMPORT, caller)
    return may


def _of_batch(farms: QuerySet[Farm], co_op_id: UUID | None) -> QuerySet[Farm]:
    """Farms that still are, and of a co-op's files those that are or were its members."""
    kept = Q(retired_on__isnull=True)
    if co_op_id is not None:
        members = Membership.objects.filter(co_op_id=co_op_id)
        kept &= Q(pk__in=members.values("farm_id"))
    return farms.filter(kept)


def _matcher(visible: Sequence[Any], singles: Sequence[SingleFile], caller: Caller) -> Matcher:
    """By the names that the caller may know, and by earlier files where names do not do."""
    farms = [
        KnownFarm(id=farm.pk, code=farm.code, name="" if farm.limited else farm.name)
        for farm in visible
    ]
    holds_one_farm = not caller.co_ops and not caller.is_platform_admin
    matcher = Matcher(farms, only_farm=holds_one_farm)
    named = (s for s in singles if not s.ignored)
    if any(not matcher.match(single.folders, single.name).farms for single in named):
        matcher.earlier = _earlier_names(farms, caller)
    return matcher


def _earlier_names(farms: Sequence[KnownFarm], caller: Caller) -> dict[str, set[UUID]]:
    """The farms for which a file of each pattern of names has landed."""
    landed = HarvestImport.objects.visible_to(caller).filter(
        farm_id__in=[farm.id for farm in farms],
        state=ImportState.LANDED,
        created_at__gte=timezone.now() - EARLIER,
    )
    found: dict[str, set[UUID]] = defaultdict(set)
    for farm_id, file_name in landed.values_list("farm_id", "file_name").distinct():
        if pattern := pattern_of(file_name):
            found[pattern].add(farm_id)
    return found


def _locked(waiting: BatchFile) -> BatchFile:
    """The file as it is now, with its bytes, until the transaction ends."""
    locked = BatchFile.objects.select_for_update(of=("self",)).select_related("batch")
    file: BatchFile = locked.get(pk=waiting.pk)
    return file


def _require_waiting(file: BatchFile) -> None:
    if file.state != BatchFileState.QUESTION:
        state = file.get_state_display()
        raise ImportConflictError(f"The file waits for no answer: it {state}.")
