"""Planning in the web admin: rules to edit, and computed rows to look at and decide about."""

from planning.admin import (
    crop_plans,
    decisions,
    findings,
    flower_hours,
    forecasts,
    rules,
    summaries,
)

__all__ = [
    "crop_plans",
    "decisions",
    "findings",
    "flower_hours",
    "forecasts",
    "rules",
    "summaries",
]
