"""What people decide about tasks and alerts. It is kept by key, so that every rebuild heeds it."""

import datetime as dt
from collections.abc import Collection
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from planning.models import Alert, AlertAcknowledgement, NextTask, TaskChoice
from planning.services.schedules import rebuild_schedule
from records.models import FarmRole, Person
from records.services.saving.faults import fault


@transaction.atomic
def choose(
    task: NextTask,
    *,
    today: dt.date,
    skipped_because: str | None = None,
    assigned_to: Collection[Person] | None = None,
) -> NextTask:
    """Skip a task with a reason ("": no longer), or say who is to do it (None: as it is)."""
    values: dict[str, Any] = {}
    if skipped_because is not None:
        _check_skipping(task, skipped_because)
        values["skipped_because"] = skipped_because
    if assigned_to is not None:
        _check_people(task.farm_id, assigned_to, today)
        values["assigned_to"] = [person.pk for person in assigned_to]
    _note(task.farm_id, task.block_id, task.key, values)
    rebuild_schedule(task.farm_id, today, task.block_id)
    return NextTask.objects.get(pk=task.pk)


@transaction.atomic
def handle(alert: Alert, *, today: dt.date, by: str, **wanted: Any) -> Alert:
    """Take note of an alert (`is_acknowledged`), or have it told again later (`snoozed_until`)."""
    if "snoozed_until" in wanted:
        until = wanted["snoozed_until"]
        if until is not None and until <= today:
            text = f"{until} is not ahead: it is {today} there."
            raise fault("snoozed_until", text, "not-ahead")
        values = {"snoozed_until": until}
        _note(alert.farm_id, alert.block_id, alert.subject, values)
    if "is_acknowledged" in wanted:
        _acknowledge(alert, by, is_noted=wanted["is_acknowledged"])
    rebuild_schedule(alert.farm_id, today, alert.block_id)
    return Alert.objects.get(pk=alert.pk)


def _check_skipping(task: NextTask, because: str) -> None:
    if because and task.done_on is not None:
        text = f"This was done on {task.done_on}: there is nothing to skip."
        raise fault("skipped_because", text, "already-done")


def _check_people(farm_id: UUID, people: Collection[Person], today: dt.date) -> None:
    """Only who has a role on the farm can be given work there."""
    roles = FarmRole.objects.filter(farm_id=farm_id, person__in=people).exclude(ends_on__lt=today)
    known = set(roles.values_list("person_id", flat=True))
    for person in people:
        if person.pk not in known:
            raise fault("assigned_to", f"{person} has no role on this farm.", "no-role-there")


def _note(farm_id: UUID, block_id: UUID | None, key: str, values: dict[str, Any]) -> None:
    if values:
        TaskChoice.objects.update_or_create(
            farm_id=farm_id,
            task_key=key,
            defaults=values,
            create_defaults={"block_id": block_id, **values},
        )


def _acknowledge(alert: Alert, by: str, *, is_noted: bool) -> None:
    """The first to take note stays named."""
    if not is_noted:
        AlertAcknowledgement.objects.filter(farm_id=alert.farm_id, alert_key=alert.key).delete()
        return
    AlertAcknowledgement.objects.get_or_create(
        farm_id=alert.farm_id,
        alert_key=alert.key,
        defaults={
            "block_id": alert.block_id,
            "acknowledged_at": timezone.now(),
            "acknowledged_by": by,
        },
    )
