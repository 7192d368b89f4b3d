"""Which season a day belongs to, on each block of some farms."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from records.models import Farm
from records.models import SeasonStart as SeasonStartRow
from records.seasons import Season, SeasonStart, season_of, season_span

Starts = tuple[SeasonStart, ...]


@dataclass(slots=True, kw_only=True)
class Calendar:
    """The season starts of farms, and of the blocks that have their own."""

    of_farms: dict[UUID, Starts]
    of_blocks: dict[UUID, Starts]
    _known: dict[tuple[UUID, dt.date], Season] = field(default_factory=dict)

    def season_of(self, farm_id: UUID, block_id: UUID | None, day: dt.date) -> Season:
        """On a block; on the farm as a whole where no block is named."""
        key = (block_id or farm_id, day)
        if key not in self._known:
            self._known[key] = season_of(day, self.starts(farm_id, block_id))
        return self._known[key]

    def season_span(self, farm_id: UUID, block_id: UUID | None, year: int) -> Season:
        return season_span(year, self.starts(farm_id, block_id))

    def starts(self, farm_id: UUID, block_id: UUID | None) -> Starts:
        own = self.of_blocks.get(block_id) if block_id else None
        return own or self.of_farms[farm_id]


def calendar(farms: Iterable[Farm]) -> Calendar:
    """The calendar of some farms, in one query."""
    first_month = {farm.pk: farm.season_start_month for farm in farms}
    changes: dict[tuple[UUID, UUID | None], list[SeasonStart]] = defaultdict(list)
    for row in SeasonStartRow.objects.filter(farm_id__in=first_month):
        start = SeasonStart(applies_from=row.applies_from, month=row.month)
        changes[row.farm_id, row.block_id].append(start)
    of_farms = {
        farm_id: (SeasonStart(applies_from=None, month=month), *changes[farm_id, None])
        for farm_id, month in first_month.items()
    }
    of_blocks = {
        block_id: with_own_starts(of_farms[farm_id], own)
        for (farm_id, block_id), own in changes.items()
        if block_id is not None
    }
    return Calendar(of_farms=of_farms, of_blocks=of_blocks)


def with_own_starts(farm: Sequence[SeasonStart], own: Sequence[SeasonStart]) -> Starts:
    """A block follows its farm until the first start of its own, and no longer."""
    first = min(start.applies_from for start in own if start.applies_from is not None)
    followed = [start for start in farm if start.applies_from is None or start.applies_from < first]
    return (*followed, *own)
