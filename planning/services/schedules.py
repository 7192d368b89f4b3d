"""Next tasks and alerts of farms, brought up to date with their records and their calendar."""

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import transaction

from planning.compute.alerts import Alert, AlertSettings, Fact, alert_of, alerts_of
from planning.compute.next_tasks import NextTask, Waiting, next_tasks
from planning.models import Alert as AlertRow
from planning.models import NextTask as NextTaskRow
from planning.models import ScheduleRun, ScheduleSetting, UndatedTask
from planning.models.next_tasks import UNDATED_KEY
from planning.queries.alert_facts import facts_of
from planning.queries.plantings import Planted, planted_blocks
from planning.queries.schedules import BlockFacts, Plan, facts_of_blocks, plan_of
from planning.services.alert_rows import dated_tasks, store_alerts
from planning.services.default_rules import climate_of, default_rules, keep_defaults
from planning.services.derived import Written, lock, store_rows
from planning.services.schedule_rows import TASK_COLUMNS, task_rows
from planning.services.task_days import Expected, with_days
from planning.services.undated_rows import UNDATED_COLUMNS, Ground, unplanned_rows, waiting_rows
from records.models import Farm, Person, Species


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """What a rebuild wrote."""

    tasks: Written = field(default_factory=Written)
    undated: Written = field(default_factory=Written)
    alerts: Written = field(default_factory=Written)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scope:
    """Some farms, or one block of one, on a day."""

    farms: Sequence[Farm]
    today: dt.date
    settings: Mapping[UUID, ScheduleSetting]
    grounds: Mapping[UUID, Ground]
    plan: Plan
    planted: Mapping[UUID, Planted]
    names: Mapping[UUID, str]
    block_id: UUID | None

    @property
    def where(self) -> dict[str, Any]:
        """Which stored rows are in it."""
        farms = {"farm_id__in": [farm.pk for farm in self.farms]}
        return {**farms, "block_id": self.block_id} if self.block_id else farms


def lock_schedule(farm_id: UUID) -> None:
    """To be taken before any row of the schedule is locked."""
    _lock([farm_id])


def _lock(farm_ids: Collection[UUID]) -> None:
    lock(*(f"schedule of farm {farm_id}" for farm_id in farm_ids))


def rebuild_schedule(farm_id: UUID, today: dt.date, block_id: UUID | None = None) -> Rebuilt:
    """Bring a farm's schedule, or that of one block, up to date; `today` is its local date."""
    return rebuild_schedules([farm_id], today, block_id)


@transaction.atomic
def rebuild_schedules(
    farm_ids: Collection[UUID], today: dt.date, block_id: UUID | None = None
) -> Rebuilt:
    """As of one farm, of many on which it is the same date, in as many statements."""
    _lock(farm_ids)
    farms = list(Farm.objects.filter(pk__in=farm_ids).order_by("pk"))
    scope = _scope(farms, today, block_id)
    blocks = (plan.block_year for plan in scope.plan.blocks.values())
    schedule = next_tasks(blocks, today=today)
    kept = [task for task in schedule.tasks if _is_kept(task, scope.plan)]
    expected = with_days(farms, scope.plan, scope.planted, kept, today)
    tasks = _store_tasks(scope, expected.tasks)
    rebuilt = Rebuilt(
        tasks=tasks,
        undated=_store_undated(scope, schedule.waiting),
        alerts=_store_alerts(scope, expected),
    )
    if block_id is None:
        _note_run(farms, today)
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


def _scope(farms: Sequence[Farm], today: dt.date, block_id: UUID | None) -> _Scope:
    blocks = facts_of_blocks(farms, today, block_id)
    planted = planted_blocks(blocks, today)
    rows = ScheduleSetting.objects.filter(farm__in=farms)
    settings = {setting.farm_id: setting for setting in rows}
    grounds = _grounds(farms, blocks, planted, settings)
    if block_id is None:
        keep_defaults({farm_id: ground.defaults for farm_id, ground in grounds.items()})
    plan = plan_of(farms, blocks, planted, today, block_id)
    return _Scope(
        farms=farms,
        today=today,
        settings=settings,
        grounds=grounds,
        plan=plan,
        planted=planted,
        block_id=block_id,
        names=_names(plan),
    )


def _grounds(
    farms: Sequence[Farm],
    blocks: Sequence[BlockFacts],
    planted: Mapping[UUID, Planted],
    settings: Mapping[UUID, ScheduleSetting],
) -> dict[UUID, Ground]:
    species: dict[UUID, dict[UUID, Species]] = {farm.pk: {} for farm in farms}
    for block in blocks:
        if block.pk in planted:
            main = planted[block.pk].main
            species[block.farm_id][main.pk] = main
    climates = {farm.pk: climate_of(farm, settings.get(farm.pk)) for farm in farms}
    return {
        farm_id: Ground(climate=climate, defaults=default_rules(species[farm_id].values(), climate))
        for farm_id, climate in climates.items()
    }


def _names(plan: Plan) -> dict[UUID, str]:
    ids = {person for choice in plan.choices.values() for person in choice.assigned_to}
    if not ids:
        return {}
    return {person.pk: str(person) for person in Person.objects.filter(pk__in=ids)}


def _is_kept(task: NextTask, plan: Plan) -> bool:
    return task.cycle.season_year >= plan.blocks[task.block].seasons.first_year


def _store_tasks(scope: _Scope, tasks: Sequence[NextTask]) -> Written:
    rows = task_rows(scope.plan, tasks, scope.names)
    stored = NextTaskRow.objects.filter(**scope.where)
    return store_rows(stored, TASK_COLUMNS, rows, key=("key",))


def _store_undated(scope: _Scope, waiting: Sequence[Waiting]) -> Written:
    rows = [
        *waiting_rows(scope.plan, waiting),
        *unplanned_rows(scope.plan, scope.planted, scope.grounds),
    ]
    stored = UndatedTask.objects.filter(**scope.where)
    return store_rows(stored, UNDATED_COLUMNS, rows, key=UNDATED_KEY)


def _store_alerts(scope: _Scope, expected: Expected) -> Written:
    """Those of the farm as a whole are left to rebuilds of all its blocks."""
    short_crews = [] if scope.block_id else expected.short_crews
    alerts = [*_task_alerts(scope, expected.tasks), *_fact_alerts(scope, short_crews)]
    stored = AlertRow.objects.filter(**scope.where)
    return store_alerts(stored, scope.plan, alerts, scope.names, scope.today)


def _task_alerts(scope: _Scope, tasks: Sequence[NextTask]) -> list[tuple[UUID, Alert]]:
    """Each farm is told as far ahead as it likes."""
    found: list[tuple[UUID, Alert]] = []
    by_farm: dict[UUID, list[NextTask]] = {}
    for task in tasks:
        by_farm.setdefault(scope.plan.blocks[task.block].block.farm_id, []).append(task)
    for farm_id, of_farm in by_farm.items():
        setting = scope.settings.get(farm_id)
        settings = AlertSettings(days_ahead=setting.days_ahead) if setting else AlertSettings()
        until = scope.today + dt.timedelta(days=settings.days_ahead)
        dated = dated_tasks(scope.plan, of_farm, until)
        alerts = alerts_of(dated, settings, scope.plan.handling, today=scope.today)
        found += [(farm_id, alert) for alert in alerts]
    return found


def _fact_alerts(
    scope: _Scope, short_crews: Sequence[tuple[UUID, Fact]]
) -> list[tuple[UUID, Alert]]:
    facts = [*facts_of(scope.plan, scope.planted, scope.where, scope.today), *short_crews]
    handling = scope.plan.handling
    return [(farm_id, alert_of(fact, handling, today=scope.today)) for farm_id, fact in facts]


def _note_run(farms: Sequence[Farm], today: dt.date) -> None:
    ScheduleRun.objects.bulk_create(
        [ScheduleRun(farm=farm, computed_for=today) for farm in farms],
        update_conflicts=True,
        unique_fields=["farm"],
        update_fields=["computed_for"],
    )
