"""When a record may be dated: not in the farm's future, and so far back for field workers."""

import datetime as dt
from typing import Any

from orchard import clock
from orchard.access import Caller
from records.services.saving.faults import fault


def check_not_in_future(record: Any, *, told_at: str | None = None) -> None:
    """What was done or seen lies in the past of the farm's own calendar."""
    field = type(record).dated_by
    check_past(getattr(record, field), record.farm.time_zone, told_at or field)


def check_past(day: dt.date, time_zone: str, field: str) -> None:
    today = clock.today(time_zone)
    if day > today:
        raise fault(field, f"{day} is in the future: it is {today} there.", "in-the-future")


def check_backdating(record: Any, caller: Caller) -> None:
    """Field workers add and correct records only so many days back, a setting of the farm."""
    day = type(record).dated_by
    held = caller.farms.get(record.farm_id) if day else None
    if held is None or record.area in held.writes or record.area not in held.own:
        return
    earliest = clock.today(record.farm.time_zone) - dt.timedelta(days=record.farm.backdate_days)
    stored = type(record).objects.filter(pk=record.pk).values_list(day, flat=True).first()
    if min(getattr(record, day), stored or dt.date.max) < earliest:
        text = f"Field workers of this farm may record and correct back to {earliest}."
        raise fault(day, text, "too-far-back")
