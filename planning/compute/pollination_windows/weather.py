"""What a day's warmth and dampness mean for flowers and pollen.

`pollen_day` is the rule of Paull & Duarte 2011, ch. 6 (from Thakur & Singh 1964) for atemoya.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from statistics import fmean

from planning.compute.pollination_windows.values import PollenDay, Span, Sun, Window, span_of

WARMER_THAN_C, DAMPER_THAN_PERCENT = 22.0, 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HourReading:
    """A station's reading of one hour; what is missing is None."""

    at: datetime
    temperature_c: float | None
    humidity_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWeather:
    """A station's day; `humidity_percent` is that of the whole day. Missing stays None."""

    tmin_c: float | None = None
    tmax_c: float | None = None
    humidity_percent: float | None = None
    hours: tuple[HourReading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Afternoon:
    """Means of the hours in which pollen is shed on the first day."""

    temperature_c: float
    humidity_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shedding:
    """By the date on which flowers open: when they shed pollen.

    `likely` goes by the day's highest temperature and the whole day's humidity, where the
    afternoon's are not known.
    """

    known: Mapping[date, PollenDay] = field(default_factory=dict)
    likely: Mapping[date, PollenDay] = field(default_factory=dict)


def pollen_day(temperature_c: float, humidity_percent: float) -> PollenDay:
    """The same day if the afternoon is above 22 C and above 80 % humid, otherwise the next.

    >>> pollen_day(23, 85).value, pollen_day(22, 81).value
    ('same-day', 'next-day')
    """
    is_warm, is_damp = temperature_c > WARMER_THAN_C, humidity_percent > DAMPER_THAN_PERCENT
    return PollenDay.SAME_DAY if is_warm and is_damp else PollenDay.NEXT_DAY


def afternoon_of(weather: DayWeather, span: Span) -> Afternoon | None:
    """Means over a span's hours of which both were read; None where there is none."""
    read = [
        (hour.temperature_c, hour.humidity_percent)
        for hour in weather.hours
        if span.starts <= hour.at < span.ends
        and hour.temperature_c is not None
        and hour.humidity_percent is not None
    ]
    if not read:
        return None
    return Afternoon(
        temperature_c=fmean(warmth for warmth, _ in read),
        humidity_percent=fmean(damp for _, damp in read),
    )


def shedding(
    windows: Iterable[Window], suns: Mapping[date, Sun], weather: Mapping[date, DayWeather]
) -> Shedding:
    """By each date's afternoon: the hours in which its flowers shed if they do so at once."""
    afternoons = [window for window in windows if window.when == PollenDay.SAME_DAY]
    known, likely = {}, {}
    for day, read in weather.items():
        for window in afternoons if day in suns else ():
            span = span_of(window, suns[day])
            afternoon = afternoon_of(read, span) if span else None
            if afternoon is not None:
                known[day] = pollen_day(afternoon.temperature_c, afternoon.humidity_percent)
            elif read.tmax_c is not None and read.humidity_percent is not None:
                likely[day] = pollen_day(read.tmax_c, read.humidity_percent)
    return Shedding(known=known, likely=likely)
