"""A blank farm workbook: headings, choices in the cells, and a sheet that explains them."""

import io

import xlsxwriter

from records.importing.columns import Column, Kind
from records.importing.farm_workbooks.declared import SHEETS

ROWS = 5_000  # as far down as choices and formats reach
INTRODUCTION = (
    "Fill in what you have; leave the other sheets as they are.",
    "Send the workbook with a dry run first: it says what would be created and what is wrong.",
    "All of it is stored or nothing. Sent again, the same workbook changes nothing.",
    "What exists already is changed only where a cell is filled and differs. Nothing is deleted.",
)


def blank_workbook() -> bytes:
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        bold = book.add_format({"bold": True})
        _instructions(book.add_worksheet("instructions"), bold)
        formats = {
            Kind.DATE: book.add_format({"num_format": "yyyy-mm-dd"}),
            # Else a spreadsheet program makes a date of the range 1-6.
            Kind.TEXT: book.add_format({"num_format": "@"}),
        }
        for kind in SHEETS:
            sheet = book.add_worksheet(kind.name)
            sheet.freeze_panes(1, 0)
            for index, column in enumerate(kind.columns.columns):
                sheet.set_column(index, index, 18, formats.get(column.kind))
                sheet.write_string(0, index, column.name, bold)
                _offer_choices(sheet, index, column)
    return stream.getvalue()


def _offer_choices(sheet: "xlsxwriter.worksheet.Worksheet", index: int, column: Column) -> None:
    if column.choices:
        options = {"validate": "list", "source": list(column.choices), "error_type": "warning"}
        sheet.data_validation(1, index, ROWS, index, options)


def _instructions(
    sheet: "xlsxwriter.worksheet.Worksheet", bold: "xlsxwriter.format.Format"
) -> None:
    sheet.set_column(0, 0, 22)
    sheet.set_column(1, 1, 100)
    row = 0
    for line in INTRODUCTION:
        sheet.write_string(row, 0, line)
        row += 1
    for kind in SHEETS:
        sheet.write_string(row + 1, 0, f"Sheet {kind.name}", bold)
        sheet.write_string(row + 1, 1, kind.about)
        row += 2
        for column in kind.columns.columns:
            sheet.write_string(row, 0, column.name)
            sheet.write_string(row, 1, kind.notes.get(column.name, ""))
            row += 1
