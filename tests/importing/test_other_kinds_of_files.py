"""Intakes, weather, work, stages, rounds and counts come in by the same pipeline."""

from collections.abc import Mapping
from datetime import date, time
from decimal import Decimal
from itertools import chain
from typing import Any

import pytest

from records import choices
from records.importing import counts, fieldcolumns, intakes, rounds, tasklogs
from records.importing.columns import Kind, heading_key
from records.importing.kinds import KINDS
from records.importing.reading import Settings, read_as
from records.importing.rows import RowProblem
from records.importing.units import fold
from tests.importing.making import TODAY, as_csv, as_xlsx

KNOWN = {"block": ["P1", "P2"], "grade": ["Extra", "Segunda"]}


def read_kind(kind: str, *rows: list[Any], **settings: Any) -> list[Any]:
    content = as_csv(rows).encode()
    reading = read_as(KINDS[kind], content, "f.csv", Settings(known=KNOWN, **settings), TODAY)
    assert (reading.questions, reading.columns.missing, reading.columns.problems) == ((), (), ())
    return list(reading.rows())


def read_one(kind: str, cells: Mapping[str, str], **settings: Any) -> Any:
    (row,) = read_kind(kind, list(cells), list(cells.values()), **settings)
    return row


def codes(kind: str, cells: Mapping[str, str]) -> list[tuple[str, str]]:
    rows = read_kind(kind, list(cells), list(cells.values()))
    return [(row.column, row.code) for row in rows if isinstance(row, RowProblem)]


@pytest.mark.parametrize("kind", KINDS)
def test_no_word_stands_for_two_columns_of_a_kind(kind: str) -> None:
    keys = [
        {heading_key(word) for word in (column.name, *column.synonyms)}
        for column in KINDS[kind].file.columns
    ]
    assert len(set(chain(*keys))) == sum(map(len, keys))


@pytest.mark.parametrize("kind", KINDS)
def test_no_spelling_stands_for_two_choices_of_a_column(kind: str) -> None:
    for column in KINDS[kind].file.columns:
        spellings = [
            {fold(word) for word in (value, *words.split(","))}
            for value, words in column.choices.items()
        ]
        assert len(set().union(*spellings)) == sum(map(len, spellings)), column.name


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_kind_names_are_columns_of_its_own(kind: str) -> None:
    file = KINDS[kind].file
    named = {*file.needed, *file.carried, *file.amounts, *file.added_up, *file.spread, *file.once}
    named |= set(chain(*file.required, *file.exclusive))
    assert named <= set(file.by_name)


# Intakes -----------------------------------------------------------------------------------------

INTAKE = {
    "Data": "13/04/2026",
    "Hora": "07h30",
    "Quinta": "TRA",
    "Guia": "G-7",
    "Variedade": "Orvelada",
    "Talhão": "P1",
    "Caixas": "10",
    "Bruto (kg)": "120,5",
    "Tara (kg)": "20",
    "Extra (kg)": "60",
    "Segunda (kg)": "30,25",
    "Refugo (kg)": "9",
    "Motivo": "rachada",
}


def test_an_intake_keeps_what_came_in_and_what_sorting_found() -> None:
    row = read_one("intakes", INTAKE)
    assert (row.received_on, row.received_at) == (date(2026, 4, 13), time(7, 30))
    assert (row.farm, row.docket, row.cultivar, row.block) == ("TRA", "G-7", "Orvelada", "P1")
    assert (row.weight_is, row.weight_g, row.tare_total_g) == ("gross", 120_500, 20_000)
    extra, second, rejects = row.sorted_weights
    assert (extra.grade, extra.reject_reason, extra.weight_g) == ("Extra", "", 60_000)
    assert (second.grade, second.weight, second.unit) == ("Segunda", Decimal("30.25"), "kg")
    assert (rejects.grade, rejects.reject_reason, rejects.weight_g) == ("", "rachada", 9_000)
    assert [part.column for part in row.sorted_weights] == [
        "Extra (kg)",
        "Segunda (kg)",
        "Refugo (kg)",
    ]


def test_an_intake_may_have_one_grade_a_line() -> None:
    cells = {"Date": "2026-04-13", "Net kg": "10", "Grade": "Extra", "Sorted (kg)": "9.5"}
    (part,) = read_one("intakes", cells).sorted_weights
    assert (part.grade, part.weight_g) == ("Extra", 9_500)


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({"Segunda (kg)": "40"}, [("Bruto (kg)", "grades-exceed-net")]),  # 109 of 100.5 kg
        ({"Segunda (kg)": "32"}, []),  # a second scale's half a percent
        ({"Segunda (kg)": ""}, []),
        ({"Bruto (kg)": "", "Tara (kg)": ""}, [("Bruto (kg)", "nothing-weighed")]),
        ({"Hora": "25:00"}, [("Hora", "not-a-time")]),
        ({"Data": "2026-07-01"}, [("Data", "date-in-future")]),  # today is 30 June
    ],
)
def test_an_intake_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    assert codes("intakes", {**INTAKE, **cells}) == found


# Weather -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "cell", "name", "value"),
    [
        # NIST Special Publication 811, B.8 and B.9 (values from memory)
        ("Tmax (°F)", "212", "tmax_c", None),  # beyond what any orchard has
        ("Tmax (°F)", "95", "tmax_c", "35.0"),
        ("Tmin (ºF)", "32", "tmin_c", "0.0"),  # with the sign for "o"
        ("Min temp F", "59.9", "tmin_c", "15.5"),
        ("Tmax (°C)", "35.04", "tmax_c", "35.0"),
        ("Temperatura máxima", "35,5", "tmax_c", "35.5"),  # unnamed is Celsius
        ("Rain (in)", "1", "rain_mm", "25.4"),
        ("Rainfall inches", "0.5", "rain_mm", "12.7"),
        ("Chuva (pol)", "2", "rain_mm", "50.8"),
        ("Lluvia (cm)", "1.2", "rain_mm", "12.0"),
        ("Precipitação", "12", "rain_mm", "12.0"),  # unnamed is millimetres
        ("Wind (km/h)", "36", "wind_m_s", "10.0"),
        ("Wind speed mph", "10", "wind_m_s", "4.5"),
        ("Vento (m/s)", "4", "wind_m_s", "4.0"),
        ("RH (%)", "81.25", "humidity_percent", "81.2"),  # a half to the even one
        ("Radiation (MJ/m2)", "18", "radiation_mj_m2", "18.0"),
    ],
)
def test_readings_are_turned_into_the_units_of_the_record(
    heading: str, cell: str, name: str, value: str | None
) -> None:
    row = read_one("weather-days", {"Date": "2026-04-13", heading: cell}, decimal_mark=mark(cell))
    if value is None:
        assert row.code == "out-of-range"
    else:
        assert getattr(row, name) == Decimal(value)


def mark(cell: str) -> str:
    return "," if "," in cell else "."


def test_a_row_may_name_its_own_unit_of_temperature() -> None:
    cells = {"Date": "2026-04-13", "Tmin": "50", "Tmax": "68", "Unit of temperature": "°F"}
    row = read_one("weather-days", cells)
    assert (row.tmin_c, row.tmax_c) == (Decimal("10.0"), Decimal("20.0"))


@pytest.mark.parametrize("missing", ["", "-", "---"])
def test_a_missing_reading_stays_missing(missing: str) -> None:
    row = read_one("weather-days", {"Date": "2026-04-13", "Tmin": "12", "Rain": missing})
    assert (row.tmin_c, row.rain_mm) == (Decimal("12.0"), None)


FORECAST = {"Date": "2026-07-02", "Kind": "forecast", "Forecast of": "2026-06-30", "Tmax": "20"}


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({}, []),
        ({"Forecast of": ""}, [("Forecast of", "forecast-day-missing")]),
        ({"Forecast of": "2026-07-01"}, [("Forecast of", "date-in-future")]),
        ({"Kind": "", "Forecast of": ""}, [("Date", "date-in-future")]),  # observed, after today
        ({"Kind": "observed", "Date": "2026-06-29"}, [("Forecast of", "forecast-day-of-observed")]),
        ({"Kind": "guess"}, [("Kind", "unknown-choice")]),
        ({"Tmax": ""}, [("Tmax", "nothing-read")]),
        ({"Tmax": "95"}, [("Tmax", "out-of-range")]),  # Fahrenheit without its name
    ],
)
def test_a_day_of_weather_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    assert codes("weather-days", {**FORECAST, **cells}) == found


def test_the_lowest_temperature_is_not_above_the_highest() -> None:
    cells = {"Date": "2026-04-13", "Tmin": "21", "Tmax": "20"}
    assert codes("weather-days", cells) == [("Tmin", "tmin-above-tmax")]


def test_a_month_of_weather_has_days_as_numbers_and_averages_below() -> None:
    sheet = [["Dia", "Tmin", "Tmax"], [1, 12, 20], [2, 13, 21], ["Média", 12.5, 20.5]]
    content = as_xlsx({"Abril 2026": sheet})
    reading = read_as(KINDS["weather-days"], content, "w.xlsx", Settings(), TODAY)
    assert [row.day.isoformat() for row in reading.rows()] == ["2026-04-01", "2026-04-02"]
    assert [remark.code for remark in reading.remarks] == ["sheet-name", "means"]


# Work --------------------------------------------------------------------------------------------

PRUNING = {
    "Date": "2026-02-10",
    "Block": "P1",
    "Work": "Poda",
    "Workers": "Ana; Rui",
    "Minutes": "240",
    "Método": "Despunte",
    "Shoots before (cm)": "60; 80,5",
    "Cut off (cm)": "30; 45",
}


def test_work_keeps_the_details_of_its_kind() -> None:
    row = read_one("task-logs", PRUNING)
    assert (row.kind, row.people, row.minutes) == ("pruning", ("Ana", "Rui"), 240)
    assert row.details == {
        "method": "heading",
        "shoots_before_cm": [60.0, 80.5],
        "shoots_removed_cm": [30.0, 45.0],
    }


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({"Work": "riego"}, [("Método", "unknown-field")]),  # watering has no pruning method
        ({"Cut off (cm)": "30; 90"}, [("Cut off (cm)", "longer-than-the-shoot")]),
        ({"Cut off (cm)": "30"}, [("Cut off (cm)", "shoots-differ")]),
        ({"Cut off (cm)": "some"}, [("Cut off (cm)", "not-a-number")]),
        ({"Work": "siesta"}, [("Work", "unknown-choice")]),
        ({"Work": ""}, [("Work", "missing")]),
        ({"Minutes": "72001"}, [("Minutes", "out-of-range")]),
        ({"Hours": "5"}, [("Hours", "hours-differ")]),  # of 240 minutes
    ],
)
def test_work_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    wrong = codes("task-logs", {**PRUNING, **cells})
    assert wrong[: len(found)] == found
    assert len(wrong) >= 1


def test_hours_are_worked_but_where_they_are_a_detail() -> None:
    weeding = {"Date": "2026-02-10", "Block": "P1", "Work": "capina", "Horas": "2.5"}
    row = read_one("task-logs", weeding)
    assert (row.minutes, row.details) == (150, {})
    row = read_one("task-logs", {**weeding, "Work": "rega", "Minutes": "30"})
    assert (row.minutes, row.details) == (30, {"hours": 2.5})


def test_a_repeated_date_may_be_left_blank_to_the_last_row_of_work() -> None:
    rows = read_kind(
        "task-logs",
        ["Date", "Block", "Work", "Minutes"],
        ["2026-02-10", "P1", "poda", 60],
        ["", "P2", "riego", 30],
        ["", "", "monda", ""],
        ["Total", "", "", 90],
    )
    assert [(row.done_on.day, row.block, row.kind) for row in rows] == [
        (10, "P1", "pruning"),
        (10, "P2", "irrigation"),
        (10, "P2", "thinning"),
    ]


# Growth stages -----------------------------------------------------------------------------------

STAGE = {"Date": "2026-04-13", "Block": "P1", "BBCH": "65", "Seen on": "8", "Trees checked": "20"}


@pytest.mark.parametrize(
    ("written", "bbch"),
    [("65", "65"), ("5", "05"), ("BBCH 7", "07"), ("bbch65", "65"), ("00", "00")],
)
def test_a_stage_is_two_digits(written: str, bbch: str) -> None:
    row = read_one("growth-stages", {**STAGE, "BBCH": written})
    assert (row.bbch, row.trees_seen, row.trees_looked_at) == (bbch, 8, 20)


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({"BBCH": "100"}, [("BBCH", "not-a-stage")]),
        ({"BBCH": "61; 65"}, [("BBCH", "not-a-stage")]),  # each has a row of its own
        ({"BBCH": "bloom"}, [("BBCH", "not-a-stage")]),
        ({"Date": "2026-07-01"}, [("Date", "date-in-future")]),
        ({"Seen on": "21"}, [("Seen on", "seen-above-looked-at")]),
        ({"Seen on": "", "Trees checked": ""}, [("Seen on", "trees-missing")]),
    ],
)
def test_a_stage_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    assert codes("growth-stages", {**STAGE, **cells}) == found


def test_a_stage_of_one_tree_counts_no_others() -> None:
    tree = {"Date": "2026-04-13", "Block": "P1", "Tree": "A-1", "BBCH": "65"}
    assert read_one("growth-stages", tree).tree == "A-1"
    both = {**tree, "Seen on": "1", "Trees checked": "2"}
    assert codes("growth-stages", both) == [("Seen on", "tree-and-trees")]


# Rounds ------------------------------------------------------------------------------------------

ROUND = {
    "Fecha": "13/04/2026",
    "Hora": "5:30 pm",
    "Parcela": "P1",
    "Cultivar": "Orvelada",
    "Fila": "3",
    "Posiciones": "1-24",
    "Método": "Pincel",
    "Polen": "jar 7",
    "Flores": "310",
    "Personas": "Ana, Rui",
    "Minutos": "95",
}


def test_a_round_keeps_its_trees_and_its_pollen() -> None:
    row = read_one("pollination-rounds", ROUND)
    assert (row.pollinated_on, row.started_at) == (date(2026, 4, 13), time(17, 30))
    assert (row.row, row.first_position, row.last_position) == (3, 1, 24)
    assert (row.method, row.pollen_batch, row.is_bagged) == ("brush", "jar 7", False)
    assert (row.flowers, row.people, row.minutes) == (310, ("Ana", "Rui"), 95)


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({"Polen": "jar 7; jar 8"}, [("Polen", "several-batches")]),
        ({"Polen": "jar 7 y jar 8"}, [("Polen", "several-batches")]),
        ({"Polen": "11/05"}, []),
        ({"Polen": ""}, [("Polen", "missing")]),
        ({"Método": "natural"}, [("Polen", "pollen-not-by-hand")]),
        ({"Método": "natural", "Polen": ""}, []),
        ({"Flores": "0"}, [("Flores", "out-of-range")]),
        ({"Flores": ""}, [("Flores", "missing")]),
        ({"Posiciones": "24-1"}, [("Posiciones", "not-a-range")]),
        ({"Posiciones": "7"}, []),
        ({"Fila": ""}, [("Fila", "missing")]),
        ({"Cultivar": ""}, [("Cultivar", "missing")]),
    ],
)
def test_a_round_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    assert codes("pollination-rounds", {**ROUND, **cells}) == found


def test_flowers_left_to_nature_have_no_bag() -> None:
    cells = {**ROUND, "Método": "natural", "Polen": "", "Embolsado": "sí"}
    assert codes("pollination-rounds", cells) == [("Embolsado", "bagging-of-another-method")]


# Counts ------------------------------------------------------------------------------------------

COUNT = {
    "Data": "13/05/2026",
    "Talhão": "P1",
    "Data da polinização": "13/04/2026",
    "Flores": "120",
    "Frutos": "66",
}


def test_a_count_of_marked_flowers_keeps_its_denominator() -> None:
    row = read_one("fruit-counts", COUNT)
    assert (row.kind, row.counted, row.flowers_looked_at, row.fruit) == (
        "initial",
        "marked-flowers",
        120,
        66,
    )
    assert row.pollinated_on == date(2026, 4, 13)


def test_a_count_without_flowers_is_of_whole_trees() -> None:
    cells = {"Date": "2026-05-13", "Block": "P1", "Fruit": "0", "Trees checked": "10"}
    row = read_one("fruit-counts", cells)
    assert (row.counted, row.trees_looked_at, row.fruit) == ("whole-trees", 10, 0)


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ({"Frutos": "121"}, [("Frutos", "fruit-above-flowers")]),
        ({"Frutos": "120"}, []),
        ({"Flores": ""}, [("Flores", "missing")]),
        ({"Data da polinização": "14/05/2026"}, [("Data da polinização", "counted-before-round")]),
        # Natural fruit of whole trees counts for no round.
        (
            {"Flores": "", "Número de árvores": "9"},
            [("Data da polinização", "rounds-of-whole-trees")],
        ),
    ],
)
def test_a_count_that_cannot_be_is_refused(
    cells: dict[str, str], found: list[tuple[str, str]]
) -> None:
    assert codes("fruit-counts", {**COUNT, **cells}) == found


@pytest.mark.parametrize(
    ("kind", "reason", "is_taken"),
    [("thinned", "too many", True), ("thinned", "", False), ("retained", "too many", False)],
)
def test_thinned_fruit_has_a_reason_and_only_thinned_fruit(
    kind: str, reason: str, is_taken: bool
) -> None:
    found = codes("fruit-counts", {**COUNT, "Tipo": kind, "Motivo": reason})
    assert found == ([] if is_taken else [("Motivo", "thinned-reason")])


# The records -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "column", "values"),
    [
        ("task-logs", "kind", choices.TaskKind.values),
        ("pollination-rounds", "method", choices.PollinationMethod.values),
        ("fruit-counts", "kind", choices.CountKind.values),
        ("weather-days", "kind", choices.WeatherKind.values),
    ],
)
def test_choices_agree_with_the_records(kind: str, column: str, values: list[str]) -> None:
    found = KINDS[kind].file.by_name[column]
    assert found.kind is Kind.CHOICE
    assert list(found.choices) == values


def test_bounds_agree_with_the_records() -> None:
    assert intakes.SORTING_TOLERANCE == choices.SORTING_TOLERANCE
    assert fieldcolumns.MAX_TREES == choices.MAX_TREES
    assert fieldcolumns.MAX_TASK_MINUTES == choices.MAX_TASK_MINUTES
    assert rounds.MAX_FLOWERS == choices.MAX_FLOWERS
    assert rounds.BY_HAND == choices.BY_HAND
    assert tuple(choices.CountedOn.values) == (counts.MARKED, counts.WHOLE)
    assert set(tasklogs.METHODS) >= set(choices.PruningMethod.values)
