"""The rows of any kind of file but weighings become records, one by one, as if sent by themselves.

Weighings come by the hundred thousand and land by statements over all rows; these come by the
thousand, and each is saved by the rules of its own kind.
"""

from records.choices import ImportKind
from records.importing.recording import field, pollination, shed, weather
from records.importing.recording.drafts import Recording

RECORDINGS: dict[str, Recording] = {
    ImportKind.INTAKES: shed.INTAKES,
    ImportKind.WEATHER_DAYS: weather.WEATHER_DAYS,
    ImportKind.TASK_LOGS: field.TASK_LOGS,
    ImportKind.GROWTH_STAGES: field.GROWTH_STAGES,
    ImportKind.POLLINATION_ROUNDS: pollination.POLLINATION_ROUNDS,
    ImportKind.FRUIT_COUNTS: pollination.FRUIT_COUNTS,
}
