"""What was done and seen on a farm's blocks, as the schedule takes it.

A task log, a pollination round by hand, a fruit count and a weighing are records of work; fruit
counted as thinned is thinning. Every weighing shows that its block was picked, whether or not
somebody noted the minutes. Retired records show nothing.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from planning.choices import RecordKind
from planning.compute.next_tasks import StageSeen, Work, WorkKind
from records.choices import BY_HAND, CountKind
from records.models import (
    Crop,
    FruitCount,
    FruitCountRound,
    GrowthStage,
    HarvestWeight,
    PollinationRound,
    TaskLog,
)

NOT_COUNTED: frozenset[str] = frozenset()
BLOOM = 60  # what a crop's first day of bloom stands for


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """By block; `first_on` is the first day of anything on record."""

    work: dict[UUID, list[Work]] = field(default_factory=lambda: defaultdict(list))
    stages: dict[UUID, list[StageSeen]] = field(default_factory=lambda: defaultdict(list))

    def first_on(self, block_id: UUID) -> dt.date | None:
        days = [work.done_on for work in self.work.get(block_id, ())]
        days += [stage.seen_on for stage in self.stages.get(block_id, ())]
        return min(days, default=None)


def recorded_work(where: dict[str, Any], since: dt.date, crops: list[Crop]) -> Recorded:
    """Records from a day on, of the blocks that `where` narrows to, in six queries."""
    found = Recorded()
    for block_id, work in _work({**where, "retired_on": None}, since):
        found.work[block_id].append(work)
    for block_id, stage in _stages({**where, "retired_on": None}, since):
        found.stages[block_id].append(stage)
    for crop in crops:
        if crop.bloom_began_on is not None and crop.bloom_began_on >= since:
            found.stages[crop.block_id].append(_bloom(crop, crop.bloom_began_on))
    return found


def name_of(kind: RecordKind, record_id: UUID) -> str:
    """What the computation knows a record by."""
    return f"{kind.value}:{record_id}"


def record_of(name: str) -> tuple[str, str]:
    """The kind and id in such a name."""
    kind, _, record_id = name.partition(":")
    return kind, record_id


def _work(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, Work]]:
    yield from _task_logs(where, since)
    yield from _rounds(where, since)
    yield from _counts(where, since)
    yield from _pickings(where, since)


def _task_logs(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, Work]]:
    rows = TaskLog.objects.filter(done_on__gte=since, **where)
    for pk, block_id, kind, done_on in rows.values_list("pk", "block_id", "kind", "done_on"):
        record = name_of(RecordKind.TASK_LOG, pk)
        yield block_id, Work(record=record, kind=WorkKind(kind), done_on=done_on)


def _rounds(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, Work]]:
    """Flowers marked and left alone were not pollinated by anybody."""
    counted = _counted(where, since)
    rows = PollinationRound.objects.filter(pollinated_on__gte=since, method__in=BY_HAND, **where)
    for pk, block_id, done_on in rows.values_list("pk", "block_id", "pollinated_on"):
        yield (
            block_id,
            Work(
                record=name_of(RecordKind.ROUND, pk),
                kind=WorkKind.POLLINATION,
                done_on=done_on,
                counted=counted.get(pk, NOT_COUNTED),
            ),
        )


def _counted(where: dict[str, Any], since: dt.date) -> Mapping[UUID, frozenset[str]]:
    """Which counts each round has."""
    of_counts = {f"fruit_count__{name}": value for name, value in where.items()}
    rows = FruitCountRound.objects.filter(fruit_count__counted_on__gte=since, **of_counts)
    found: dict[UUID, set[str]] = defaultdict(set)
    for round_id, kind in rows.values_list("round_id", "fruit_count__kind"):
        found[round_id].add(kind)
    return {round_id: frozenset(kinds) for round_id, kinds in found.items()}


def _counts(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, Work]]:
    rows = FruitCount.objects.filter(counted_on__gte=since, **where)
    for pk, block_id, done_on, counted in rows.values_list("pk", "block_id", "counted_on", "kind"):
        is_thinning = counted == CountKind.THINNED
        yield (
            block_id,
            Work(
                record=name_of(RecordKind.COUNT, pk),
                kind=WorkKind.THINNING if is_thinning else WorkKind.COUNTING,
                done_on=done_on,
                detail=None if is_thinning else counted,
            ),
        )


def _pickings(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, Work]]:
    """One a block, day and crop: many weighings are one picking."""
    one = ("block_id", "picked_on", "crop_id")
    rows = HarvestWeight.objects.filter(picked_on__gte=since, **where)
    for pk, block_id, done_on, crop_id in (
        rows.order_by(*one, "pk").distinct(*one).values_list("pk", *one)
    ):
        yield (
            block_id,
            Work(
                record=name_of(RecordKind.WEIGHING, pk),
                kind=WorkKind.PICKING,
                done_on=done_on,
                crop=str(crop_id) if crop_id else None,
            ),
        )


def _stages(where: dict[str, Any], since: dt.date) -> Iterator[tuple[UUID, StageSeen]]:
    rows = GrowthStage.objects.filter(observed_on__gte=since, **where)
    for pk, block_id, bbch, seen_on in rows.values_list("pk", "block_id", "bbch", "observed_on"):
        yield block_id, StageSeen(record=str(pk), bbch=int(bbch), seen_on=seen_on)


def _bloom(crop: Crop, began_on: dt.date) -> StageSeen:
    return StageSeen(record=str(crop.pk), bbch=BLOOM, seen_on=began_on, crop=str(crop.pk))
