"""What is expected on blocks: stages ahead, heat, hours of the day, and what the work takes."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from planning.compute.next_tasks import (
    Effort,
    EffortKey,
    Heat,
    HoursOn,
    StageForecast,
    WorkKind,
)
from planning.queries.plantings import Planted


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockOutlook:
    """What is expected on one block, as its schedule takes it."""

    forecasts: Sequence[StageForecast] = ()
    heat: Mapping[float, Heat] = field(default_factory=dict)
    hours: Mapping[WorkKind, HoursOn] = field(default_factory=dict)
    effort: Mapping[EffortKey, Effort] = field(default_factory=dict)


NOTHING = BlockOutlook()


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is expected on the blocks of some farms."""

    def of_block(self, block_id: UUID, planted: Planted | None) -> BlockOutlook:
        return NOTHING


def outlook_of(where: dict[str, Any], today: dt.date) -> Outlook:
    return Outlook()
