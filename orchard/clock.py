"""The one place that reads the clock.

`AS_OF` (a date) freezes the date for the demo, so that two runs print the same figures.
"""

import datetime as dt
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone


def now() -> dt.datetime:
    """This instant in UTC, on the demo's date when `AS_OF` is set."""
    instant = timezone.now()
    if settings.AS_OF is None:
        return instant
    return instant.replace(
        year=settings.AS_OF.year, month=settings.AS_OF.month, day=settings.AS_OF.day
    )


def today(time_zone: str) -> dt.date:
    """The local date in an IANA time zone; with `AS_OF` set, that date everywhere."""
    if settings.AS_OF is not None:
        return settings.AS_OF
    return now().astimezone(ZoneInfo(time_zone)).date()
