"""A farm's pollination plan: the visits of each block's bloom, and whether its crew can make them.

Nothing is stored: it is computed from the farm's records, forecasts and figures when it is asked
for.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from planning.compute.labour import (
    BlockPlan,
    CrewFit,
    DayWork,
    Visit,
    crew_fit,
    visit_on,
    visits_of,
)
from planning.models import ScheduleSetting
from planning.queries.labour_grounds import Ground, Wishes, labour_grounds
from records.calendars import calendar
from records.models import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockLabour:
    """One crop of a block: what it is planned from, and its visits; None where facts are missing.

    `work` is what the crew does there day by day. `scheduled` are the visits on the days on which
    the schedule has them, where the plan lays them elsewhere.
    """

    ground: Ground
    plan: BlockPlan | None
    work: Sequence[DayWork]
    scheduled: BlockPlan | None = None

    @property
    def is_counted(self) -> bool:
        """Whether the flowers of a tree are known; else only days, minutes and people are."""
        return self.ground.bloom is not None and self.ground.bloom.is_counted

    @property
    def counted(self) -> BlockPlan | None:
        """The plan, where its numbers of flowers mean something."""
        return self.plan if self.is_counted else None

    @property
    def reasons(self) -> Mapping[str, str]:
        """What is missing or to be careful of, by name."""
        reasons = {**self.ground.missing, **(self.plan.reasons if self.plan else {})}
        if self.plan and self.scheduled and self.plan.visits:
            reasons["schedule"] = _compared(self.plan, self.scheduled)
        return reasons

    @property
    def visits(self) -> Sequence[Visit]:
        return self.plan.visits if self.plan else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourPlan:
    """A season's plan of a farm."""

    farm: Farm
    season_year: int
    season_label: str
    blocks: Sequence[BlockLabour]
    fit: CrewFit


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitNeed:
    """What a visit is expected to take. `flowers` and `people` are None where not known."""

    on: dt.date
    minutes: float
    people: int | None
    flowers: float | None


def labour_plan(
    farm: Farm,
    today: dt.date,
    *,
    year: int | None = None,
    crew_size: int | None = None,
    wishes: Wishes | None = None,
) -> LabourPlan:
    """The plan of a season (this one, unless a year says otherwise); `today` is the farm's date.

    `crew_size` takes the place of the people on hand by the farm's settings.
    """
    seasons = calendar([farm])
    if year is None:
        year = seasons.season_of(farm.pk, None, today).year
    grounds = labour_grounds(farm, year, today, wishes or Wishes())
    blooms = [ground.bloom for ground in grounds if ground.bloom is not None]
    plans = {bloom.block: visits_of(bloom) for bloom in blooms}
    crew = crew_size if crew_size is not None else _crew_on_hand(farm)
    fit = crew_fit(blooms, plans, crew)
    return LabourPlan(
        farm=farm,
        season_year=year,
        season_label=seasons.season_span(farm.pk, None, year).label,
        blocks=[_of_block(ground, plans, fit) for ground in grounds],
        fit=fit,
    )


def visit_needs(plan: LabourPlan) -> Mapping[tuple[UUID, str], Mapping[int, VisitNeed]]:
    """By block and crop name, what each numbered visit still to come is expected to take."""
    return {
        (each.ground.block.pk, each.ground.ahead.crop_name): {
            visit.number: _need(each, visit) for visit in each.visits
        }
        for each in plan.blocks
    }


def need_on(row: BlockLabour, day: dt.date) -> VisitNeed | None:
    """What a visit on a day would take, wherever the plan lays it; None where facts are missing."""
    bloom = row.ground.bloom
    return None if bloom is None else _need(row, visit_on(bloom, day))


def _need(row: BlockLabour, visit: Visit) -> VisitNeed:
    return VisitNeed(
        on=visit.on,
        minutes=visit.minutes,
        people=visit.people,
        flowers=visit.flowers if row.is_counted else None,
    )


def _crew_on_hand(farm: Farm) -> int | None:
    return ScheduleSetting.objects.filter(farm=farm).values_list("crew_size", flat=True).first()


def _of_block(ground: Ground, plans: Mapping[str, BlockPlan], fit: CrewFit) -> BlockLabour:
    bloom, scheduled = ground.bloom, None
    if bloom is not None and ground.scheduled and not bloom.dates:
        scheduled = visits_of(replace(bloom, dates=ground.scheduled))
    return BlockLabour(
        ground=ground,
        plan=plans.get(ground.key),
        work=[each for each in fit.work if each.block == ground.key],
        scheduled=scheduled,
    )


def _compared(plan: BlockPlan, scheduled: BlockPlan) -> str:
    """What the days of the schedule reach beside those of the plan."""
    ours, theirs = (
        sum(visit.flowers_in_reach for visit in each.visits) / each.flowers_in_bloom
        if each.flowers_in_bloom
        else 0.0
        for each in (plan, scheduled)
    )
    first = scheduled.visits[0].on
    return (
        f"The schedule has the next visit on {first.day} {first:%B}; visits as its rule spaces them"
        f" would reach {theirs:.0%} of the bloom's flowers, and those of this plan {ours:.0%}."
    )
