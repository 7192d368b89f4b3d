"""What planning stores: rules and people's choices, and rows derived from the records."""

from planning.models.alerts import Alert, AlertAcknowledgement
from planning.models.closed_seasons import ClosedKilos, ClosedSeason, ClosedStand
from planning.models.crop_plans import CropPlan
from planning.models.findings import Finding, FindingRun
from planning.models.flower_hours import FlowerHours
from planning.models.next_tasks import NextTask, ScheduleRun, TaskChoice, UndatedTask
from planning.models.roll_ups import (
    DayRollUp,
    MemberDays,
    MemberRollUp,
    SeenRecords,
    StaleSeason,
)
from planning.models.season_summaries import SeasonSummary, SummaryLevel
from planning.models.settlement import (
    Pool,
    PoolDeduction,
    PoolGrade,
    Statement,
    StatementLine,
)
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
    "DayRollUp",
    "Finding",
    "FindingRun",
    "FlowerHours",
    "MemberDays",
    "MemberRollUp",
    "NextTask",
    "Pool",
    "PoolDeduction",
    "PoolGrade",
    "ScheduleRun",
    "ScheduleSetting",
    "SeasonSummary",
    "SeenRecords",
    "SpeciesFigure",
    "StageForecast",
    "StaleSeason",
    "Statement",
    "StatementLine",
    "SummaryLevel",
    "TaskChoice",
    "TaskRule",
    "UndatedTask",
]
