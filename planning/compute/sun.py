"""Sunrise, solar noon and sunset of a place on its own local date.

astral computes them by the formulas of NOAA's solar calculator, which follow Jean Meeus,
Astronomical Algorithms. The sun rises and sets when its centre is 90.833 degrees from the zenith:
34 minutes of arc for refraction and 16 for its radius (NOAA). Hills and the height of the place
are left out.

astral goes by the date in UTC, so that far from Greenwich it may give the evening of another
local date, before the morning of this one. Here the day's noon is the one nearest to 12:00 of the
local date, its sunrise the last before that noon and its sunset the first after it. In a high
latitude's summer a sunset may thus fall after midnight by the clock.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from astral import Observer, SunDirection
from astral.sun import elevation, noon, time_at_elevation

HORIZON_DEGREES = -0.833
# What NOAA says of its calculator's range (value from memory).
YEARS = range(1901, 2100)
HALF_A_DAY = timedelta(hours=12, minutes=30)
AROUND = (timedelta(0), timedelta(days=-1), timedelta(days=1))

NO_SUNRISE = "The sun does not rise on this day here."
NO_SUNSET = "The sun does not set on this day here."


class SunError(ValueError):
    """A place that is not on the earth, or a year for which the formulas are not made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay:
    """Instants in UTC; a sunrise or sunset that does not happen is None, and `reason` says so.

    `has_light`: the sun stands above the horizon at its noon.
    """

    day: date
    sunrise: datetime | None
    noon: datetime
    sunset: datetime | None
    has_light: bool
    reason: str | None = None


def sun_day(latitude: float, longitude: float, time_zone: str, day: date) -> SunDay:
    """The sun on a local date of an IANA time zone. Degrees, north and east positive.

    >>> sun = sun_day(22.75, 121.15, "Asia/Taipei", date(2024, 6, 21))
    >>> f"{sun.sunrise:%H:%M} {sun.sunset:%H:%M}"
    '21:11 10:43'
    """
    _check(latitude, longitude, day)
    place = Observer(latitude, longitude, 0.0)
    highest = _noon(place, ZoneInfo(time_zone), day)
    rises = [at for at in _crossings(place, SunDirection.RISING, highest) if at <= highest]
    sets = [at for at in _crossings(place, SunDirection.SETTING, highest) if at >= highest]
    has_light = elevation(place, highest, with_refraction=False) > HORIZON_DEGREES
    never = NO_SUNSET if has_light else NO_SUNRISE
    return SunDay(
        day=day,
        sunrise=max(rises, default=None),
        noon=highest,
        sunset=min(sets, default=None),
        has_light=has_light,
        reason=None if rises and sets else never,
    )


def _check(latitude: float, longitude: float, day: date) -> None:
    if not -90 <= latitude <= 90 or not -180 <= longitude <= 180:
        raise SunError(f"{latitude}, {longitude} is no place on the earth")
    if day.year not in YEARS:
        raise SunError(f"the sun is computed for the years {YEARS[0]} to {YEARS[-1]}")


def _noon(place: Observer, zone: ZoneInfo, day: date) -> datetime:
    midday = datetime.combine(day, time(12), tzinfo=zone).astimezone(UTC)
    found = (noon(place, day + shift, UTC) for shift in AROUND)
    return min(found, key=lambda at: abs(at - midday))


def _crossings(place: Observer, direction: SunDirection, near: datetime) -> Iterator[datetime]:
    """When the sun crosses the horizon within half a day of an instant."""
    for shift in AROUND:
        try:
            at = time_at_elevation(
                place, HORIZON_DEGREES, near.date() + shift, direction, UTC, with_refraction=False
            )
        except ValueError:  # it does not, on that date
            continue
        if abs(at - near) <= HALF_A_DAY:
            yield at
