"""A farm's next tasks and alerts, brought up to date with its records and its calendar."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from uuid import UUID

from django.db import transaction

from planning.compute.alerts import AlertSettings, alerts_of
from planning.compute.next_tasks import NextTask, Waiting, next_tasks
from planning.compute.next_tasks.annona import Climate, RuleSet
from planning.models import Alert, ScheduleRun, ScheduleSetting, UndatedTask
from planning.models import NextTask as NextTaskRow
from planning.models.next_tasks import UNDATED_KEY
from planning.queries.plantings import Planted, planted_blocks
from planning.queries.schedules import FarmPlan, blocks_in_use, farm_plan
from planning.services.derived import Written, lock, store
from planning.services.schedule_rows import (
    alert_row,
    assigned,
    closed_rows,
    dated_tasks,
    task_row,
    unplanned_rows,
    waiting_rows,
)
from planning.services.task_rules import climate_of, default_rules, keep_defaults
from records.models import Farm, Person


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """What a rebuild wrote."""

    tasks: Written
    undated: Written
    alerts: Written


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scope:
    """The farm, or one block of it, on a day."""

    farm: Farm
    today: dt.date
    setting: ScheduleSetting | None
    climate: Climate | None
    plan: FarmPlan
    planted: dict[UUID, Planted]
    defaults: dict[UUID, RuleSet]
    block_id: UUID | None
    names: dict[UUID, str] = field(default_factory=dict)

    @property
    def where(self) -> dict[str, UUID]:
        """Which stored rows are in it."""
        farm = {"farm_id": self.farm.pk}
        return {**farm, "block_id": self.block_id} if self.block_id else farm


NOTHING = Written(added=0, changed=0, deleted=0)


def lock_schedule(farm_id: UUID) -> None:
    """To be taken before any row of the schedule is locked."""
    lock(f"schedule of farm {farm_id}")


@transaction.atomic
def rebuild_schedule(farm_id: UUID, today: dt.date, block_id: UUID | None = None) -> Rebuilt:
    """Bring a farm's schedule, or that of one block, up to date; `today` is its local date."""
    lock_schedule(farm_id)
    farm = Farm.objects.filter(pk=farm_id).first()
    if farm is None:
        return Rebuilt(tasks=NOTHING, undated=NOTHING, alerts=NOTHING)
    scope = _scope(farm, today, block_id)
    schedule = next_tasks([plan.block_year for plan in scope.plan.blocks.values()], today=today)
    kept = [task for task in schedule.tasks if _is_kept(task, scope.plan)]
    tasks = _store_tasks(scope, kept)
    rebuilt = Rebuilt(
        tasks=tasks,
        undated=_store_undated(scope, schedule.waiting),
        alerts=_store_alerts(scope, kept),
    )
    if block_id is None:
        ScheduleRun.objects.update_or_create(farm=farm, defaults={"computed_for": today})
    return rebuilt


def farms_on_another_day(today_in: Callable[[str], dt.date]) -> list[UUID]:
    """Farms whose schedule was computed for another date than it is there, or not yet."""
    zones = Farm.objects.values_list("time_zone", flat=True).distinct()
    return [
        farm_id
        for zone in zones
        for farm_id in Farm.objects.filter(time_zone=zone, retired_on=None)
        .exclude(schedule_run__computed_for=today_in(zone))
        .values_list("pk", flat=True)
    ]


def _scope(farm: Farm, today: dt.date, block_id: UUID | None) -> _Scope:
    blocks = blocks_in_use(farm, today, block_id)
    planted = planted_blocks(blocks, today)
    setting = ScheduleSetting.objects.filter(farm=farm).first()
    species = {each.main.pk: each.main for each in planted.values()}
    climate = climate_of(farm, setting)
    defaults = default_rules(species.values(), climate)
    if block_id is None:
        keep_defaults(farm, defaults)
    plan = farm_plan(farm, blocks, planted, today)
    return _Scope(
        farm=farm,
        today=today,
        setting=setting,
        climate=climate,
        plan=plan,
        planted=planted,
        defaults=defaults,
        block_id=block_id,
        names=_names(plan),
    )


def _names(plan: FarmPlan) -> dict[UUID, str]:
    ids = {person for choice in plan.choices.values() for person in choice.assigned_to}
    if not ids:
        return {}
    return {person.pk: str(person) for person in Person.objects.filter(pk__in=ids)}


def _is_kept(task: NextTask, plan: FarmPlan) -> bool:
    return task.season_year >= plan.blocks[UUID(task.block)].first_year


def _store_tasks(scope: _Scope, tasks: Iterable[NextTask]) -> Written:
    rows = [
        task_row(scope.plan, task, assigned(scope.plan, task.key, scope.names)) for task in tasks
    ]
    return store(NextTaskRow.objects.filter(**scope.where), rows, key=("key",))


def _store_undated(scope: _Scope, waiting: Iterable[Waiting]) -> Written:
    rows = [
        *waiting_rows(scope.plan, waiting),
        *unplanned_rows(scope.plan, scope.planted, scope.defaults, scope.climate),
    ]
    return store(UndatedTask.objects.filter(**scope.where), rows, key=UNDATED_KEY)


def _store_alerts(scope: _Scope, tasks: Iterable[NextTask]) -> Written:
    settings = AlertSettings(days_ahead=scope.setting.days_ahead) if scope.setting else None
    found = alerts_of(
        dated_tasks(scope.plan, tasks),
        settings or AlertSettings(),
        scope.plan.handling,
        today=scope.today,
    )
    stored_tasks = NextTaskRow.objects.filter(**scope.where)
    ids = dict(stored_tasks.values_list("key", "pk"))
    wanted = stored_tasks.filter(key__in=[alert.task for alert in found])
    by_key = {row.key: row for row in wanted}
    rows = [
        alert_row(
            scope.plan,
            alert,
            by_key[alert.task],
            assigned(scope.plan, alert.task, scope.names),
        )
        for alert in found
    ]
    stored = Alert.objects.filter(**scope.where)
    standing = frozenset(alert.key for alert in found)
    closed = closed_rows(stored, standing, ids, scope.today)
    return store(stored, [*rows, *closed], key=("key",))
