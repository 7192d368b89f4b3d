"""Stored stage forecasts as plain values, for what is computed from them."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from planning.models import StageForecast

FIELDS = (
    *("block_id", "season_year", "crop_id", "crop_name", "stage", "bbch", "on_date", "low_on"),
    *("high_on", "observed_on", "expected_on", "expected_low_on", "expected_high_on", "method"),
    *("anchor", "reason"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageDate:
    """A stage of a block's crop: expected `on_date`, within `low_on` and `high_on` in four seasons
    of five; or seen, and then `on_date` is that day. None: not known, and `reason` says why.

    `expected_*` is the forecast as it stood the day before the stage was seen; of leaf-out the day
    before pruning, which brings it on.
    """

    block_id: UUID
    season_year: int
    crop_id: UUID | None
    crop_name: str
    stage: str
    bbch: int
    on_date: dt.date | None
    low_on: dt.date | None
    high_on: dt.date | None
    observed_on: dt.date | None
    expected_on: dt.date | None
    expected_low_on: dt.date | None
    expected_high_on: dt.date | None
    method: str
    anchor: str
    reason: str

    @property
    def is_brought_on(self) -> bool:
        """Whether it is counted from the pruning or stripping, and not what these wait for."""
        return self.anchor == "opening"


def stages_ahead(farm_id: UUID, block_id: UUID | None = None) -> dict[UUID, list[StageDate]]:
    """By block, every stage of its crops as a whole (not by cultivar), in one query."""
    where: dict[str, Any] = {"block_id": block_id} if block_id else {}
    rows = StageForecast.objects.filter(farm_id=farm_id, cultivar=None, **where)
    found: dict[UUID, list[StageDate]] = defaultdict(list)
    for values in rows.order_by("season_year", "crop_name", "bbch").values(*FIELDS):
        found[values["block_id"]].append(StageDate(**values))
    return found
