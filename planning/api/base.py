"""What planning's resources that people write have in common."""

import datetime as dt
from typing import Any

from rest_framework.request import Request

from orchard import clock
from orchard.rest.viewsets import ChangingViewSet
from planning.services.schedules import lock_schedule


class DecisionViewSet(ChangingViewSet):
    """Derived rows of a farm's schedule, about which people decide."""

    def _locked(self, request: Request) -> Any:
        """The schedule's lock first, as a rebuild takes it: else the two could wait in a ring."""
        lock_schedule(self.get_object().farm_id)
        return super()._locked(request)

    def today_of(self, row: Any) -> dt.date:
        return clock.today(row.farm.time_zone)
