"""What a day's warmth and dampness mean for flowers and pollen.

`pollen_day` is the rule of Paull & Duarte 2011, ch. 6 (from Thakur & Singh 1964) for atemoya.
"""

from dataclasses import dataclass
from datetime import datetime
from statistics import fmean

from planning.compute.pollination_windows.values import PollenDay, Span

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


def likely_day(weather: DayWeather) -> PollenDay | None:
    """What the rule would say of the day's highest temperature and the whole day's humidity."""
    if weather.tmax_c is None or weather.humidity_percent is None:
        return None
    return pollen_day(weather.tmax_c, weather.humidity_percent)
