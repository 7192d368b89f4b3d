"""The kinds of files that can be read, by the name of what their rows become."""

from collections.abc import Mapping
from typing import Any

from records.importing.counts import FRUIT_COUNTS
from records.importing.intakes import INTAKES
from records.importing.rounds import POLLINATION_ROUNDS
from records.importing.rows import WEIGHINGS, RowKind
from records.importing.stages import GROWTH_STAGES
from records.importing.tasklogs import TASK_LOGS
from records.importing.weather import WEATHER_DAYS

KINDS: Mapping[str, RowKind[Any]] = {
    "harvest-weights": WEIGHINGS,
    "intakes": INTAKES,
    "weather-days": WEATHER_DAYS,
    "task-logs": TASK_LOGS,
    "growth-stages": GROWTH_STAGES,
    "pollination-rounds": POLLINATION_ROUNDS,
    "fruit-counts": FRUIT_COUNTS,
}
