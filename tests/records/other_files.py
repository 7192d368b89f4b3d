"""One file of each kind but weighings, in several languages, and a place where it can land."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from records import models
from records.services.saving import save
from tests.cast import Place
from tests.records.making import make_batch, make_round, make_tree
from tests.records.sending import Rows


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherFile:
    """`corrected` is the same file with its second row mended, and nothing else.

    `edit` is what somebody corrects in a record by hand, a field that the file speaks of too.
    """

    model: type[Any]
    rows: Rows
    corrected: Rows
    shown: tuple[str, ...]
    stored: list[tuple[Any, ...]]
    mended: tuple[Any, ...]
    edit: tuple[str, Any] = ("people", ["Eva"])


def prepare(place: Place) -> None:
    """Trees, a named pollen batch, a round and a weather station on our farm."""
    for position in (2, 3):
        make_tree(place, position)
    batch = make_batch(place, name="jar 7", storage_c=4)
    make_round(place, pollen_batch=batch, flowers=40, pollinated_on=dt.date(2026, 5, 21))
    station(place)


def station(place: Place, name: str = "Yard") -> models.WeatherStation:
    made: models.WeatherStation = save(
        models.WeatherStation(farm=place.farm, name=name, time_zone="Atlantic/Madeira")
    )
    return made


CREW = "Ana, Rui"
HEADINGS_OF_ROUNDS = [
    *("Date", "Time", "Block", "Cultivar", "Row", "Positions", "Method", "Pollen"),
    *("Flowers", "Crew", "Minutes"),
]
HEADINGS_OF_COUNTS = ["Data", "Talhão", "Data da polinização", "Flores", "Frutos", "Pessoas"]

FILES: dict[str, OtherFile] = {
    # Portuguese, decimal comma, a column for each grade
    "intakes": OtherFile(
        model=models.Intake,
        rows=[
            ["Data", "Hora", "Guia", "Talhão", "Bruto (kg)", "Tara (kg)", "A (kg)", "Refugo (kg)"],
            ["2026-09-10", "07:30", "G-7", "N1", "120,5", "20,5", "60", "9,5"],
            ["2026-09-11", "08:00", "G-8", "N1", "50,25", "", "20", ""],
        ],
        corrected=[
            ["Data", "Hora", "Guia", "Talhão", "Bruto (kg)", "Tara (kg)", "A (kg)", "Refugo (kg)"],
            ["2026-09-10", "07:30", "G-7", "N1", "120,5", "20,5", "60", "9,5"],
            ["2026-09-11", "08:00", "G-8", "N1", "51,25", "", "21", ""],
        ],
        shown=("docket", "received_at", "weight_kind", "net_g"),
        stored=[
            ("G-7", dt.time(7, 30), "gross", 100_000),
            ("G-8", dt.time(8, 0), "gross", 50_250),
        ],
        mended=("G-8", dt.time(8, 0), "gross", 51_250),
        edit=("tare_g", 21_000),
    ),
    # Spanish, Fahrenheit and inches
    "weather-days": OtherFile(
        model=models.WeatherDay,
        rows=[
            ["Fecha", "Mínima (°F)", "Máxima (°F)", "Lluvia (in)", "Estación"],
            ["2026-05-01", 59, 77, "0.5", "yard"],
            ["2026-05-02", 50, 68, "", "yard"],
        ],
        corrected=[
            ["Fecha", "Mínima (°F)", "Máxima (°F)", "Lluvia (in)", "Estación"],
            ["2026-05-01", 59, 77, "0.5", "yard"],
            ["2026-05-02", 50, 86, "", "yard"],
        ],
        shown=("tmin_c", "tmax_c", "rain_mm"),
        stored=[
            (Decimal("15.0"), Decimal("25.0"), Decimal("12.7")),
            (Decimal("10.0"), Decimal("20.0"), None),
        ],
        mended=(Decimal("10.0"), Decimal("30.0"), None),
        edit=("rain_mm", Decimal("13.0")),
    ),
    "task-logs": OtherFile(
        model=models.TaskLog,
        rows=[
            ["Data", "Talhão", "Trabalho", "Fila", "Posição", "Pessoas", "Minutos", "Método"],
            ["2026-02-10", "N1", "poda", 1, 2, "Ana; Rui", 240, "desponta"],
            ["2026-02-11", "N1", "capina", "", "", "Rui", 60, ""],
        ],
        corrected=[
            ["Data", "Talhão", "Trabalho", "Fila", "Posição", "Pessoas", "Minutos", "Método"],
            ["2026-02-10", "N1", "poda", 1, 2, "Ana; Rui", 240, "desponta"],
            ["2026-02-11", "N1", "capina", "", "", "Rui; Eva", 90, ""],
        ],
        shown=("kind", "people", "minutes", "details", "trees__position"),
        stored=[
            ("pruning", ["Ana", "Rui"], 240, {"method": "heading"}, 2),
            ("weeding", ["Rui"], 60, {}, None),
        ],
        mended=("weeding", ["Rui", "Eva"], 90, {}, None),
    ),
    "growth-stages": OtherFile(
        model=models.GrowthStage,
        rows=[
            ["Fecha", "Parcela", "Estadio", "Visto en", "Árboles observados", "Nota"],
            ["2026-05-13", "N1", "61", 3, 20, "sombra"],
            ["2026-05-13", "N1", "65", 8, 20, ""],
        ],
        corrected=[
            ["Fecha", "Parcela", "Estadio", "Visto en", "Árboles observados", "Nota"],
            ["2026-05-13", "N1", "61", 3, 20, "sombra"],
            ["2026-05-13", "N1", "65", 9, 20, ""],
        ],
        shown=("bbch", "trees_seen", "trees_looked_at", "note"),
        stored=[("61", 3, 20, "sombra"), ("65", 8, 20, "")],
        mended=("65", 9, 20, ""),
        edit=("trees_seen", 4),
    ),
    "pollination-rounds": OtherFile(
        model=models.PollinationRound,
        rows=[
            HEADINGS_OF_ROUNDS,
            ["2026-05-22", "6:30 am", "N1", "Ondrela", 1, "1-3", "brush", "Jar 7", 310, CREW, 95],
            ["2026-05-23", "", "N1", "Ondrela", "", "", "natural", "", 50, "", ""],
        ],
        corrected=[
            HEADINGS_OF_ROUNDS,
            ["2026-05-22", "6:30 am", "N1", "Ondrela", 1, "1-3", "brush", "Jar 7", 310, CREW, 95],
            ["2026-05-23", "", "N1", "Ondrela", "", "", "natural", "", 55, "", ""],
        ],
        shown=("started_at", "method", "pollen_batch__name", "flowers", "people", "minutes"),
        stored=[
            (dt.time(6, 30), "brush", "jar 7", 310, ["Ana", "Rui"], 95),
            (None, "natural", None, 50, [], None),
        ],
        mended=(None, "natural", None, 55, [], None),
    ),
    "fruit-counts": OtherFile(
        model=models.FruitCount,
        rows=[
            HEADINGS_OF_COUNTS,
            ["2026-06-20", "N1", "2026-05-21", 40, 36, "Ana"],
            ["2026-06-27", "N1", "2026-05-21", 40, 35, "Ana"],
        ],
        corrected=[
            HEADINGS_OF_COUNTS,
            ["2026-06-20", "N1", "2026-05-21", 40, 36, "Ana"],
            ["2026-06-27", "N1", "2026-05-21", 40, 34, "Ana"],
        ],
        shown=("counted", "flowers_looked_at", "fruit", "rounds__flowers"),
        stored=[("marked-flowers", 40, 36, 40), ("marked-flowers", 40, 35, 40)],
        mended=("marked-flowers", 40, 34, 40),
    ),
}
