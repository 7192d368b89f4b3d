"""What planning stores: rules and people's choices, and rows derived from the records."""

from planning.models.alerts import Alert, AlertAcknowledgement
from planning.models.closed_seasons import ClosedKilos, ClosedSeason, ClosedStand
from planning.models.crop_plans import CropPlan
from planning.models.flower_hours import FlowerHours
from planning.models.next_tasks import NextTask, ScheduleRun, TaskChoice, UndatedTask
from planning.models.season_summaries import SeasonSummary, SummaryLevel
from planning.models.species_figures import SpeciesFigure
from planning.models.stage_forecasts import StageForecast
from planning.models.task_rules import ScheduleSetting, TaskRule

__all__ = [
    "Alert",
    "AlertAcknowledgement",
    "ClosedKilos",
    "ClosedSeason",
    "ClosedStand",
    "CropPlan",
    "FlowerHours",
    "NextTask",
    "ScheduleRun",
    "ScheduleSetting",
    "SeasonSummary",
    "SpeciesFigure",
    "StageForecast",
    "SummaryLevel",
    "TaskChoice",
    "TaskRule",
    "UndatedTask",
]
