"""How a day's pollination windows are shown; times are rounded to the minute only here."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from planning.compute.cautions import cautions
from planning.compute.pollination_windows import (
    DayWeather,
    OwnCounts,
    Part,
    Session,
    SetShare,
    cautions_on,
    in_words,
    to_minute,
)
from planning.compute.sun import SunDay
from planning.queries.flower_weather import UsedWeather
from planning.queries.pollination_hours import NO_COORDINATES, FarmDays
from records.models import Farm, Species

METHOD = (
    "The hours of flowers count from sunrise, solar noon or sunset and are cut to daylight or to"
    " the farm's working hours. The sun by NOAA's formulas (Meeus), by astral. Hours of a source"
    " are an estimate for another place, cultivar and season."
)
WORK_SOURCE = "common practice, no source"
NO_WEATHER = "No weather is known for this day."
UNSEEN_WEATHER = "The farm's weather is not yours to see."
UNSEEN_COUNTS = "What was counted on the farm is not yours to see."


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What of the farm's records the caller may see beside its schedule; None: not the counts."""

    place: bool
    weather: bool
    counts: Mapping[UUID, OwnCounts] | None


def window_rows(
    farm: Farm, kinds: Sequence[Species], found: FarmDays, shown: Shown
) -> list[dict[str, Any]]:
    """By day and then by species."""
    inputs, counts = _inputs(farm, found, shown), _counts(kinds, shown)
    days = list(found.hours[kinds[0].pk]) if kinds else []
    return [
        {
            "day": day,
            "species": kind.pk,
            "species_code": kind.code,
            **_sun(found.suns.get(day), found.ground.zone),
            **_parts(found, kind, day),
            **_weather(found.weather.get(day), shown),
            "cautions": _cautions(kind.code, found.weather.get(day)),
            **counts[kind.pk],
            "inputs": inputs,
            "method": METHOD,
        }
        for day in days
        for kind in kinds
    ]


def _inputs(farm: Farm, found: FarmDays, shown: Shown) -> dict[str, Any]:
    work = found.ground.work
    return {
        "latitude": farm.latitude if shown.place else None,
        "longitude": farm.longitude if shown.place else None,
        "time_zone": farm.time_zone,
        "works_from": work.starts if work else None,
        "works_until": work.ends if work else None,
    }


def _sun(sun: SunDay | None, zone: ZoneInfo) -> dict[str, Any]:
    if sun is None:
        return {
            "sunrise": None,
            "solar_noon": None,
            "sunset": None,
            "sun_reason": NO_COORDINATES,
        }
    return {
        "sunrise": _iso(sun.sunrise, zone),
        "solar_noon": _iso(sun.noon, zone),
        "sunset": _iso(sun.sunset, zone),
        "sun_reason": sun.reason,
    }


def _parts(found: FarmDays, kind: Species, day: dt.date) -> dict[str, Any]:
    hours, zone = found.hours[kind.pk][day], found.ground.zone
    return {
        "brush_times": _times(hours.brush, zone),
        "gather_times": _times(hours.gather, zone),
        "brush": _part(hours.brush, zone),
        "gather": _part(hours.gather, zone),
    }


def _times(part: Part, zone: ZoneInfo) -> str:
    return ", ".join(
        f"{_rounded(each.starts, zone):%H:%M}-{_rounded(each.ends, zone):%H:%M}"
        for each in part.sessions
    )


def _part(part: Part, zone: ZoneInfo) -> dict[str, Any]:
    held = part.held
    return {
        "sessions": [_session(session, zone) for session in part.sessions],
        "minutes": round(part.minutes),
        "hours": in_words(held.windows),
        "source": held.source,
        "source_code": held.source_code,
        "is_own": held.is_own,
        "is_default": held.is_default,
        "is_weak": held.is_weak,
        "notes": held.notes,
        "reason": part.reason,
    }


def _session(session: Session, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "starts_at": _iso(session.starts, dt.UTC),
        "ends_at": _iso(session.ends, dt.UTC),
        "starts_local": _iso(session.starts, zone),
        "ends_local": _iso(session.ends, zone),
        "minutes": round(session.minutes),
        "flower_date": session.flower_date,
        "if_shed": session.when,
    }


def _iso(at: dt.datetime | None, zone: dt.tzinfo) -> str | None:
    if at is None:
        return None
    text = _rounded(at, zone).isoformat()
    return text.removesuffix("+00:00") + "Z" if zone is dt.UTC else text


def _rounded(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    return to_minute(at).astimezone(zone)


def _weather(used: UsedWeather | None, shown: Shown) -> dict[str, Any]:
    if not shown.weather:
        return {"weather": None, "weather_reason": UNSEEN_WEATHER}
    if used is None:
        return {"weather": None, "weather_reason": NO_WEATHER}
    read = used.read
    return {
        "weather": {
            "kind": used.kind,
            "forecast_on": used.forecast_on,
            "station": used.station_id,
            "station_name": used.station,
            "tmin_c": read.tmin_c,
            "tmax_c": read.tmax_c,
            "humidity_percent": read.humidity_percent,
            "hours_read": len(read.hours),
        },
        "weather_reason": None,
    }


def _cautions(species: str, used: UsedWeather | None) -> list[dict[str, Any]]:
    """Of the flowers, and of the people who work on them."""
    read: DayWeather | None = used.read if used else None
    flowers = [
        {
            "code": told.caution.code,
            "text": told.caution.text,
            "source": told.caution.source,
            "holds": told.holds,
        }
        for told in cautions_on(species, read)
    ]
    work = [
        {"code": "work", "text": text, "source": WORK_SOURCE, "holds": True}
        for text in cautions("pollination")
    ]
    return [*flowers, *work]


def _counts(kinds: Sequence[Species], shown: Shown) -> dict[UUID, dict[str, Any]]:
    if shown.counts is None:
        unseen = {"own_counts": None, "own_counts_reason": UNSEEN_COUNTS}
        return {kind.pk: unseen for kind in kinds}
    return {
        kind.pk: {"own_counts": _own_counts(shown.counts[kind.pk]), "own_counts_reason": None}
        for kind in kinds
    }


def _own_counts(counts: OwnCounts) -> dict[str, Any]:
    return {
        "hours": [
            {
                "from_minutes": hour.from_minutes,
                "is_best": hour == counts.best,
                **_set_share(hour.set),
            }
            for hour in counts.hours
        ],
        "within_hours": _set_share(counts.held) if counts.held else None,
        "proposal": counts.proposal,
        "reason": counts.reason,
    }


def _set_share(share: SetShare) -> dict[str, Any]:
    return {
        "flowers": share.flowers,
        "fruit": share.fruit,
        "rounds": share.rounds,
        "set_share": round(share.share, 4),
        "low": round(share.low, 4),
        "high": round(share.high, 4),
    }
