"""Of pollination visits that are due soon: the hours of the day, in the farm's own time."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.next_tasks import Hours, NextTask, Session, WorkKind
from planning.compute.pollination_windows import DayHours, Part
from planning.queries.plantings import Planted
from planning.queries.pollination_hours import hours_for
from planning.queries.schedules import Plan
from records.models import Farm

# Hours are told of visits so far ahead: further on their days may still move.
SOON = dt.timedelta(days=14)
BRUSHING, GATHERING = "brushing", "gathering"

Places = Mapping[UUID, Sequence[int]]  # by farm, the places of tasks in their list


def with_days(
    farms: Sequence[Farm],
    plan: Plan,
    planted: Mapping[UUID, Planted],
    tasks: Sequence[NextTask],
    today: dt.date,
) -> list[NextTask]:
    """The same tasks, those due soon with their hours: on the best day or, once past, today."""
    found = list(tasks)
    places = _due_soon(plan, tasks, today)
    for farm in farms:
        if farm.pk not in places:
            continue
        due = [(place, tasks[place]) for place in places[farm.pk]]
        hours = _hours(farm, planted, [task for _, task in due], today)
        for place, task in due:
            found[place] = task.expecting(hours.get(_key(task, planted, today)), None)
    return found


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
        for starts, ends in _joined(part)
    ]


def _joined(part: Part) -> list[tuple[dt.datetime, dt.datetime]]:
    """Sessions that overlap are one."""
    spans: list[tuple[dt.datetime, dt.datetime]] = []
    for each in sorted(part.sessions, key=lambda each: each.starts):
        if spans and each.starts <= spans[-1][1]:
            starts, ends = spans.pop()
            spans.append((starts, max(ends, each.ends)))
        else:
            spans.append((each.starts, each.ends))
    return spans


def _local(instant: dt.datetime, zone: ZoneInfo) -> str:
    return instant.astimezone(zone).isoformat(timespec="minutes")
