"""What is known of a block, in order of date, and which work has done which crop's task.

No record does two tasks: what an earlier crop's task took is not there for a later one's.
"""

from collections.abc import Iterable
from datetime import date
from functools import cached_property
from operator import attrgetter

from planning.compute.next_tasks.heat import Heat
from planning.compute.next_tasks.terms import WorkKind
from planning.compute.next_tasks.triggers import Stages
from planning.compute.next_tasks.values import BlockYear, Cycle, StageForecast, StageSeen, Work

_BY_DAY = attrgetter("done_on", "kind", "record")
_BY_SIGHT = attrgetter("seen_on", "bbch", "record")
_NO_WORK: list[Work] = []


class Ledger:
    """Records up to `today`; later ones are not known yet."""

    def __init__(self, block: BlockYear, today: date) -> None:
        self.block, self.today = block, today
        self.work = [work for work in block.work if work.done_on <= today]
        self.work.sort(key=_BY_DAY)
        self.stages = [stage for stage in block.stages if stage.seen_on <= today]
        self.stages.sort(key=_BY_SIGHT)
        self._taken: dict[str, Cycle] = {}

    @cached_property
    def _by_kind(self) -> dict[WorkKind, list[Work]]:
        found: dict[WorkKind, list[Work]] = {}
        for work in self.work:
            found.setdefault(work.kind, []).append(work)
        return found

    @cached_property
    def _days(self) -> tuple[date, date]:
        """The first and last day of anything on record."""
        days = [work.done_on for work in self.work] + [stage.seen_on for stage in self.stages]
        return min(days, default=date.max), max(days, default=date.min)

    @cached_property
    def _crops(self) -> set[str]:
        """Crops that records name."""
        named = {work.crop for work in self.work} | {stage.crop for stage in self.stages}
        return {crop for crop in named if crop}

    def place_of(self, work: Work) -> int:
        """Where a piece of work stands among all of the block."""
        return next(place for place, each in enumerate(self.work) if each is work)

    def is_bare(self, cycle: Cycle) -> bool:
        """Whether nothing at all is known of a crop: no record, taken or its own, no forecast."""
        first, last = self._days
        if first <= cycle.ends_on and last >= cycle.starts_on:
            return False
        if cycle.crop_id in self._crops or (self._taken and cycle in self._taken.values()):
            return False
        return all(each.season_year != cycle.season_year for each in self.block.forecasts)

    def free(self, kind: WorkKind, cycle: Cycle) -> list[Work]:
        """Work of a kind that has done no task yet and may do one of the cycle's."""
        return [
            work
            for work in self._by_kind.get(kind, _NO_WORK)
            if work.record not in self._taken and (not work.crop or work.crop == cycle.crop_id)
        ]

    def take(self, work: Iterable[Work], cycle: Cycle) -> None:
        """Make work the cycle's."""
        for each in work:
            self._taken[each.record] = cycle

    def work_of(self, kind: WorkKind, cycle: Cycle) -> list[Work]:
        """Work of a kind that was done for the cycle."""
        done = self._by_kind.get(kind)
        return [work for work in done if self._is_of(work, cycle)] if done else _NO_WORK

    def first_seen(self, stages: Stages, cycle: Cycle) -> StageSeen | None:
        """The first sight of a stage on the cycle's crop."""
        for stage in self.stages:
            is_named = stages.first <= stage.bbch <= stages.last
            if is_named and _owns(cycle, stage.crop, stage.seen_on):
                return stage
        return None

    def first_seen_since(self, stages: Stages, cycle: Cycle, since: date) -> date | None:
        """The first day, from a given one on, on which a stage was seen."""
        for stage in self.stages:
            is_named = stages.first <= stage.bbch <= stages.last
            if is_named and stage.seen_on >= since and stage.crop in (None, cycle.crop_id):
                return stage.seen_on
        return None

    def forecast(self, stages: Stages, cycle: Cycle) -> StageForecast | None:
        """The forecast of the earliest of some stages on the cycle's crop."""
        if not self.block.forecasts:
            return None
        found = [
            each
            for each in self.block.forecasts
            if stages.first <= each.bbch <= stages.last
            and (each.season_year, each.crop) == (cycle.season_year, cycle.crop)
        ]
        return min(found, key=attrgetter("bbch"), default=None)

    def heat(self, base_c: float) -> Heat | None:
        return self.block.heat.get(base_c)

    def _is_of(self, work: Work, cycle: Cycle) -> bool:
        taken_by = self._taken.get(work.record)
        if taken_by is not None:
            return taken_by is cycle
        return _owns(cycle, work.crop, work.done_on)


def _owns(cycle: Cycle, crop: str | None, day: date) -> bool:
    return crop == cycle.crop_id if crop else cycle.starts_on <= day <= cycle.ends_on
