"""Planning in the web admin: rules to edit, and computed rows to look at and decide about."""

from planning.admin import decisions, rules, summaries

__all__ = ["decisions", "rules", "summaries"]
