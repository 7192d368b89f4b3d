"""Planning in the web admin: rules to edit, and computed rows to look at and decide about."""

from planning.admin import (
    closed_seasons,
    crop_plans,
    decisions,
    findings,
    flower_hours,
    forecasts,
    pools,
    rules,
    summaries,
)

__all__ = [
    "closed_seasons",
    "crop_plans",
    "decisions",
    "findings",
    "flower_hours",
    "forecasts",
    "pools",
    "rules",
    "summaries",
]
