"""Each member's file: its own layout, the same bytes every time, and every weighing in it."""

import csv
from collections import defaultdict
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from orchard.demo.cast import Cast, Farm, SheetLayout
from orchard.demo.cast_files import read_cast
from orchard.demo.harvest import Weighing, weighings
from orchard.demo.sheets import Sheet, write_sheets
from records.importing.columns import match_headings
from records.importing.harvest import HARVEST
from records.importing.reading import Settings, read
from records.importing.rows import WeighingRow

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
        # Tabs, Spanish.
        ("BER", "Fecha\tParcela\tFila\tPosición\tCultivar\tCalidad\tPeso\t".encode()),
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
        # Pounds.
        ("BER", "\tlb\t"),
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


def test_the_workbook_has_a_title_and_typed_cells(sheets: list[Sheet]) -> None:
    rows = workbook_rows(latest(sheets, "MAL"))
    assert rows[0][0] == "Fajã da Malvorana: colheita 2026"
    assert rows[2][:2] == ["Data da colheita", "Parcela"]
    assert rows[3][0] == date(2026, 8, 12)
    assert isinstance(rows[3][4], float)


def workbook_rows(content: bytes) -> list[list]:
    return CalamineWorkbook.from_filelike(BytesIO(content)).get_sheet_by_index(0).to_python()


def test_every_weighing_can_be_read_back_to_the_gram(
    cast: Cast, sheets: list[Sheet], picked: list[Weighing]
) -> None:
    farms = {farm.code: farm for farm in cast.farms}
    expected = defaultdict(list)
    for weighing in picked:
        expected[weighing.farm, weighing.season_year].append(told(farms[weighing.farm], weighing))
    for sheet in sheets:
        found = read_back(farms[sheet.farm_code], sheet.path.read_bytes())
        assert found == expected[sheet.farm_code, sheet.season_year]


def told(farm: Farm, weighing: Weighing) -> tuple:
    weight_g = weighing.gross_g if farm.picking.crates else weighing.net_g
    return (weighing.picked_on, weighing.block, weighing.cultivar, weighing.grade, weight_g)


def read_back(farm: Farm, content: bytes) -> list[tuple]:
    """An independent reader of our own files, by the saved settings of the member."""
    rows = (
        workbook_rows(content)[2:] if farm.sheet.kind == "xlsx" else text_rows(farm.sheet, content)
    )
    fields = [field for _, field in farm.sheet.columns]
    return [line(farm, dict(zip(fields, row, strict=True))) for row in rows[1:]]


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
        headings = [heading for heading, _ in farm.sheet.columns]
        found = match_headings(headings, HARVEST, {})
        assert (found.unused, found.missing, found.problems) == ((), (), ())
        for heading, (_, field) in zip(found.used, farm.sheet.columns, strict=True):
            assert heading.column.name in ({"net", "weight"} if field == "net" else {field})


@pytest.mark.parametrize("as_of", [date(2026, 11, 20), date(2026, 8, 12)])
def test_the_import_reads_every_line_by_the_members_settings(as_of: date, tmp_path: Path) -> None:
    """Early in a season a file may be too short to tell its own date order or decimal mark."""
    cast = read_cast(as_of)
    farms = {farm.code: farm for farm in cast.farms}
    found = []
    for sheet in write_sheets(cast, tmp_path):
        farm = farms[sheet.farm_code]
        reading = read(sheet.path.read_bytes(), sheet.path.name, saved_settings(farm), as_of)
        found += [imported(row) for row in reading.rows()]
    assert found == [told(farms[weighing.farm], weighing) for weighing in weighings(cast)]


def saved_settings(farm: Farm) -> Settings:
    return Settings(
        saved_decimal_mark=farm.sheet.decimal_mark,
        saved_date_order=farm.sheet.date_order,
        saved_unit=farm.sheet.weight_unit,
    )


def imported(row: object) -> tuple:
    assert isinstance(row, WeighingRow), row
    return (row.picked_on, row.block, row.cultivar, row.grade or None, row.weight_g)
