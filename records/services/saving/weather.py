"""Rules of weather stations and their days."""

import datetime as dt
from uuid import UUID

from records.choices import WeatherKind
from records.models import Farm, StationUse, WeatherDay, WeatherStation
from records.services import jobs
from records.services.saving.dates import check_past
from records.services.saving.faults import fault
from records.services.saving.links import Given


def prepare_station(station: WeatherStation, given: Given) -> None:
    """A farm's first station is the one it goes by, unless it says otherwise."""
    if station._state.adding and "uses" not in given and not _goes_by_one(station.farm_id):
        given["uses"] = [{"farm_id": station.farm_id}]
    uses = [StationUse(station=station, **use) for use in given.get("uses", [])]
    for number, use in enumerate(uses):
        elsewhere = StationUse.objects.filter(farm_id=use.farm_id).exclude(station=station)
        if any(_meet(use, other) for other in [*uses[:number], *elsewhere]):
            text = f"{use.farm} goes by another station, or twice by this, on some of these days."
            raise fault("uses", text, "station-uses-overlap")
    tell_farms_of(station)


def tell_farms_of(station: WeatherStation) -> None:
    """Have what is derived from the weather of the farms that go by a station rebuilt."""
    jobs.farms_changed(Farm.objects.filter(station_uses__station=station).distinct())


def _goes_by_one(farm_id: UUID | None) -> bool:
    return farm_id is None or StationUse.objects.filter(farm_id=farm_id).exists()


def _meet(one: StationUse, other: StationUse) -> bool:
    """Whether two uses are of one farm and share a day."""
    first, last = dt.date.min, dt.date.max
    return (
        one.farm_id == other.farm_id
        and (one.starts_on or first) <= (other.ends_on or last)
        and (other.starts_on or first) <= (one.ends_on or last)
    )


def prepare_weather_day(day: WeatherDay, given: Given) -> None:
    day.farm_id = day.station.farm_id
    field = "day" if day.kind == WeatherKind.OBSERVED else "forecast_on"
    check_past(getattr(day, field), day.station.time_zone, field)
