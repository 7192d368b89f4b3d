"""From computed tasks to the rows that are stored."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any
from uuid import UUID

from planning.compute.next_tasks import Hours, NextTask, Planned
from planning.queries.recorded_work import record_of
from planning.queries.schedules import Plan
from planning.services.derived import Row

Names = Mapping[UUID, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assigned:
    """Who is to do a task: those who are still known, in the order in which they were named."""

    ids: tuple[UUID, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[list[UUID] | str, list[str] | str]:
        return (list(self.ids), list(self.names)) if self.ids else NO_NAMES


NO_NAMES = ("{}", "{}")  # empty arrays, as COPY takes them
NOBODY = Assigned()


def assigned(plan: Plan, key: str, names: Names) -> Assigned:
    choice = plan.choices.get(key)
    if choice is None or not choice.assigned_to:
        return NOBODY
    ids = [pk for pk in choice.assigned_to if pk in names]
    return Assigned(ids=tuple(ids), names=tuple(names[pk] for pk in ids))


PLANNED_COLUMNS = (
    *("rule_code", "kind", "title", "number", "of", "opens_on", "best_on", "closes_on"),
    *("state", "done_on", "days_late"),
)
TASK_COLUMNS = (
    *("farm_id", "block_id", "key", "crop_id", "rule_id", "season_year", "season_label"),
    *("crop_name", "reason", "done_by_kind", "done_by", "skipped_because"),
    *("hours", "expected_minutes", "expected_people", "assigned_to", "assigned_names"),
    *PLANNED_COLUMNS,
)


def task_rows(plan: Plan, tasks: Iterable[NextTask], names: Names) -> Iterator[Row]:
    """A task's columns in the order of `TASK_COLUMNS`; what many have in common is made once."""
    planned: dict[int, tuple[Any, ...]] = {}
    for task in tasks:
        same = planned.get(id(task.planned))
        if same is None:
            same = planned[id(task.planned)] = _planned_columns(task.planned)
        yield (*_own_columns(plan, task, names), *same)


def _planned_columns(planned: Planned) -> tuple[Any, ...]:
    return (
        planned.rule,
        planned.kind.value,
        planned.title,
        planned.number,
        planned.of,
        planned.opens,
        planned.best,
        planned.closes,
        planned.state.value,
        planned.done_on,
        planned.days_late,
    )


def _own_columns(plan: Plan, task: NextTask, names: Names) -> tuple[Any, ...]:
    block, cycle = plan.blocks[task.block], task.cycle
    kind, done_by = record_of(task.done_by) if task.done_by else ("", None)
    return (
        block.block.farm_id,
        task.block,
        task.key,
        cycle.crop_id,
        block.rules.rows[task.planned.rule].pk,
        cycle.season_year,
        block.seasons.by_year[cycle.season_year].label,
        cycle.crop,
        task.reason,
        kind,
        done_by,
        task.choice.skipped_because or "",
        _document(task.hours) if task.hours else "[]",
        _whole(task.effort.minutes) if task.effort else None,
        task.effort.people if task.effort else None,
        *assigned(plan, task.key, names).columns,
    )


def _document(hours: Hours) -> str:
    return json.dumps([asdict(session) for session in hours.sessions])


def _whole(minutes: float | None) -> int | None:
    return None if minutes is None else round(minutes)
