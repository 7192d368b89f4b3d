"""`pollination-windows`: a farm's working hours for brushing and gathering, day by day."""

import datetime as dt
from typing import ClassVar

import django_filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.access import Area
from orchard.rest.filters import DateFilter, VisibleFilter, check, refuse_unknown
from orchard.rest.pagination import page_response
from orchard.rest.problems import Problem
from orchard.rest.viewsets import RecordsView
from planning.api.pollination_rows import Shown, window_rows
from planning.api.pollination_shapes import WindowPageSerializer, WindowRowSerializer
from planning.compute.sun import YEARS
from planning.queries.flower_counts import own_counts_of
from planning.queries.pollination_hours import farm_days
from records.models import Farm, Species

USUAL_DAYS, MOST_DAYS = 14, 92
FIRST_DAY = "The first day; today, if not given."
LAST_DAY = f"The last day, of {MOST_DAYS} at most; {USUAL_DAYS} after the first, if not given."


class WindowFilter(django_filters.FilterSet):
    farm = VisibleFilter(Farm, required=True)
    species = VisibleFilter(Species)
    # `from` is no name that a class body can write otherwise.
    locals()["from"] = DateFilter(label=FIRST_DAY)
    to = DateFilter(label=LAST_DAY)


class PollinationWindowViewSet(RecordsView):
    """Each day's hours for brushing flowers and for gathering pollen, by species.

    The hours of flowers, cut to daylight or to the farm's working hours, in the farm's local time
    and in UTC, each with the date on which its flowers opened, its source and its reason.
    """

    area = Area.SCHEDULE
    queryset = Farm.objects.none()
    serializer_class = WindowRowSerializer
    filterset_class = WindowFilter
    pagination_class = None
    orderings: ClassVar[tuple[str, ...]] = ()
    tabular = True

    @extend_schema(
        responses=WindowPageSerializer,
        parameters=[
            OpenApiParameter("farm", OpenApiTypes.UUID, required=True),
            OpenApiParameter("species", OpenApiTypes.UUID, description="All, if not given."),
            OpenApiParameter("from", OpenApiTypes.DATE, description=FIRST_DAY),
            OpenApiParameter("to", OpenApiTypes.DATE, description=LAST_DAY),
        ],
        filters=False,
    )
    def list(self, request: Request) -> Response:
        filterset = WindowFilter(request.query_params, Farm.objects.none(), request=request)
        refuse_unknown(request, filterset.filters, {"format"})
        given = check(filterset)
        farm = given["farm"]
        if not self._may_read(farm, Area.SCHEDULE):
            raise PermissionDenied
        first, last = _days(given["from"], given["to"], clock.today(farm.time_zone))
        kinds = [given["species"]] if given["species"] else list(Species.objects.order_by("code"))
        found = farm_days(farm, kinds, first, last)
        shown = Shown(
            weather=self._may_read(farm, Area.WEATHER),
            counts=own_counts_of(farm, kinds, found.held)
            if self._may_read(farm, Area.OBSERVATION)
            else None,
        )
        rows = window_rows(farm, kinds, found, shown)
        data = self.get_serializer(rows, many=True).data
        if request.accepted_renderer.format in {"csv", "xlsx"}:
            return Response(data)
        return page_response(None, data)

    def _may_read(self, farm: Farm, area: Area) -> bool:
        readable = Farm.objects.all().where_caller_may("reads", area, self.caller)
        return readable.filter(pk=farm.pk).exists()


def _days(first: dt.date | None, last: dt.date | None, today: dt.date) -> tuple[dt.date, dt.date]:
    """The days asked for; a Problem naming the parameter that is wrong."""
    if first is None:
        first = today if last is None else min(today, last)
    for name, day in (("from", first), ("to", last)):
        if day is not None and day.year not in YEARS[1:-1]:
            raise _broken(name, f"lies outside the years {YEARS[1]} to {YEARS[-2]}.", "no-sun")
    last = last or first + dt.timedelta(days=USUAL_DAYS)
    if last < first:
        raise _broken("to", "lies before `from`.", "days-out-of-order")
    if (last - first).days >= MOST_DAYS:
        raise _broken("to", f"lies too far off: ask for {MOST_DAYS} days at most.", "too-many-days")
    return first, last


def _broken(name: str, text: str, code: str) -> Problem:
    detail = f"{name} {text}"
    error = {"parameter": name, "code": code, "detail": detail}
    return Problem("rule-broken", detail, errors=[error])
