"""`pollination-windows`: a farm's working hours for brushing and gathering, day by day."""

import datetime as dt
from typing import Any

import django_filters

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import DateFilter
from planning.api.computed import ComputedViewSet, ReadableFarmFilter, SpeciesFilter, refused
from planning.api.pollination_rows import Shown, window_rows
from planning.api.pollination_shapes import WindowRowSerializer
from planning.compute.sun import YEARS
from planning.queries.flower_counts import own_counts_of
from planning.queries.pollination_hours import farm_days
from records.models import Farm, Species

USUAL_DAYS, MOST_DAYS = 14, 92
FIRST_DAY = "The first day; today, if not given."
LAST_DAY = f"The last day, of {MOST_DAYS} at most; {USUAL_DAYS} after the first, if not given."


class WindowFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    species = SpeciesFilter()
    # `from` is no name that a class body can write otherwise.
    locals()["from"] = DateFilter(label=FIRST_DAY)
    to = DateFilter(label=LAST_DAY)


class PollinationWindowViewSet(ComputedViewSet):
    """Each day's hours for brushing flowers and for gathering pollen, by species.

    The hours of flowers, cut to daylight or to the farm's working hours, in the farm's local time
    and in UTC, each with the date on which its flowers opened, its source and its reason.
    """

    serializer_class = WindowRowSerializer
    filterset_class = WindowFilter

    def rows(self, asked: dict[str, Any]) -> Any:
        farm = asked["farm"]
        first, last = _days(asked["from"], asked["to"], clock.today(farm.time_zone))
        kinds = [asked["species"]] if asked["species"] else list(Species.objects.order_by("code"))
        found = farm_days(farm, kinds, first, last)
        shown = Shown(
            place=self._may_read_whole(farm),
            weather=self._may_read(farm, Area.WEATHER),
            counts=own_counts_of(farm, kinds, found.held)
            if self._may_read(farm, Area.OBSERVATION)
            else None,
        )
        return window_rows(farm, kinds, found, shown)

    def _may_read_whole(self, farm: Farm) -> bool:
        """A limited right shows no coordinates."""
        seen = Farm.objects.all().visible_to(self.caller)
        return seen.filter(pk=farm.pk, limited=False).exists()

    def _may_read(self, farm: Farm, area: Area) -> bool:
        readable = Farm.objects.all().where_caller_may("reads", area, self.caller)
        return readable.filter(pk=farm.pk).exists()


def _days(first: dt.date | None, last: dt.date | None, today: dt.date) -> tuple[dt.date, dt.date]:
    """The days asked for; a Problem naming the parameter that is wrong."""
    if first is None:
        first = today if last is None else min(today, last)
    for name, day in (("from", first), ("to", last)):
        if day is not None and day.year not in YEARS[1:-1]:
            raise refused(name, f"It lies outside the years {YEARS[1]} to {YEARS[-2]}.", "no-sun")
    last = last or first + dt.timedelta(days=USUAL_DAYS)
    if last < first:
        raise refused("to", "It lies before `from`.", "days-out-of-order")
    if (last - first).days >= MOST_DAYS:
        raise refused(
            "to", f"It lies too far off: ask for {MOST_DAYS} days at most.", "too-many-days"
        )
    return first, last
