"""What planning stores: derived rows, rebuilt from the records whenever those change."""

from planning.models.season_summaries import SeasonSummary, SummaryLevel

__all__ = ["SeasonSummary", "SummaryLevel"]
