"""Sunrise, solar noon and sunset of a place on its own local date.

astral gives the height of the sun by the formulas of NOAA's solar calculator, which follow Jean
Meeus, Astronomical Algorithms. The sun rises and sets when its centre is 90.833 degrees from the
zenith: 34 minutes of arc for refraction and 16 for its radius (NOAA). Hills and the height of the
place are left out.

The day's noon is the one nearest to 12:00 of the local date, its sunrise lies in the half day
before that noon and its sunset in the half day after it; in a high latitude's summer a sunset may
thus fall after midnight by the clock. astral's own sunrise and sunset go by the date in UTC: they
may give the evening of another local date, and lose the sunrise that slips over midnight in UTC.
So the instants are found here from the height alone.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from astral import Observer
from astral.sun import elevation, noon
from scipy.optimize import brentq

HORIZON_DEGREES = -0.833
# What NOAA says of its calculator's range (value from memory).
YEARS = range(1901, 2100)
DAY, HALF_A_DAY = timedelta(days=1), timedelta(hours=12)
PRECISION_SECONDS = 0.5

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
    has_light = _height(place, highest) > 0
    sunrise = _crossing(place, highest, -HALF_A_DAY) if has_light else None
    sunset = _crossing(place, highest, HALF_A_DAY) if has_light else None
    never = NO_SUNSET if has_light else NO_SUNRISE
    return SunDay(
        day=day,
        sunrise=sunrise,
        noon=highest,
        sunset=sunset,
        has_light=has_light,
        reason=None if sunrise and sunset else never,
    )


def _check(latitude: float, longitude: float, day: date) -> None:
    if not -90 <= latitude <= 90 or not -180 <= longitude <= 180:
        raise SunError(f"{latitude}, {longitude} is no place on the earth")
    if day.year not in YEARS:
        raise SunError(f"the sun is computed for the years {YEARS[0]} to {YEARS[-1]}")


def _noon(place: Observer, zone: ZoneInfo, day: date) -> datetime:
    midday = datetime.combine(day, time(12), tzinfo=zone).astimezone(UTC)
    near = (_noon_near(place, day + shift) for shift in (-DAY, timedelta(0), DAY))
    return min(near, key=lambda at: abs(at - midday))


def _noon_near(place: Observer, day: date) -> datetime:
    """astral takes the equation of time at 00:00 UTC; here it is that of the noon itself."""
    early = noon(place, day, UTC)
    late = noon(place, day + DAY, UTC) - DAY
    passed = (early - datetime.combine(day, time(), tzinfo=UTC)) / DAY
    return early + passed * (late - early)


def _height(place: Observer, at: datetime) -> float:
    """Degrees of the sun's centre above the point at which it rises and sets."""
    return elevation(place, at, with_refraction=False) - HORIZON_DEGREES


def _crossing(place: Observer, highest: datetime, to_midnight: timedelta) -> datetime | None:
    """When the sun crosses the horizon between noon and a midnight; None where it does not."""

    def height(part: float) -> float:
        return _height(place, highest + part * to_midnight)

    if height(1) > 0:
        return None
    part = brentq(height, 0, 1, xtol=PRECISION_SECONDS / HALF_A_DAY.total_seconds())
    return highest + part * to_midnight
