"""The harvest files that the members send: one a farm and season, each farm in its own layout.

A file is written in two steps, tables of cells and then their bytes, so that a member whose table
has another shape needs no other way of writing it.
"""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO, StringIO
from itertools import groupby
from pathlib import Path

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from orchard.demo.cast import Cast, Farm, SheetLayout
from orchard.demo.harvest import Weighing
from orchard.demo.layouts import Cell, Row, tables
from orchard.demo.slips import written

DATE_PARTS = {
    "day-month-year": ("%d", "%m", "%Y"),
    "month-day-year": ("%m", "%d", "%Y"),
    "year-month-day": ("%Y", "%m", "%d"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A file on disk; `series` names the file of which later ones are newer versions."""

    farm_code: str
    path: Path
    season_year: int
    series: str


def write_sheets(cast: Cast, folder: Path) -> list[Sheet]:
    """Write every member's files below `folder`; a season without picking has none."""
    farms = {farm.code: farm for farm in cast.farms}
    by_season = groupby(written(cast), key=lambda weighing: (weighing.farm, weighing.season_year))
    return [
        _write_sheet(folder, farms[code], season_year, list(picked))
        for (code, season_year), picked in by_season
    ]


def _write_sheet(folder: Path, farm: Farm, season_year: int, picked: list[Weighing]) -> Sheet:
    label = farm.season_span(season_year).label.replace("/", "-")
    series = f"{farm.sheet.name}-{label}"
    path = folder / farm.code / f"{series}.{farm.sheet.kind}"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(file_bytes(farm, season_year, picked))
    return Sheet(farm_code=farm.code, path=path, season_year=season_year, series=series)


def file_bytes(farm: Farm, season_year: int, picked: Iterable[Weighing]) -> bytes:
    """A farm's weighings of one season, as its member would send them."""
    by_sheet = tables(farm, picked)
    if farm.sheet.kind == "xlsx":
        return _workbook(farm, season_year, by_sheet)
    [rows] = by_sheet.values()
    return _text(farm.sheet, rows)


def _text(layout: SheetLayout, rows: list[Row]) -> bytes:
    lines = StringIO(newline="")
    writer = csv.writer(lines, delimiter=layout.delimiter, lineterminator=layout.line_end)
    writer.writerows([_written(layout, cell) for cell in row] for row in rows)
    return _encoded(lines.getvalue(), layout.encoding)


def _written(layout: SheetLayout, cell: Cell) -> str:
    if isinstance(cell, date):
        return cell.strftime(layout.date_separator.join(DATE_PARTS[layout.date_order]))
    if isinstance(cell, Decimal):
        return str(cell).replace(".", layout.decimal_mark)
    return "" if cell is None else str(cell)


def _encoded(text: str, encoding: str) -> bytes:
    """UTF-16 gets the same byte order on every machine."""
    if encoding == "utf-16":
        return ("\ufeff" + text).encode("utf-16-le")
    return text.encode(encoding)


def _workbook(farm: Farm, season_year: int, by_sheet: dict[str, list[Row]]) -> bytes:
    """Typed cells below a title; made at the season's start, so that the bytes never vary."""
    content = BytesIO()
    season = farm.season_span(season_year)
    with xlsxwriter.Workbook(content, {"in_memory": True}) as book:
        book.set_properties({"created": datetime(season.year, season.starts_on.month, 1)})
        bold, dates = book.add_format({"bold": True}), book.add_format({"num_format": "dd/mm/yyyy"})
        for name, rows in by_sheet.items():
            page = book.add_worksheet(name or season.label.replace("/", "-"))
            page.write_string(0, 0, f"{farm.sheet.title} {season.label}", bold)
            _fill(page, rows, first_row=2, dates=dates)
    return content.getvalue()


def _fill(page: Worksheet, rows: list[Row], *, first_row: int, dates: Format) -> None:
    for at_row, row in enumerate(rows, start=first_row):
        for at_column, cell in enumerate(row):
            if isinstance(cell, date):
                page.write_datetime(at_row, at_column, cell, dates)
            elif isinstance(cell, int | Decimal):
                page.write_number(at_row, at_column, float(cell))
            elif cell:
                page.write_string(at_row, at_column, cell)
