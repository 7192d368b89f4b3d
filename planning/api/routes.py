"""Planning's resources and their addresses."""

from rest_framework.routers import SimpleRouter

from planning.api import season_summaries

router = SimpleRouter(trailing_slash=False, use_regex_path=False)
router.register("season-summaries", season_summaries.SeasonSummaryViewSet)
