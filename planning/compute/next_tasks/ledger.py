"""What was recorded of a block, in order of date, and which work has done which crop's task.

No record does two tasks: what an earlier crop's task took is not there for a later one's.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date

from planning.compute.next_tasks.rules import Stages, WorkKind
from planning.compute.next_tasks.values import BlockYear, Cycle, StageSeen, Work

Counts = Callable[[Work], bool]


class Ledger:
    """Records up to `today`; later ones are not known yet."""

    def __init__(self, block: BlockYear, today: date) -> None:
        self._work: dict[WorkKind, list[Work]] = defaultdict(list)
        for work in sorted(block.work, key=lambda work: (work.done_on, work.record)):
            if work.done_on <= today:
                self._work[work.kind].append(work)
        seen = [stage for stage in block.stages if stage.seen_on <= today]
        self._stages = sorted(seen, key=lambda stage: (stage.seen_on, stage.bbch, stage.record))
        self._taken: dict[str, Cycle] = {}

    def take(self, kind: WorkKind, cycle: Cycle, counts: Counts) -> Work | None:
        """The first free work that counts, which is then the cycle's."""
        first = next(self._free(kind, cycle, counts), None)
        if first is not None:
            self._taken[first.record] = cycle
        return first

    def take_all(self, kind: WorkKind, cycle: Cycle, counts: Counts) -> None:
        """Make all free work that counts the cycle's."""
        self._taken.update((work.record, cycle) for work in self._free(kind, cycle, counts))

    def work_days(self, kind: WorkKind, cycle: Cycle) -> list[date]:
        """Days on which work of a kind was done for the cycle."""
        return [work.done_on for work in self._work[kind] if self._is_of(work, cycle)]

    def first_seen(self, stages: Stages, cycle: Cycle) -> StageSeen | None:
        """The first sight of a stage on the cycle's crop."""
        return next(
            (
                stage
                for stage in self._stages
                if stages.first <= stage.bbch <= stages.last
                and _owns(cycle, stage.crop, stage.seen_on)
            ),
            None,
        )

    def first_seen_since(self, stages: Stages, cycle: Cycle, since: date) -> date | None:
        """The first day, from a given one on, on which a stage was seen."""
        return next(
            (
                stage.seen_on
                for stage in self._stages
                if stages.first <= stage.bbch <= stages.last
                and stage.seen_on >= since
                and stage.crop in (None, cycle.crop_id)
            ),
            None,
        )

    def _free(self, kind: WorkKind, cycle: Cycle, counts: Counts) -> Iterator[Work]:
        for work in self._work[kind]:
            is_free = work.record not in self._taken and work.crop in (None, cycle.crop_id)
            if is_free and counts(work):
                yield work

    def _is_of(self, work: Work, cycle: Cycle) -> bool:
        taken_by = self._taken.get(work.record)
        return taken_by == cycle if taken_by else _owns(cycle, work.crop, work.done_on)


def _owns(cycle: Cycle, crop: str | None, day: date) -> bool:
    return crop == cycle.crop_id if crop else cycle.starts_on <= day <= cycle.ends_on
