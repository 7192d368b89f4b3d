"""Stores the demo's weather: the co-op's stations, and their days in bulk."""

from orchard.demo import cast as demo
from orchard.demo.weather import Day, weather
from records import models
from records.choices import WeatherKind
from records.services.saving import save


def load_weather(cast: demo.Cast, co_op: models.CoOp, farms: dict[str, models.Farm]) -> None:
    stations = {
        station.name: save(
            models.WeatherStation(co_op=co_op, name=station.name, time_zone=station.time_zone),
            uses=[{"farm_id": farms[code].pk} for code in station.farms],
        )
        for station in cast.stations
    }
    # Thousands of days whose rules the database checks; nothing follows from them one by one.
    models.WeatherDay.objects.bulk_create(
        [_row(stations[day.station], day) for day in weather(cast)], batch_size=1000
    )


def _row(station: models.WeatherStation, day: Day) -> models.WeatherDay:
    return models.WeatherDay(
        station=station,
        day=day.day,
        kind=WeatherKind.FORECAST if day.forecast_on else WeatherKind.OBSERVED,
        forecast_on=day.forecast_on,
        tmin_c=day.tmin_c,
        tmax_c=day.tmax_c,
        rain_mm=day.rain_mm,
        humidity_percent=day.humidity_percent,
    )
