"""The one place that reads the calendar.

`AS_OF` (a date) is today's date for the demo, so that two runs print the same figures. Instants
(expiry, leases, times of change) always come from the real clock.
"""

import datetime as dt
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone


def today(time_zone: str) -> dt.date:
    """The local date in an IANA time zone; with `AS_OF` set, that date everywhere."""
    as_of: dt.date | None = settings.AS_OF
    return as_of or timezone.now().astimezone(ZoneInfo(time_zone)).date()
