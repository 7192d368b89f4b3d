"""From what was computed to the rows that are stored: tasks, undated tasks and alerts."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from planning.choices import AlertState, UndatedWhy
from planning.compute import alerts as compute
from planning.compute.next_tasks import NextTask, TaskState, Waiting
from planning.compute.next_tasks.annona import Climate, RuleSet
from planning.models import Alert
from planning.models import NextTask as NextTaskRow
from planning.queries.plantings import Planted
from planning.queries.recorded_work import record_of
from planning.queries.schedules import BlockPlan, FarmPlan
from planning.services.derived import columns_of

Names = Mapping[UUID, str]
Row = dict[str, Any]  # columns by name, as `derived.store` takes them


@dataclass(frozen=True, slots=True, kw_only=True)
class Assigned:
    """Who is to do a task: those who are still known, in the order in which they were named."""

    ids: tuple[UUID, ...] = ()
    names: tuple[str, ...] = ()


NOBODY = Assigned()


def assigned(plan: FarmPlan, key: str, names: Names) -> Assigned:
    choice = plan.choices.get(key)
    if choice is None:
        return NOBODY
    ids = [pk for pk in choice.assigned_to if pk in names]
    return Assigned(ids=tuple(ids), names=tuple(names[pk] for pk in ids))


# Tasks -------------------------------------------------------------------------------------------


def task_row(plan: FarmPlan, task: NextTask, people: Assigned) -> Row:
    block = plan.blocks[UUID(task.block)]
    kind, done_by = record_of(task.done_by) if task.done_by else ("", None)
    return {
        "farm_id": block.block.farm_id,
        "key": task.key,
        "block_id": block.block.pk,
        "crop_id": UUID(task.crop_id) if task.crop_id else None,
        "rule_id": block.rules[task.rule].pk,
        "rule_code": task.rule,
        "season_year": task.season_year,
        "season_label": block.seasons[task.season_year].label,
        "crop_name": task.crop,
        "kind": task.kind.value,
        "title": task.title,
        "number": task.number,
        "of": task.of,
        "opens_on": task.opens,
        "best_on": task.best,
        "closes_on": task.closes,
        "state": task.state.value,
        "reason": task.reason,
        "done_on": task.done_on,
        "done_by_kind": kind,
        "done_by": done_by,
        "skipped_because": task.skipped_because or "",
        "assigned_to": list(people.ids),
        "assigned_names": list(people.names),
    }


# Undated tasks -----------------------------------------------------------------------------------


def waiting_rows(plan: FarmPlan, waiting: Iterable[Waiting]) -> Iterator[Row]:
    """What each rule waits for."""
    for each in waiting:
        block = plan.blocks[UUID(each.block)].block
        yield {
            "farm_id": block.farm_id,
            "block_id": block.pk,
            "why": UndatedWhy.WAITING.value,
            "season_year": each.season_year,
            "crop_name": each.crop,
            "about": each.rule,
            "reason": each.reason,
        }


def unplanned_rows(
    plan: FarmPlan,
    planted: Mapping[UUID, Planted],
    defaults: Mapping[UUID, RuleSet],
    climate: Climate | None,
) -> Iterator[Row]:
    """What does not apply on each block, and what is not known of it."""
    for block_id, block in plan.blocks.items():
        for why, about, reason in _not_planned(block, planted.get(block_id), defaults, climate):
            yield {
                "farm_id": block.block.farm_id,
                "block_id": block_id,
                "why": why.value,
                "about": about,
                "reason": reason,
            }


def _not_planned(
    plan: BlockPlan,
    planted: Planted | None,
    defaults: Mapping[UUID, RuleSet],
    climate: Climate | None,
) -> Iterator[tuple[UndatedWhy, str, str]]:
    if planted is None:
        if not plan.rules:
            yield UndatedWhy.NOT_KNOWN, "species", _no_species(plan)
        return
    if planted.main.pk not in defaults:
        if not plan.rules:
            yield UndatedWhy.NOT_KNOWN, "rules", _no_defaults(planted, climate)
        return
    if planted.others:
        yield UndatedWhy.NOT_KNOWN, "species", _several_species(planted)
    covered = {rule.kind for rule in plan.rules.values()}
    for kind, reason in defaults[planted.main.pk].does_not_apply.items():
        if kind not in covered:
            yield UndatedWhy.DOES_NOT_APPLY, kind.value, reason


def _no_species(plan: BlockPlan) -> str:
    return (
        f"No trees or planting lines of a known species are recorded on block {plan.block.code},"
        " so no default rules hold there: add the plants, or rules of the farm's own."
    )


def _no_defaults(planted: Planted, climate: Climate | None) -> str:
    if climate is None:
        return (
            "The farm has no coordinates, so its climate is not known: add its latitude, or choose"
            " a climate for its schedule."
        )
    return (
        f"There are no default rules for {planted.main.common_name}: add rules of the farm's own."
    )


def _several_species(planted: Planted) -> str:
    others = ", ".join(species.common_name for species in planted.others)
    return (
        f"Most trees of this block are {planted.main.common_name}, whose rules it goes by. Rules"
        f" for its other trees ({others}) are yours to add."
    )


# Alerts ------------------------------------------------------------------------------------------


def dated_tasks(plan: FarmPlan, tasks: Iterable[NextTask]) -> Iterator[compute.DatedTask]:
    """Tasks that somebody may have to be told about: those missed in past seasons are past."""
    for task in tasks:
        block = plan.blocks[UUID(task.block)]
        is_past = task.state is TaskState.MISSED and task.season_year < block.season_year
        if not is_past:
            yield compute.DatedTask(
                key=task.key,
                title=task.title,
                place=f"block {block.block.code}",
                opens=task.opens,
                best=task.best,
                closes=task.closes,
                is_settled=task.state.is_settled,
                reason=task.reason,
            )


def alert_row(plan: FarmPlan, alert: compute.Alert, task: NextTaskRow, people: Assigned) -> Row:
    noted = plan.acknowledged.get(alert.key)
    choice = plan.choices.get(alert.task)
    return {
        "farm_id": task.farm_id,
        "key": alert.key,
        "task_key": alert.task,
        "task_id": task.pk,
        "block_id": task.block_id,
        "season_year": task.season_year,
        "kind": alert.kind.value,
        "about_on": alert.about,
        "state": alert.state.value,
        "message": alert.message,
        "reason": alert.reason,
        "assigned_to": list(people.ids),
        "assigned_names": list(people.names),
        "snoozed_until": choice.snoozed_until if choice else None,
        "acknowledged_at": noted.acknowledged_at if noted else None,
        "acknowledged_by": noted.acknowledged_by if noted else "",
    }


def closed_rows(
    stored: Iterable[Alert], standing: frozenset[str], tasks: Mapping[str, UUID], today: dt.date
) -> Iterator[Row]:
    """Alerts whose fact has ended, for as long as the task itself is kept."""
    for row in stored:
        if row.key not in standing and row.task_key in tasks:
            yield {
                **columns_of(row),
                "state": AlertState.CLOSED.value,
                "task_id": tasks[row.task_key],
                "closed_on": row.closed_on or today,
            }
