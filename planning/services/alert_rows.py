"""Alerts as rows: those whose fact holds are stored, and the others closed."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import Exists, OuterRef, Q, QuerySet

from planning.choices import AlertState
from planning.compute.alerts import ABOUT_TASKS, Alert, DatedTask
from planning.compute.next_tasks import NextTask, TaskState
from planning.models import Alert as AlertRow
from planning.models import NextTask as NextTaskRow
from planning.queries.schedules import Plan
from planning.services.derived import Row, Written, staged_table, store_rows, whole_scopes
from planning.services.schedule_rows import Names, assigned

ALERT_COLUMNS = (
    *("farm_id", "key", "subject", "task_id", "block_id", "season_year", "kind", "about_on"),
    *("state", "message", "reason", "assigned_to", "assigned_names", "snoozed_until"),
    *("acknowledged_at", "acknowledged_by", "closed_on"),
)


def dated_tasks(plan: Plan, tasks: Iterable[NextTask], until: dt.date) -> Iterator[DatedTask]:
    """Tasks that somebody may have to be told about: those missed in past seasons are past.

    What opens after `until` is not told yet.
    """
    for task in tasks:
        planned = task.planned
        if planned.state.is_settled or planned.opens > until:
            continue
        block = plan.blocks[task.block]
        is_past = (
            planned.state is TaskState.MISSED and task.cycle.season_year < block.seasons.current
        )
        if not is_past:
            yield DatedTask(
                key=task.key,
                title=planned.title,
                place=f"block {block.block.code}",
                opens=planned.opens,
                best=planned.best,
                closes=planned.closes,
                is_settled=False,
                reason=task.reason,
                block=task.block,
                season_year=task.cycle.season_year,
            )


def store_alerts(
    stored: QuerySet[AlertRow],
    plan: Plan,
    alerts: Sequence[tuple[UUID, Alert]],
    names: Names,
    today: dt.date,
) -> Written:
    """Store the alerts of farms that hold, close the others, and drop those of what is gone."""
    gone = list(_of_what_is_gone(stored, today))
    if gone:
        AlertRow.objects.filter(pk__in=gone).delete()
    tasks = _task_ids(alerts)
    rows = (_row(plan, farm_id, alert, tasks, names) for farm_id, alert in alerts)
    written = store_rows(stored, ALERT_COLUMNS, rows, key=("key",), keep_others=True)
    closed = _close_others(stored, today)
    return Written(added=written.added, changed=written.changed + closed, deleted=len(gone))


def _row(
    plan: Plan, farm_id: UUID, alert: Alert, tasks: Mapping[tuple[UUID, str], UUID], names: Names
) -> Row:
    noted, choice = plan.acknowledged.get(alert.key), plan.choices.get(alert.subject)
    return (
        farm_id,
        alert.key,
        alert.subject,
        tasks[farm_id, alert.task] if alert.task else None,
        alert.block,
        alert.season_year,
        alert.kind.value,
        alert.about,
        alert.state.value,
        alert.message,
        alert.reason,
        *assigned(plan, alert.subject, names).columns,
        choice.snoozed_until if choice else None,
        noted.acknowledged_at if noted else None,
        noted.acknowledged_by if noted else "",
        None,
    )


def _task_ids(alerts: Iterable[tuple[UUID, Alert]]) -> dict[tuple[UUID, str], UUID]:
    """The rows of the tasks that alerts are about."""
    about = [(farm_id, alert.task) for farm_id, alert in alerts if alert.task]
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT t.farm_id, t.key, t.id FROM {NextTaskRow._meta.db_table} t"
            " JOIN unnest(%s::uuid[], %s::text[]) AS a (farm_id, key) USING (farm_id, key)",
            [[farm_id for farm_id, _ in about], [key for _, key in about]],
        )
        return {(farm_id, key): pk for farm_id, key, pk in cursor.fetchall()}


def _of_what_is_gone(stored: QuerySet[AlertRow], today: dt.date) -> QuerySet[Any]:
    """Alerts about tasks that are no longer there, and about blocks and farms given up."""
    tasks = NextTaskRow.objects.filter(farm_id=OuterRef("farm_id"), key=OuterRef("subject"))
    is_of_task = Q(kind__in=[kind.value for kind in ABOUT_TASKS])
    is_given_up = Q(block__retired_on__lte=today) | Q(farm__retired_on__lte=today)
    return stored.filter((is_of_task & ~Exists(tasks)) | is_given_up).values_list("pk", flat=True)


def _close_others(stored: QuerySet[AlertRow], today: dt.date) -> int:
    """Close the alerts that stand and were not computed."""
    standing, params = (
        stored.exclude(state=AlertState.CLOSED)
        .order_by()
        .values("id", "farm_id", "key")
        .query.sql_with_params()
    )
    with whole_scopes() as cursor:
        cursor.execute(
            f"SELECT s.id FROM ({standing}) s WHERE NOT EXISTS"
            f" (SELECT FROM {staged_table(AlertRow)} c WHERE c.farm_id = s.farm_id"
            " AND c.key = s.key)",
            params,
        )
        ended = [pk for (pk,) in cursor.fetchall()]
    if ended:
        AlertRow.objects.filter(pk__in=ended).update(state=AlertState.CLOSED, closed_on=today)
    return len(ended)
