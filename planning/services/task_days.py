"""Of pollination visits that are due soon: the hours of the day, and what they take.

Hours are in the farm's own time. Minutes and people come from its pollination plan, which also
says whether the crew on hand can make the visits.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.alerts import AlertKind, Fact
from planning.compute.next_tasks import Effort, Hours, NextTask, Session, WorkKind
from planning.compute.pollination_windows import DayHours, Part, joined
from planning.queries.plantings import Planted
from planning.queries.pollination_hours import hours_for
from planning.queries.schedules import Plan
from planning.services.labour_plans import (
    BlockLabour,
    LabourPlan,
    VisitNeed,
    labour_plan,
    need_on,
    visit_needs,
)
from records.calendars import calendar
from records.models import Farm

# Hours are told of visits so far ahead: further on their days may still move.
SOON = dt.timedelta(days=14)
BRUSHING, GATHERING = "brushing", "gathering"
MANY = 10  # blocks named in one alert

Places = Mapping[UUID, Sequence[int]]  # by farm, the places of tasks in their list


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """The same tasks, those due soon with their day; and, by farm, crews that cannot do them."""

    tasks: Sequence[NextTask]
    short_crews: Sequence[tuple[UUID, Fact]]


def with_days(
    farms: Sequence[Farm],
    plan: Plan,
    planted: Mapping[UUID, Planted],
    tasks: Sequence[NextTask],
    today: dt.date,
) -> Expected:
    """A task's day is the best one or, once that is past, today."""
    found, short = list(tasks), []
    places = _due_soon(plan, tasks, today)
    for farm in farms:
        if farm.pk not in places:
            continue
        due = [(place, tasks[place]) for place in places[farm.pk]]
        hours = _hours(farm, planted, [task for _, task in due], today)
        labour = labour_plan(farm, today)
        needs = _Needs.of(labour)
        for place, task in due:
            effort = needs.effort(task, today)
            found[place] = task.expecting(hours.get(_key(task, planted, today)), effort)
        if labour.fit.fits is False:
            short.append((farm.pk, _short_crew(labour)))
    return Expected(tasks=found, short_crews=short)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Needs:
    """What visits take, by block and crop."""

    season_year: int
    rows: Mapping[tuple[UUID, str], BlockLabour]
    planned: Mapping[tuple[UUID, str], Mapping[int, VisitNeed]]

    @staticmethod
    def of(labour: LabourPlan) -> "_Needs":
        return _Needs(
            season_year=labour.season_year,
            rows={
                (each.ground.block.pk, each.ground.ahead.crop_name): each for each in labour.blocks
            },
            planned=visit_needs(labour),
        )

    def effort(self, task: NextTask, today: dt.date) -> Effort | None:
        """As the plan has the visit of that number, else as a visit on its day would be."""
        key = (UUID(task.block), task.crop)
        if key not in self.rows or task.season_year != self.season_year:
            return None
        need = self.planned[key].get(task.number) or need_on(self.rows[key], max(task.best, today))
        if need is None:
            return None
        return Effort(minutes=need.minutes, people=need.people, sentence=_takes(need))


def _takes(need: VisitNeed) -> str:
    flowers = f" for about {need.flowers:.0f} flowers" if need.flowers else ""
    people = f", or {need.people} people in the hours of the day" if need.people else ""
    return f"It is expected to take {need.minutes / 60:.1f} hours of work{flowers}{people}."


def _short_crew(labour: LabourPlan) -> Fact:
    """One fact a season: what it says changes with the plan."""
    fit, farm = labour.fit, labour.farm
    season = calendar([farm]).season_span(farm.pk, None, labour.season_year)
    return Fact(
        subject=f"{farm.pk}:{labour.season_year}:crew",
        block=None,
        season_year=labour.season_year,
        kind=AlertKind.SHORT_CREW,
        about=season.starts_on,
        message=f"The crew does not fit the pollination of {labour.season_label}: {fit.reason}.",
        reason=" ".join(_left_undone(labour)),
    )


def _left_undone(labour: LabourPlan) -> Iterator[str]:
    """Block by block, in as many words as there is room for."""
    codes = {each.ground.key: each.ground.block.code for each in labour.blocks}
    for each in labour.fit.shortfalls[:MANY]:
        yield (
            f"Block {codes.get(each.block, each.block)}: {each.visits_made:.1f} of"
            f" {each.visits_planned} visits."
        )
    more = len(labour.fit.shortfalls) - MANY
    if more > 0:
        yield f"And {more} more blocks."


def _due_soon(plan: Plan, tasks: Sequence[NextTask], today: dt.date) -> Places:
    places: dict[UUID, list[int]] = defaultdict(list)
    for place, task in enumerate(tasks):
        planned = task.planned
        is_visit = planned.kind is WorkKind.POLLINATION and planned.state.is_due
        if is_visit and planned.best <= today + SOON:
            places[plan.blocks[task.block].block.farm_id].append(place)
    return places


def _key(
    task: NextTask, planted: Mapping[UUID, Planted], today: dt.date
) -> tuple[UUID | None, dt.date]:
    kind = planted.get(UUID(task.block))
    return (kind.main.pk if kind else None), max(task.best, today)


def _hours(
    farm: Farm, planted: Mapping[UUID, Planted], tasks: Sequence[NextTask], today: dt.date
) -> dict[tuple[UUID | None, dt.date], Hours]:
    """By species and day."""
    keys = {_key(task, planted, today) for task in tasks}
    species = {kind for kind, _ in keys if kind}
    days = [day for _, day in keys]
    of_species = hours_for(farm, species, min(days), max(days)) if species else {}
    zone = ZoneInfo(farm.time_zone)
    return {
        (kind, day): _of_day(found[day], zone)
        for kind, found in of_species.items()
        for day in {day for of_kind, day in keys if of_kind == kind}
    }


def _of_day(hours: DayHours, zone: ZoneInfo) -> Hours:
    sessions = (*_sessions(BRUSHING, hours.brush, zone), *_sessions(GATHERING, hours.gather, zone))
    return Hours(sessions=sessions, sentence=hours.brush.reason)


def _sessions(work: str, part: Part, zone: ZoneInfo) -> list[Session]:
    return [
        Session(work=work, starts_at=_local(starts, zone), ends_at=_local(ends, zone))
        for starts, ends in joined(part.sessions)
    ]


def _local(instant: dt.datetime, zone: ZoneInfo) -> str:
    return instant.astimezone(zone).isoformat(timespec="minutes")
