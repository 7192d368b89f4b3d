from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.db.models import Model

from records.choices import GRAMS as SERVICE_GRAMS
from records.choices import MAX_CONTAINERS, MAX_FRUIT, MAX_ROW, MAX_TASK_MINUTES, MAX_WEIGHING_G
from records.importing import cells, harvest
from records.importing.rows import WeighingRow
from records.importing.units import GRAMS, fold, to_grams, unit_spelled
from records.models import (
    Block,
    Container,
    Crop,
    Cultivar,
    Farm,
    Grade,
    HarvestWeight,
    Tree,
)
from tests.importing.making import as_csv, problems, read_rows, read_text, weighings

FULL = {
    "Date": "2026-04-13",
    "Block": "Hill",
    "Tree": "H-12",
    "Row": "3",
    "Position": "14",
    "Cultivar": "Brisa",
    "Grade": "First",
    "Crop": "main",
    "Gross": "20.5",
    "Tare": "1.5",
    "Net": "19.0",
    "Unit": "kg",
    "Crates": "2",
    "Crate type": "blue",
    "Fruit": "41",
    "Docket": "D-7",
    "Ticket": "T-9",
    "Line": "1",
    "Pickers": "Ana; Rui",
    "Minutes": "35",
    "Note": "after rain",
    "Farm": "Upper",
}

# Four decimals of a tonne are steps of a hundred grams.
IN_TONNES = {"Unit": "t", "Tare": "", "Net": ""}


def row_of(**cells_of: str) -> dict[str, str]:
    return {**FULL, **{name.replace("_", " "): cell for name, cell in cells_of.items()}}


def read_row(row: dict[str, str], **settings: Any) -> WeighingRow:
    (weighing,) = weighings(read_rows([list(row), list(row.values())], **settings))
    return weighing


def codes(row: dict[str, str]) -> list[tuple[str, str]]:
    found = problems(read_rows([list(row), list(row.values())], decimal_mark="."))
    assert all(problem.row == 2 and problem.detail.endswith(".") for problem in found)
    return [(problem.column, problem.code) for problem in found]


def test_a_full_row_comes_out_whole() -> None:
    assert read_row(FULL) == WeighingRow(
        row_number=2,
        picked_on=date(2026, 4, 13),
        block="Hill",
        tree="H-12",
        row=3,
        position=14,
        cultivar="Brisa",
        grade="First",
        crop="main",
        weight=Decimal("20.5"),
        unit="kg",
        weight_is="gross",
        weight_g=20_500,
        tare=Decimal("1.5"),
        tare_unit="kg",
        tare_total_g=1_500,
        containers=2,
        container="blue",
        fruit_count=41,
        docket="D-7",
        ticket="T-9",
        line="1",
        pickers=("Ana", "Rui"),
        minutes=35,
        note="after rain",
        farm="Upper",
    )


@pytest.mark.parametrize(
    ("cells_of", "column", "code"),
    [
        ({"Date": ""}, "Date", "missing"),
        ({"Block": " "}, "Block", "missing"),
        ({"Date": "2026-07-01"}, "Date", "date-in-future"),  # today is 30 June
        ({"Date": "1949-12-31"}, "Date", "date-too-early"),
        ({"Date": "2026-02-30"}, "Date", "not-a-date"),
        ({"Date": "spring"}, "Date", "not-a-date"),
        ({"Date": "46125"}, "Date", "date-serial"),  # a day number, not a guess
        ({"Date": "46125.5"}, "Date", "date-serial"),
        ({"Gross": "-20.5"}, "Gross", "negative"),
        ({"Gross": "0"}, "Gross", "zero-weight"),
        ({"Gross": "0.0001", "Tare": "", "Net": ""}, "Gross", "zero-weight"),  # a tenth of a gram
        ({"Gross": "nan"}, "Gross", "not-a-number"),
        ({"Gross": "inf"}, "Gross", "not-a-number"),
        ({"Gross": "20.5 kg"}, "Gross", "not-a-number"),
        ({"Gross": "twenty"}, "Gross", "not-a-number"),
        ({"Gross": "5000.1", "Net": "4998.6"}, "Gross", "too-heavy"),  # above five tonnes
        ({"Gross": "99999999999999999999999999.5"}, "Gross", "too-heavy"),
        ({**IN_TONNES, "Gross": "0.01234567"}, "Gross", "too-many-decimals"),
        ({"Tare": "-1"}, "Tare", "negative"),
        ({"Tare": "20.5", "Net": ""}, "Tare", "tare-above-gross"),  # nothing left
        ({"Tare": "21", "Net": ""}, "Tare", "tare-above-gross"),
        ({"Tare": "", "Net": "20.6"}, "Net", "net-above-gross"),
        ({"Net": "18.8"}, "Net", "weights-disagree"),  # 200 g of 18.8 kg is more than 1 %
        ({"Unit": "arroba"}, "Unit", "unknown-unit"),
        ({"Unit": "ton"}, "Unit", "unknown-unit"),  # which of the two?
        ({"Unit": "?"}, "Unit", "unknown-unit"),
        ({"Fruit": "-1"}, "Fruit", "negative"),
        ({"Fruit": "41.5"}, "Fruit", "not-whole"),
        ({"Fruit": "many"}, "Fruit", "not-a-number"),
        ({"Fruit": "100001"}, "Fruit", "out-of-range"),
        ({"Crates": "-2"}, "Crates", "negative"),
        ({"Crates": "1.5"}, "Crates", "not-whole"),
        ({"Crates": "10001"}, "Crates", "out-of-range"),
        ({"Minutes": "-1"}, "Minutes", "negative"),
        ({"Minutes": "72001"}, "Minutes", "out-of-range"),  # more than fifty people's day
        ({"Minutes": "12.5"}, "Minutes", "not-whole"),
        ({"Row": "0"}, "Row", "out-of-range"),  # rows are counted from 1
        ({"Position": "A"}, "Position", "not-a-number"),
        ({"Cultivar": "#N/A"}, "Cultivar", "spreadsheet-error"),
        ({"Gross": "#¡VALOR!"}, "Gross", "spreadsheet-error"),  # in Spanish
        ({"Grade": "#N/D"}, "Grade", "spreadsheet-error"),  # in Portuguese
        ({"Note": "Err:502"}, "Note", "spreadsheet-error"),  # of the free office suite
        ({"Docket": "7" * 41}, "Docket", "text-too-long"),
        ({"Note": "x" * 501}, "Note", "text-too-long"),
        ({"Pickers": "x" * 81}, "Pickers", "text-too-long"),
        ({"Pickers": ";".join(f"P{n}" for n in range(31))}, "Pickers", "too-many-people"),
        ({"Block": "Hi\x07ll"}, "Block", "control-character"),
    ],
)
def test_a_bad_cell_is_a_problem_that_names_it(
    cells_of: dict[str, str], column: str, code: str
) -> None:
    assert codes(row_of(**cells_of)) == [(column, code)]


@pytest.mark.parametrize(
    "cells_of",
    [
        {"Date": "2026-06-30"},  # today
        {"Date": "1950-01-01"},
        {"Gross": "5000", "Tare": "", "Net": ""},
        {"Tare": "0", "Net": "20.5"},
        {"Net": "18.82"},  # within 1 %
        {"Gross": "1.000", "Tare": "0.500", "Net": "0.450"},  # within 50 g, though not within 1 %
        {"Minutes": "1440"},
        {"Minutes": "0"},
        {"Fruit": "41.0"},
        {"Docket": "7" * 40},
        {"Block": "Totality"},  # a name, not a total
        {"Block": "Sumarento"},
        {"Docket": "#12"},  # no spreadsheet error
        {**IN_TONNES, "Gross": "0.01230000"},
    ],
)
def test_what_is_just_within_bounds_is_taken(cells_of: dict[str, str]) -> None:
    assert codes(row_of(**cells_of)) == []


def test_one_row_can_have_several_problems() -> None:
    row = row_of(Date="x", Block="", Gross="-1", Fruit="y", Unit="stone")
    assert codes(row) == [
        ("Date", "not-a-date"),
        ("Gross", "negative"),
        ("Unit", "unknown-unit"),
        ("Fruit", "not-a-number"),
        ("Block", "missing"),
    ]


@pytest.mark.parametrize(
    ("gross", "tare", "net", "weight_is", "weight_g", "tare_total_g"),
    [
        ("20.5", "1.5", "", "gross", 20_500, 1_500),
        ("20.5", "", "", "gross", 20_500, None),  # the containers' own tare is not known here
        ("", "", "19", "net", 19_000, None),
        ("20.5", "", "19", "gross", 20_500, 1_500),  # the tare follows
        ("20.5", "1.5", "18.9", "gross", 20_500, 1_500),  # what was weighed, not what was reckoned
        ("", "1.5", "19", "net", 19_000, 1_500),
    ],
)
def test_gross_tare_and_net_are_settled_together(
    gross: str, tare: str, net: str, weight_is: str, weight_g: int, tare_total_g: int | None
) -> None:
    row = read_row(row_of(Gross=gross, Tare=tare, Net=net))
    assert (row.weight_is, row.weight_g, row.tare_total_g) == (weight_is, weight_g, tare_total_g)


def test_a_weight_is_gross_unless_its_heading_says_net() -> None:
    rows = [["Date", "Block", "Weight (kg)"], ["2026-04-13", "A", "12"]]
    assert weighings(read_rows(rows))[0].weight_is == "gross"
    rows[0][2] = "Net weight (kg)"
    assert weighings(read_rows(rows))[0].weight_is == "net"


def test_a_tare_whose_heading_names_a_unit_keeps_it() -> None:
    rows = [
        ["Date", "Block", "Gross", "Unit", "Tare (g)"],
        ["2026-04-13", "A", "27.5", "lb", "900"],
    ]
    (row,) = weighings(read_rows(rows))
    assert (row.unit, row.tare_unit, row.tare_total_g) == ("lb", "g", 900)


@pytest.mark.parametrize(
    ("cells_of", "is_taken"),
    [
        ({"Crates": "2"}, True),
        ({"Fruit": "41"}, True),
        ({"Kilos": "12"}, True),
        ({"Tare": "1"}, False),
        ({"Crates": "0", "Fruit": "0"}, False),  # a count of nothing is no count
        ({}, False),
    ],
)
def test_a_row_needs_a_weight_or_a_count(cells_of: dict[str, str], is_taken: bool) -> None:
    blank = dict.fromkeys(("Kilos", "Tare", "Crates", "Fruit"), "")
    row = {"Date": "2026-04-13", "Block": "A", **blank, **cells_of}
    found = codes(row)
    assert found == ([] if is_taken else [("Kilos", "nothing-weighed")])


def test_counts_of_nothing_are_not_given() -> None:
    row = read_row(row_of(Crates="0", Fruit="0", Minutes="0"))
    assert (row.containers, row.fruit_count, row.minutes) == (None, None, None)


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("  Hill \t upper ", "Hill upper"),
        ("Hill\u00a0upper", "Hill upper"),  # a no-break space
        ("Talha\u0303o", "Talhão"),  # composed
        ("Hi\u200bll\ufeff", "Hill"),  # characters of no width
        ("007", "007"),  # a code is not a number
        ("1.0", "1.0"),
    ],
)
def test_texts_are_tidied(written: str, kept: str) -> None:
    assert read_row(row_of(Block=written)).block == kept


@pytest.mark.parametrize(
    ("written", "people"),
    [
        ("Ana", ("Ana",)),
        ("Ana; Rui ;", ("Ana", "Rui")),
        ("Ana, Rui / Eva & Ivo + Lia", ("Ana", "Rui", "Eva", "Ivo", "Lia")),
        ("Silva, Ana; Costa, Rui", ("Silva, Ana", "Costa, Rui")),  # semicolons leave commas alone
        ("Ana\nRui", ("Ana", "Rui")),
        ("Ana;Ana", ("Ana",)),
        ("Maria Costa e Silva", ("Maria Costa e Silva",)),  # "e" is a part of names
        ("", ()),
    ],
)
def test_pickers_are_parted(written: str, people: tuple[str, ...]) -> None:
    assert read_row(row_of(Pickers=written)).pickers == people


def test_a_refused_value_is_cut_and_cleared_of_what_a_database_cannot_take() -> None:
    text = as_csv([["Date", "Block", "Kilos"], ["2026-04-13", "A", "\x07" + "9" * 300]])
    (problem,) = problems(read_text(text))
    assert problem.value == "\N{REPLACEMENT CHARACTER}" + "9" * 99


@pytest.mark.parametrize(
    ("weight", "unit", "grams"),
    [
        # NIST Handbook 44, Appendix C: 1 lb = 0.45359237 kg exactly (value from memory)
        ("25", "lb", "11339.80925"),
        ("48", "lb", "21772.43376"),
        ("100", "lb", "45359.237"),
        ("2000", "lb", "907184.74"),  # the short ton
        ("16", "oz", "453.59237"),
        ("1", "oz", "28.349523125"),
        ("1", "t", "1000000"),
        ("0.5", "g", "0.5"),  # half a gram goes to the even one, 0
        ("1.5", "g", "1.5"),
    ],
)
def test_weights_become_whole_grams(weight: str, unit: str, grams: str) -> None:
    assert Decimal(weight) * GRAMS[unit] == Decimal(grams)
    assert to_grams(Decimal(weight), unit) == round(Fraction(grams))


def test_units_and_bounds_agree_with_the_records() -> None:
    assert {unit.value: grams for unit, grams in SERVICE_GRAMS.items()} == GRAMS
    assert cells.MAX_WEIGHING_G == MAX_WEIGHING_G
    assert (harvest.MAX_CONTAINERS, harvest.MAX_FRUIT) == (MAX_CONTAINERS, MAX_FRUIT)
    assert (harvest.MAX_MINUTES, harvest.MAX_PLACE) == (MAX_TASK_MINUTES, MAX_ROW)


@pytest.mark.parametrize(
    ("column", "model", "field"),
    [
        ("block", Block, "name"),
        ("tree", Tree, "number"),
        ("cultivar", Cultivar, "name"),
        ("grade", Grade, "name"),
        ("crop", Crop, "name"),
        ("container", Container, "name"),
        ("docket", HarvestWeight, "docket"),
        ("ticket", HarvestWeight, "ticket"),
        ("note", HarvestWeight, "note"),
        ("farm", Farm, "name"),
    ],
)
def test_texts_are_as_long_as_the_records_take(column: str, model: type[Model], field: str) -> None:
    taken = model._meta.get_field(field).max_length
    assert harvest.HARVEST.by_name[column].max_chars == taken


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        *((word, "kg") for word in ("kg", "KG.", "Kilos", "quilos", "kilogramos", "kilogrammes")),
        *((word, "lb") for word in ("lb", "lbs.", "pounds", "Libras")),
        *((word, "oz") for word in ("oz", "onça", "onzas")),
        *((word, "g") for word in ("g", "gr", "gramos", "gramas")),
        *((word, "t") for word in ("t", "tonne", "toneladas")),
        *((word, None) for word in ("ton", "tons", "arroba", "st", "")),
    ],
)
def test_units_are_known_by_their_spellings(written: str, unit: str | None) -> None:
    assert unit_spelled(fold(written)) == unit
