"""Rules of weather stations and their days."""

from records.choices import WeatherKind
from records.models import WeatherDay, WeatherStation
from records.services.saving.dates import check_past
from records.services.saving.links import Given


def prepare_station(station: WeatherStation, given: Given) -> None:
    """A farm's own station is the one it goes by, unless it says otherwise."""
    if station._state.adding and station.farm_id:
        given.setdefault("uses", [{"farm_id": station.farm_id}])


def prepare_weather_day(day: WeatherDay, given: Given) -> None:
    day.farm_id = day.station.farm_id
    field = "day" if day.kind == WeatherKind.OBSERVED else "forecast_on"
    check_past(getattr(day, field), day.station.time_zone, field)
