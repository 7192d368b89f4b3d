"""`labour-plans`: the visits of each block's bloom, their hours, and whether the crew can do it."""

from collections.abc import Iterator, Sequence
from typing import Any

import django_filters
from rest_framework.request import Request
from rest_framework.response import Response

from orchard import clock
from orchard.rest.filters import NumberFilter
from planning.api.computed import ComputedViewSet, ReadableFarmFilter, WholeAnswer
from planning.api.filters import BlocksFilter, SeasonYearFilter, blocks_of
from planning.api.labour_rows import BlockLabourSerializer, CrewSerializer, VisitLineSerializer
from planning.compute.labour import Shortfall, Visit
from planning.models.task_rules import MAX_CREW
from planning.queries.labour_grounds import Wishes
from planning.services.labour_plans import BlockLabour, LabourPlan, labour_plan

CREW_HOW = (
    "People are those who finish a visit within the hours of its day. A crew works the block whose"
    " bloom closes first before the others, trees in the order of their rows, and no tree again"
    " before the days between two visits are over; where its time is short, the days and blocks"
    " with most flowers a minute."
)


class LabourPlanFilter(django_filters.FilterSet):
    farm = ReadableFarmFilter(required=True)
    season = SeasonYearFilter()
    crew_size = NumberFilter(
        min_value=0, max_value=MAX_CREW, label="People on hand, in place of the farm's setting."
    )
    blocks = BlocksFilter()
    pace = django_filters.ChoiceFilter(
        choices=[("tree", "minutes a tree"), ("flower", "flowers an hour")],
        label="How time is reckoned: by the tree or by the flower.",
    )
    dates = django_filters.ChoiceFilter(
        choices=[("best", "where they reach most"), ("scheduled", "as the schedule has them")],
        label="On which days visits lie: best unless given.",
    )
    bag_percent = NumberFilter(min_value=0, max_value=100, label="Of the pollinated flowers.")


class PlanAnswer(WholeAnswer):
    """The blocks' visits, and beside them the farm's crew."""

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        whole = super().get_paginated_response_schema(schema)
        crew = {"type": "object", "additionalProperties": True}
        label = {"type": "string"}
        return {
            **whole,
            "required": ["season_label", "crew", "results"],
            "properties": {"season_label": label, "crew": crew, **whole["properties"]},
        }


class LabourPlanViewSet(ComputedViewSet):
    """The pollination of a season: each visit's date, flowers within reach, hours and people.

    As a table, a line a visit. An estimate, from forecasts and figures that the farm may change.
    """

    serializer_class = BlockLabourSerializer
    filterset_class = LabourPlanFilter
    pagination_class = PlanAnswer

    def get_serializer_class(self) -> Any:
        renderer = getattr(self.request, "accepted_renderer", None)
        is_table = renderer is not None and renderer.format != "json"
        return VisitLineSerializer if is_table else BlockLabourSerializer

    def list(self, request: Request, **kwargs: Any) -> Response:
        plan = self._plan(self.asked(request))
        if request.accepted_renderer.format != "json":
            return Response(self.get_serializer(list(_lines(plan)), many=True).data)
        return Response(
            {
                "season_label": plan.season_label,
                "crew": CrewSerializer(_crew(plan)).data,
                "results": self.get_serializer(plan.blocks, many=True).data,
            }
        )

    def _plan(self, asked: dict[str, Any]) -> LabourPlan:
        farm = asked["farm"]
        wishes = Wishes(
            bag_share=(asked["bag_percent"] or 0) / 100,
            pace=asked["pace"] or None,
            as_scheduled=asked["dates"] == "scheduled",
            block_ids=blocks_of(farm, asked["blocks"]),
        )
        return labour_plan(
            farm,
            clock.today(farm.time_zone),
            year=asked["season"],
            crew_size=asked["crew_size"],
            wishes=wishes,
        )


def _lines(plan: LabourPlan) -> Iterator[tuple[BlockLabour, Visit]]:
    return ((row, visit) for row in plan.blocks for visit in row.visits)


def _crew(plan: LabourPlan) -> dict[str, Any]:
    lines, fit = list(_lines(plan)), plan.fit
    visits = [visit for _, visit in lines]
    counted = all(row.is_counted for row, _ in lines)
    hours = [_hours([visit.minutes for visit in visits])]
    hours += [
        _hours([getattr(visit, name) for visit in visits] if counted else [None])
        for name in ("gather_minutes", "bag_minutes")
    ]
    return {
        "crew_size": fit.crew,
        "fits": fit.fits,
        "people_needed": fit.people_needed,
        "add": fit.add,
        "visits": len(visits),
        "flowers": _total([visit.flowers if counted else None for visit in visits]),
        "donor_flowers": _total([visit.donor_flowers if counted else None for visit in visits]),
        **dict(zip(("worker_hours", "gather_hours", "bag_hours"), hours, strict=True)),
        "worker_sessions": _total([visit.worker_sessions for visit in visits]),
        "drop": [_dropped(plan, each) for each in _most_first(fit.shortfalls)],
        "method": CREW_HOW,
        "reason": _reason(plan),
    }


def _reason(plan: LabourPlan) -> str:
    told = f"{plan.fit.reason[0].upper()}{plan.fit.reason[1:]}."
    left_out = [row.ground.block.code for row in plan.blocks if row.plan is None]
    if not left_out:
        return told
    return f"{told} Not planned, as something is missing: {', '.join(left_out)}."


def _most_first(shortfalls: Sequence[Shortfall]) -> list[Shortfall]:
    return sorted(shortfalls, key=lambda each: -(each.flowers or each.share))


def _dropped(plan: LabourPlan, left: Shortfall) -> dict[str, Any]:
    row = next(row for row in plan.blocks if row.ground.key == left.block)
    return {
        "block": str(row.ground.block.pk),
        "block_code": row.ground.block.code,
        "crop_name": row.ground.ahead.crop_name,
        **{
            name: getattr(left, name)
            for name in ("visits_planned", "visits_made", "share", "flowers", "fruit")
        },
    }


def _hours(minutes: Sequence[float | None]) -> float | None:
    total = _total(minutes)
    return None if total is None else total / 60


def _total(values: Sequence[Any]) -> Any:
    """None as soon as one of them is not known."""
    return None if any(value is None for value in values) else sum(values)
