"""Each member's file: its own layout, the same bytes every time, and every weighing in it."""

import csv
from collections import Counter, defaultdict
from dataclasses import replace
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from orchard.demo.cast import Cast, Farm, SheetLayout
from orchard.demo.cast_files import read_cast
from orchard.demo.harvest import Weighing
from orchard.demo.layouts import BY_GRADE, headings
from orchard.demo.sheets import Sheet, write_sheets
from orchard.demo.slips import written
from records.importing.harvest import HARVEST
from records.importing.reading import Settings, read
from records.importing.rows import WeighingRow
from records.importing.units import fold
from records.importing.wide import Known, understand

DATE_FORMATS = {
    "HAD": "%d/%m/%Y",
    "TRA": "%d/%m/%Y",
    "BER": "%d-%m-%Y",
    "ZIM": "%d.%m.%Y",
    "URZ": "%Y-%m-%d",
    "TAL": "%d/%m/%Y",
}
UNIT_G = {"kg": Decimal(1000), "lb": Decimal("453.59237")}  # exact, NIST Handbook 44 (from memory)


@pytest.fixture(scope="module")
def sheets(cast: Cast, tmp_path_factory: pytest.TempPathFactory) -> list[Sheet]:
    return write_sheets(cast, tmp_path_factory.mktemp("members"))


def latest(sheets: list[Sheet], farm_code: str) -> bytes:
    return [sheet.path for sheet in sheets if sheet.farm_code == farm_code][-1].read_bytes()


def test_two_runs_write_the_same_bytes(cast: Cast, sheets: list[Sheet], tmp_path: Path) -> None:
    again = write_sheets(read_cast(cast.as_of), tmp_path)
    assert len(again) == 7 * 3
    for one, other in zip(sheets, again, strict=True):
        assert one.path.read_bytes() == other.path.read_bytes()
        assert (one.farm_code, one.season_year, one.series) == (
            other.farm_code,
            other.season_year,
            other.series,
        )


def test_a_series_is_one_farms_season(sheets: list[Sheet]) -> None:
    assert len({(sheet.farm_code, sheet.series) for sheet in sheets}) == len(sheets)
    assert len({sheet.path for sheet in sheets}) == len(sheets)
    [crossing] = [s.series for s in sheets if (s.farm_code, s.season_year) == ("TAL", 2025)]
    assert crossing == "pick-2025-26"


def test_a_season_without_picking_has_no_file(tmp_path: Path) -> None:
    written = write_sheets(read_cast(date(2026, 7, 31)), tmp_path)
    assert max(sheet.season_year for sheet in written) == 2025


@pytest.mark.parametrize(
    ("farm", "start"),
    [
        # Commas, UTF-8, English.
        ("HAD", b"Date,Block,Row,Position,Cultivar,Grade,Weight,Unit,Fruit count,"),
        # Semicolons and cp1252: the degree-like sign of the number is one byte.
        ("TRA", b"Data;Parcela;Variedade;Categoria;Peso (kg);N\xba de frutos;"),
        # Tabs, Spanish, a column for each grade.
        (
            "BER",
            "Fecha\tParcela\tFila\tPosición\tCultivar\tPrimera (lb)\tSegunda (lb)\t".encode(),
        ),
        # A byte order mark in UTF-8.
        ("ZIM", b"\xef\xbb\xbfGuia;Data;Talh\xc3\xa3o;"),
        # A byte order mark in UTF-16, low byte first.
        ("URZ", b"\xff\xfep\x00i\x00c\x00k\x00e\x00d\x00"),
        # Dockets with line numbers.
        ("TAL", b"Docket,Line,Date picked,Block,Variety,"),
        # A workbook is a ZIP.
        ("MAL", b"PK\x03\x04"),
    ],
)
def test_each_member_sends_its_own_layout(sheets: list[Sheet], farm: str, start: bytes) -> None:
    assert latest(sheets, farm).startswith(start)


@pytest.mark.parametrize(
    ("farm", "line"),
    [
        # A decimal comma with three decimals could be thousands: the setting decides.
        ("TRA", "11/08/2026;P3;Travorosa Cedo;Extra;"),
        # The first row of a day, and one more of that day and plot.
        ("BER", "\n15-08-2026\tLLANO\t\t\tOrvelada\t70,6\t18,8\t10,2\t\n\tHUERTO\t"),
        ("BER", "\n\t\t"),
        # Each day and the season added up.
        ("BER", "\nSubtotal\t\t\t\t\t"),
        ("BER", "\nTotal general\t\t\t\t\t"),
        # A tare for all crates of the line.
        ("ZIM", "14.08.2026;T1;Orvelada;Categoria I;CX;3;41,0;4,8;"),
        # ISO dates, decimal point.
        ("URZ", "2026-08-21,U2,Ondelhar,Grande,"),
        # Two pickers in one cell.
        ("HAD", '"Alzira Monfrade, Ivo Carvelim"'),
    ],
)
def test_lines_look_as_the_member_writes_them(
    cast: Cast, sheets: list[Sheet], farm: str, line: str
) -> None:
    encoding = next(f.sheet.encoding for f in cast.farms if f.code == farm)
    assert line in latest(sheets, farm).decode(encoding)


def test_line_ends_are_the_members(cast: Cast, sheets: list[Sheet]) -> None:
    assert b"\r" not in latest(sheets, "HAD")
    text = latest(sheets, "TRA")
    assert text.count(b"\n") == text.count(b"\r\n") > 100


def test_the_workbook_has_titles_sheets_and_typed_cells(sheets: list[Sheet]) -> None:
    by_name = workbook_rows(latest(sheets, "MAL"))
    assert list(by_name) == ["Resumo", "F1", "F2", "F3"]
    rows = by_name["F1"]
    assert rows[0][0] == "Fajã da Malvorana: colheita 2026"
    assert rows[2][:2] == ["Data da colheita", "Cultivar"]
    assert isinstance(rows[3][0], date)
    assert isinstance(rows[3][3], float)
    assert rows[-1][0] == "Total"
    assert rows[-1][3] == pytest.approx(sum(row[3] for row in rows[3:-1]), abs=1e-6)


def test_the_workbooks_summary_adds_up_its_sheets(sheets: list[Sheet]) -> None:
    by_name = workbook_rows(latest(sheets, "MAL"))
    totals = [[name, rows[-1][3]] for name, rows in by_name.items() if name != "Resumo"]
    assert [row[:2] for row in by_name["Resumo"][3:]] == totals


def workbook_rows(content: bytes) -> dict[str, list[list]]:
    book = CalamineWorkbook.from_filelike(BytesIO(content))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_every_weighing_can_be_read_back_to_the_gram(cast: Cast, sheets: list[Sheet]) -> None:
    farms = {farm.code: farm for farm in cast.farms}
    expected = defaultdict(list)
    for weighing in written(cast):
        expected[weighing.farm, weighing.season_year].append(told(farms[weighing.farm], weighing))
    for sheet in sheets:
        found = read_back(farms[sheet.farm_code], sheet.path.read_bytes())
        assert Counter(found) == Counter(expected[sheet.farm_code, sheet.season_year])


def told(farm: Farm, weighing: Weighing) -> tuple:
    weight_g = weighing.gross_g if farm.picking.crates else weighing.net_g
    return (weighing.picked_on, weighing.block, weighing.cultivar, weighing.grade, weight_g)


def read_back(farm: Farm, content: bytes) -> list[tuple]:
    """An independent reader of our own files, by the saved settings of the member."""
    if farm.code == "MAL":
        return read_workbook_back(farm, content)
    rows = text_rows(farm.sheet, content)
    if farm.code == "BER":
        return read_wide_back(farm, rows)
    fields = [field for _, field in farm.sheet.columns]
    return [line(farm, dict(zip(fields, row, strict=True))) for row in rows[1:]]


def read_workbook_back(farm: Farm, content: bytes) -> list[tuple]:
    fields = [field for _, field in farm.sheet.columns]
    return [
        line(farm, {"block": name, **dict(zip(fields, row, strict=True))})
        for name, rows in workbook_rows(content).items()
        if name != "Resumo"
        for row in rows[3:-1]
    ]


def read_wide_back(farm: Farm, rows: list[list[str]]) -> list[tuple]:
    found, above = [], ["", ""]
    for row in rows[1:]:
        if "otal" not in row[0]:
            above = [cell or carried for cell, carried in zip(row[:2], above, strict=True)]
            cells = {"picked_on": above[0], "block": above[1], "cultivar": row[4]}
            weights = zip(["Primera", "Segunda", "Destrío"], row[5:8], strict=True)
            found += [
                line(farm, {**cells, "grade": grade, "net": weight})
                for grade, weight in weights
                if weight
            ]
    return found


def text_rows(layout: SheetLayout, content: bytes) -> list[list[str]]:
    text = StringIO(content.decode(layout.encoding), newline="")
    return list(csv.reader(text, delimiter=layout.delimiter))


def line(farm: Farm, cells: dict) -> tuple:
    picked_on = cells["picked_on"]
    if isinstance(picked_on, str):
        picked_on = datetime.strptime(picked_on, DATE_FORMATS[farm.code]).date()
    weight = cells["gross" if farm.picking.crates else "net"]
    return (
        picked_on,
        cells["block"],
        cells["cultivar"],
        cells["grade"] or None,
        grams(farm, str(weight)) if weight else None,
    )


def grams(farm: Farm, weight: str) -> int:
    exact = Decimal(weight.replace(farm.sheet.decimal_mark, ".")) * UNIT_G[farm.sheet.weight_unit]
    return int(exact.quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def test_the_import_knows_what_every_heading_means(cast: Cast) -> None:
    """Without a saved mapping. A plain "weight" beside no tare is of the fruit alone."""
    for farm in cast.farms:
        supplied = {"block": "F1"} if farm.sheet.sheet_per_block else {}
        known = Known(words={"grade": {fold(one.code): one.code for one in farm.grades}})
        found = understand(headings(farm), HARVEST, {}, replace(known, supplied=supplied))
        assert (found.unused, found.missing, found.problems) == ((), (), ())
        fields = [heading.column.name for heading in found.fixed]
        expected = [field for _, field in farm.sheet.columns if field != BY_GRADE]
        assert fields == ["weight" if "weight" in fields and f == "net" else f for f in expected]
        grades = [grade.code for grade in farm.grades]
        assert [heading.value for heading in found.wide] == (grades if farm.code == "BER" else [])


@pytest.mark.parametrize("as_of", [date(2026, 11, 20), date(2026, 8, 12)])
def test_the_import_reads_every_line_by_the_members_settings(as_of: date, tmp_path: Path) -> None:
    """Early in a season a file may be too short to tell its own date order or decimal mark."""
    cast = read_cast(as_of)
    farms = {farm.code: farm for farm in cast.farms}
    found: Counter[tuple] = Counter()
    for sheet in write_sheets(cast, tmp_path):
        farm = farms[sheet.farm_code]
        reading = read(sheet.path.read_bytes(), sheet.path.name, saved_settings(farm), as_of)
        found.update((farm.code, *imported(row)) for row in reading.rows())
    assert found == Counter(
        (weighing.farm, *told(farms[weighing.farm], weighing)) for weighing in written(cast)
    )


def saved_settings(farm: Farm) -> Settings:
    return Settings(
        known={
            "block": [block.code for block in farm.blocks],
            "grade": [grade.code for grade in farm.grades],
        },
        saved_decimal_mark=farm.sheet.decimal_mark,
        saved_date_order=farm.sheet.date_order,
        saved_unit=farm.sheet.weight_unit,
    )


def imported(row: object) -> tuple:
    assert isinstance(row, WeighingRow), row
    return (row.picked_on, row.block, row.cultivar, row.grade or None, row.weight_g)


@pytest.mark.parametrize(
    ("farm", "codes"),
    [
        ("BER", {"wide-sheet", "carried-down", "totals"}),
        ("MAL", {"title-rows", "sheet-name", "totals", "sheet-left-out"}),
        ("URZ", set()),
    ],
)
def test_the_member_is_told_what_was_done_by_a_rule(
    cast: Cast, sheets: list[Sheet], farm: str, codes: set[str]
) -> None:
    member = next(one for one in cast.farms if one.code == farm)
    name = f"harvest.{member.sheet.kind}"
    reading = read(latest(sheets, farm), name, saved_settings(member), cast.as_of)
    assert {remark.code for remark in reading.remarks} == codes


def test_every_day_and_the_season_are_added_up(
    cast: Cast, sheets: list[Sheet], picked: list[Weighing]
) -> None:
    member = next(one for one in cast.farms if one.code == "BER")
    reading = read(latest(sheets, "BER"), "harvest.tsv", saved_settings(member), cast.as_of)
    [totals] = [remark.count for remark in reading.remarks if remark.code == "totals"]
    days = {one.picked_on for one in picked if (one.farm, one.season_year) == ("BER", 2026)}
    assert totals == len(days) + 1
