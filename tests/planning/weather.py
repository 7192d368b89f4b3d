"""A farm's station and its days, invented."""

import datetime as dt

import numpy as np

from records.models import Farm, StationUse, WeatherDay, WeatherStation

ONE_DAY = dt.timedelta(days=1)


def make_station(farm: Farm, name: str = "shed", **use: dt.date | None) -> WeatherStation:
    """A station of the farm's that it goes by, always unless told otherwise."""
    station = WeatherStation.objects.create(farm=farm, name=name, time_zone=farm.time_zone)
    StationUse.objects.create(farm=farm, station=station, **use)
    return station


def observe(
    station: WeatherStation, first: dt.date, temperatures: list[tuple[float | None, float | None]]
) -> None:
    """Days that follow each other, each with its lowest and highest temperature."""
    WeatherDay.objects.bulk_create(
        WeatherDay(
            station=station, farm=station.farm, day=first + n * ONE_DAY, tmin_c=low, tmax_c=high
        )
        for n, (low, high) in enumerate(temperatures)
        if low is not None or high is not None
    )


def foretell(
    station: WeatherStation, made_on: dt.date, day: dt.date, low: float, high: float
) -> None:
    WeatherDay.objects.create(
        station=station,
        farm=station.farm,
        day=day,
        kind="forecast",
        forecast_on=made_on,
        tmin_c=low,
        tmax_c=high,
    )


def years_of_weather(
    station: WeatherStation, first_year: int, years: int, seed: int = 1
) -> tuple[np.ndarray, np.ndarray]:
    """Observed from 1 January on; springs differ from year to year."""
    first = dt.date(first_year, 1, 1)
    size = (dt.date(first_year + years, 1, 1) - first).days
    rng = np.random.default_rng(seed)
    days = [first + n * ONE_DAY for n in range(size)]
    warmth = dict(enumerate(rng.normal(0, 2, years), start=first_year))
    mean = np.array(
        [
            18 - 6 * np.cos((day.timetuple().tm_yday - 25) / 365.25 * 2 * np.pi) + warmth[day.year]
            for day in days
        ]
    )
    low, high = (mean - 5).round(1), (mean + 5).round(1)
    observe(station, first, list(zip(low.tolist(), high.tolist(), strict=True)))
    return low, high
