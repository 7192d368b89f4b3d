"""The columns of a weather file: one line a day of one station."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from records.importing.cells import Fault
from records.importing.columns import Column, FileKind, Kind
from records.importing.entries import Entry
from records.importing.fieldcolumns import FARM
from records.importing.rows import RowKind
from records.importing.units import TEMPERATURES, celsius, metres_a_second, millimetres, tenths

# No place that grows annonas is colder or hotter: a reading beyond is in another unit.
MOST_RAIN_MM = 2_000
MOST_MJ_M2 = 60
BOUNDS = (
    ("tmin_c", -30, 60, "degrees C"),
    ("tmax_c", -30, 60, "degrees C"),
    ("rain_mm", 0, MOST_RAIN_MM, "mm"),
    ("wind_m_s", 0, 120, "m/s"),
)

READINGS = ("tmin_c", "tmax_c", "rain_mm", "humidity_percent", "wind_m_s", "radiation_mj_m2")

WEATHER = FileKind(
    required=(("day",), READINGS),
    noun="day",
    needed={"day": "date"},
    amounts=READINGS,
    columns=(
        Column(
            name="day",
            kind=Kind.DATE,
            may_be_future=True,
            synonyms=("date", "fecha", "día", "data", "dia"),
        ),
        Column(
            name="tmin_c",
            kind=Kind.TEMPERATURE,
            smallest=-100,
            largest=200,
            synonyms=(
                *("tmin", "t min", "min temp", "min temperature", "minimum temperature"),
                *("temp min", "temperature min", "lowest temperature", "low"),
                *("temperatura mínima", "temp mínima", "mínima"),
            ),
        ),
        Column(
            name="tmax_c",
            kind=Kind.TEMPERATURE,
            smallest=-100,
            largest=200,
            synonyms=(
                *("tmax", "t max", "max temp", "max temperature", "maximum temperature"),
                *("temp max", "temperature max", "highest temperature", "high"),
                *("temperatura máxima", "temp máxima", "máxima"),
            ),
        ),
        Column(
            name="temperature_unit",
            kind=Kind.CHOICE,
            choices={unit: words.replace(" ", ",") for unit, words in TEMPERATURES.items()},
            synonyms=(
                *("unit of temperature", "unidad de temperatura", "unidade de temperatura"),
                "degrees",
            ),
        ),
        Column(
            name="rain_mm",
            kind=Kind.LENGTH,
            largest=MOST_RAIN_MM,
            synonyms=(
                *("rain", "rainfall", "precipitation", "precip"),
                *("lluvia", "precipitación", "chuva", "precipitação"),
            ),
        ),
        Column(
            name="humidity_percent",
            kind=Kind.NUMBER,
            largest=100,
            synonyms=(
                *("humidity", "relative humidity", "rh", "mean humidity"),
                *("humedad", "humedad relativa", "humidade", "humidade relativa", "hr"),
                *("umidade", "umidade relativa"),
            ),
        ),
        Column(
            name="wind_m_s",
            kind=Kind.SPEED,
            largest=500,
            synonyms=(
                *("wind", "wind speed", "mean wind", "mean wind speed"),
                *("viento", "velocidad del viento", "vento", "velocidade do vento"),
            ),
        ),
        Column(
            name="radiation_mj_m2",
            kind=Kind.NUMBER,
            largest=MOST_MJ_M2,
            synonyms=(
                *("radiation", "solar radiation", "radiation mj m2", "solar radiation mj m2"),
                *("radiación", "radiación solar", "radiação", "radiação solar"),
            ),
        ),
        Column(
            name="kind",
            kind=Kind.CHOICE,
            choices={
                "observed": "measured,observado,observada,medido,medida",
                "forecast": "predicted,pronóstico,previsto,previsión,previsão",
            },
            synonyms=("type", "tipo", "observed or forecast"),
        ),
        Column(
            name="forecast_on",
            kind=Kind.DATE,
            synonyms=(
                "forecast of",
                "forecast made on",
                "fecha del pronóstico",
                "data da previsão",
            ),
        ),
        Column(
            name="station",
            kind=Kind.TEXT,
            max_chars=80,
            synonyms=(
                *("weather station", "estación", "estación meteorológica"),
                *("estação", "estação meteorológica"),
            ),
        ),
        FARM,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherRow:
    """A day as its sender entered it, in the units of the record; None where nothing is known."""

    row_number: int
    farm: str
    station: str
    day: date
    kind: str
    forecast_on: date | None
    tmin_c: Decimal | None
    tmax_c: Decimal | None
    rain_mm: Decimal | None
    humidity_percent: Decimal | None
    wind_m_s: Decimal | None
    radiation_mj_m2: Decimal | None
    sheet: str = ""


def weather_day(entry: Entry) -> WeatherRow | None:
    """The day that an entry is; at least one reading is needed."""
    if entry.faults:
        return None
    row = _row(entry)
    _check_dates(entry, row)
    _check_readings(entry, row)
    if all(getattr(row, name) is None for name in READINGS):
        entry.blame(Fault("nothing-read", "Give at least one reading of the day."), *READINGS)
    return None if entry.faults else row


def _row(entry: Entry) -> WeatherRow:
    values = entry.values
    return WeatherRow(
        row_number=entry.row_number,
        farm=values.text("farm"),
        station=values.text("station"),
        day=values.day("day"),
        kind=values.text("kind") or "observed",
        forecast_on=values.date("forecast_on"),
        tmin_c=_converted(entry, "tmin_c", "C", celsius),
        tmax_c=_converted(entry, "tmax_c", "C", celsius),
        rain_mm=_converted(entry, "rain_mm", "mm", millimetres),
        humidity_percent=_tenths(values.number("humidity_percent")),
        wind_m_s=_converted(entry, "wind_m_s", "m/s", metres_a_second),
        radiation_mj_m2=_tenths(values.number("radiation_mj_m2")),
        sheet=entry.sheet,
    )


def _converted(
    entry: Entry, name: str, usual_unit: str, convert: Callable[[Decimal, str], Decimal]
) -> Decimal | None:
    """In the unit that the row names, else the heading, else the usual one."""
    reading = entry.values.number(name)
    if reading is None:
        return None
    heading = entry.headings[name]
    of_row = entry.values.text("temperature_unit") if usual_unit == "C" else ""
    return convert(reading, of_row or heading.unit or usual_unit)


def _tenths(reading: Decimal | None) -> Decimal | None:
    return None if reading is None else tenths(Fraction(reading))


def _check_dates(entry: Entry, row: WeatherRow) -> None:
    if row.kind == "observed" and row.forecast_on:
        detail = "An observed day has no day on which it was forecast."
        entry.blame(Fault("forecast-day-of-observed", detail), "forecast_on")
    if row.kind == "observed" and row.day > entry.today:
        detail = f"A day after today, {entry.today}, cannot have been observed yet."
        entry.blame(Fault("date-in-future", detail), "day")
    if row.kind == "forecast" and (row.forecast_on is None or row.forecast_on > row.day):
        detail = "A forecast says on which day it was made, not after the day it is for."
        entry.blame(Fault("forecast-day-missing", detail), "forecast_on", "kind")


def _check_readings(entry: Entry, row: WeatherRow) -> None:
    for name, lowest, highest, unit in BOUNDS:
        reading = getattr(row, name)
        if reading is not None and not lowest <= reading <= highest:
            detail = (
                f"{reading} {unit} lies outside {lowest} to {highest}. "
                "If it is in another unit, name that in the heading."
            )
            entry.blame(Fault("out-of-range", detail), name)
    if row.tmin_c is not None and row.tmax_c is not None and row.tmin_c > row.tmax_c:
        detail = "The lowest temperature is above the highest."
        entry.blame(Fault("tmin-above-tmax", detail), "tmin_c")


WEATHER_DAYS = RowKind(file=WEATHER, build=weather_day)
