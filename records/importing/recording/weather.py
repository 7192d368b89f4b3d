"""Weather days from the rows of a file, of the farm's own stations."""

from records.importing.cells import Fault
from records.importing.recording.drafts import Draft, Recording
from records.importing.recording.seeking import Seeker
from records.importing.weather import READINGS, WeatherRow
from records.models import WeatherDay, WeatherStation


def weather_day(seek: Seeker) -> Draft:
    """Known by station, day, observed or forecast, and the day of the forecast."""
    row: WeatherRow = seek.row
    station = seek.thing("station") if row.station else _only_station(seek)
    return Draft(
        key=(station, row.day, row.kind, row.forecast_on),
        facts={
            "station": station,
            "day": row.day,
            "kind": row.kind,
            "forecast_on": row.forecast_on,
            **{name: getattr(row, name) for name in READINGS},
        },
    )


def _only_station(seek: Seeker) -> WeatherStation | None:
    stations = list(seek.ground.words("station").things.values())
    if len(stations) == 1:
        return stations[0]
    named = ", ".join(station.name for station in stations)
    detail = f"Say which station: {named}." if stations else "The farm keeps no weather station."
    seek.blame(Fault("station-missing", detail), "station", "day")
    return None


WEATHER_DAYS = Recording(
    model=WeatherDay,
    draft=weather_day,
    said_in={"station": ("station", "day")},
    only_one="day",
)
