"""Planning in the web admin: rules to edit, and computed rows to look at and decide about."""

from planning.admin import crop_plans, decisions, flower_hours, forecasts, pools, rules, summaries

__all__ = ["crop_plans", "decisions", "flower_hours", "forecasts", "pools", "rules", "summaries"]
