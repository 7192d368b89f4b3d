"""The hours in which flowers are brushed, as sessions of a plan: minutes of the farm's day."""

import datetime as dt
from collections.abc import Collection
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.labour import Hours, Session
from planning.compute.pollination_windows import Session as Hour
from planning.queries.pollination_hours import hours_for
from records.models import Farm

SLACK = dt.timedelta(days=45)  # a bloom whose end moves is still within the hours loaded


def brushing_hours(
    farm: Farm, species_ids: Collection[UUID], first: dt.date, last: dt.date
) -> dict[UUID, Hours]:
    """By species and local date; a date without hours is not in it."""
    zone = ZoneInfo(farm.time_zone)
    found = hours_for(farm, species_ids, first, last + SLACK)
    return {
        species_id: {
            day: joined
            for day, hours in days.items()
            if (joined := _joined([_session(day, each, zone) for each in hours.brush.sessions]))
        }
        for species_id, days in found.items()
    }


def _session(day: dt.date, hour: Hour, zone: ZoneInfo) -> Session:
    """Minutes that pass from local midnight: an hour more or less where clocks change before."""
    midnight = dt.datetime.combine(day, dt.time(), tzinfo=zone)
    from_minute = (hour.starts - midnight).total_seconds() / 60
    return Session(from_minute=from_minute, to_minute=from_minute + hour.minutes)


def _joined(sessions: list[Session]) -> list[Session]:
    """In order of the day, those that overlap as one."""
    found: list[Session] = []
    for each in sorted(sessions, key=lambda session: session.from_minute):
        if found and each.from_minute <= found[-1].to_minute:
            until = max(found[-1].to_minute, each.to_minute)
            found[-1] = Session(from_minute=found[-1].from_minute, to_minute=until)
        else:
            found.append(each)
    return found
