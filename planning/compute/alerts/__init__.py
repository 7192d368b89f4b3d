"""What somebody should be told: about tasks, bloom, weather and crew.

An alert's key names its subject, the fact and the day that the fact is about, so one fact gives one
alert, however often it is computed. An alert whose fact has ended is not among those computed:
what still stands under its key is to be closed.
"""

from planning.compute.alerts.bloom import BloomAgainstForecast, bloom_facts
from planning.compute.alerts.tasks import (
    AlertChanges,
    AlertSettings,
    DatedTask,
    alerts_of,
    changes,
)
from planning.compute.alerts.values import (
    ABOUT_TASKS,
    Alert,
    AlertError,
    AlertKind,
    AlertState,
    Fact,
    Handling,
    alert_of,
)
from planning.compute.alerts.weather import Bloom, Limits, Weather, weather_facts

__all__ = [
    "ABOUT_TASKS",
    "Alert",
    "AlertChanges",
    "AlertError",
    "AlertKind",
    "AlertSettings",
    "AlertState",
    "Bloom",
    "BloomAgainstForecast",
    "DatedTask",
    "Fact",
    "Handling",
    "Limits",
    "Weather",
    "alert_of",
    "alerts_of",
    "bloom_facts",
    "changes",
    "weather_facts",
]
