"""On which days the schedule has the pollination visits that are still to come."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from uuid import UUID

from planning.choices import DUE_STATES, WorkKind
from planning.models import NextTask

Visits = Mapping[tuple[UUID, str], Sequence[dt.date]]


def scheduled_visits(farm_id: UUID, season_year: int) -> Visits:
    """By block and crop: the next visit as it is dated, the others as far on as its rule says.

    In one query. A rule without an end gives the next visit alone.
    """
    rows = NextTask.objects.filter(
        farm_id=farm_id,
        season_year=season_year,
        kind=WorkKind.POLLINATION,
        state__in=DUE_STATES,
    ).select_related("rule")
    found: dict[tuple[UUID, str], Sequence[dt.date]] = {}
    for task in rows.order_by("block_id", "crop_name", "number"):
        found.setdefault((task.block_id, task.crop_name), list(_days(task)))
    return found


def _days(task: NextTask) -> Iterator[dt.date]:
    yield task.best_on
    apart = task.rule.repeat_best_days if task.rule else None
    if apart is not None and task.of is not None:
        for further in range(1, task.of - task.number + 1):
            yield task.best_on + dt.timedelta(days=apart * further)
