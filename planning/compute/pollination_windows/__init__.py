"""The hours in which flowers are brushed and pollen is gathered, by species.

What is published (`sources`) counts from the sun, so that neither summer time nor the edge of a
time zone moves it; it becomes wall-clock time only when it is shown. Pure: no clock, no database.
"""

from planning.compute.pollination_windows.cautions import CAUTIONS, Caution, Told, cautions_on
from planning.compute.pollination_windows.counts import (
    HourCount,
    HourShare,
    OwnCounts,
    Proposal,
    SetShare,
    own_counts,
    set_share,
)
from planning.compute.pollination_windows.days import (
    DayHours,
    Ground,
    Part,
    day_hours,
    hours_without_sun,
)
from planning.compute.pollination_windows.resolving import (
    FarmHours,
    Held,
    SpeciesHours,
    hours_held,
)
from planning.compute.pollination_windows.sessions import (
    WorkHours,
    flower_dates,
    sessions_on,
    working_span,
)
from planning.compute.pollination_windows.sources import SOURCES, sources_of
from planning.compute.pollination_windows.values import (
    Anchor,
    Edge,
    Hours,
    Place,
    PollenDay,
    Session,
    Source,
    Span,
    Sun,
    Window,
    WindowError,
    joined,
    open_minutes,
    span_of,
    to_minute,
)
from planning.compute.pollination_windows.weather import (
    Afternoon,
    DayWeather,
    HourReading,
    Shedding,
    afternoon_of,
    pollen_day,
    shedding,
)
from planning.compute.pollination_windows.words import in_words

__all__ = [
    "CAUTIONS",
    "SOURCES",
    "Afternoon",
    "Anchor",
    "Caution",
    "DayHours",
    "DayWeather",
    "Edge",
    "FarmHours",
    "Ground",
    "Held",
    "HourCount",
    "HourReading",
    "HourShare",
    "Hours",
    "OwnCounts",
    "Part",
    "Place",
    "PollenDay",
    "Proposal",
    "Session",
    "SetShare",
    "Shedding",
    "Source",
    "Span",
    "SpeciesHours",
    "Sun",
    "Told",
    "Window",
    "WindowError",
    "WorkHours",
    "afternoon_of",
    "cautions_on",
    "day_hours",
    "flower_dates",
    "hours_held",
    "hours_without_sun",
    "in_words",
    "joined",
    "open_minutes",
    "own_counts",
    "pollen_day",
    "sessions_on",
    "set_share",
    "shedding",
    "sources_of",
    "span_of",
    "to_minute",
    "working_span",
]
