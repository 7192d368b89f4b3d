"""Members' files made up in memory."""

import csv
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from io import BytesIO, StringIO
from typing import Any
from xml.sax.saxutils import escape, quoteattr
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl import Workbook

from records.importing.reading import Reading, Settings, read
from records.importing.rows import RowProblem, WeighingRow

TODAY = date(2026, 6, 30)

Rows = Iterable[Sequence[Any]]


def read_text(text: str, *, encoding: str = "utf-8", **settings: Any) -> Reading:
    return read(text.encode(encoding), "harvest.csv", Settings(**settings), TODAY)


def read_rows(rows: Rows, **settings: Any) -> Reading:
    return read_text(as_csv(rows), **settings)


def weighings(reading: Reading) -> list[WeighingRow]:
    """The weighings of a file without a problem."""
    rows = list(reading.rows())
    assert [row for row in rows if isinstance(row, RowProblem)] == []
    return [row for row in rows if isinstance(row, WeighingRow)]


def problems(reading: Reading) -> list[RowProblem]:
    return [row for row in reading.rows() if isinstance(row, RowProblem)]


def as_csv(rows: Rows, *, delimiter: str = ",", line_end: str = "\r\n") -> str:
    text = StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator=line_end).writerows(rows)
    return text.getvalue()


def as_xlsx(sheets: Mapping[str, Rows], *, hidden: Sequence[str] = ()) -> bytes:
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    for name, rows in sheets.items():
        sheet = workbook.create_sheet(name)
        sheet.sheet_state = "hidden" if name in hidden else "visible"
        for row in rows:
            sheet.append(row)
    return saved(workbook)


def saved(workbook: Workbook) -> bytes:
    content = BytesIO()
    workbook.save(content)
    return content.getvalue()


def with_parts(workbook: bytes, parts: Mapping[str, bytes]) -> bytes:
    """A workbook with some of its parts replaced or added."""
    content = BytesIO()
    with ZipFile(BytesIO(workbook)) as old, ZipFile(content, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, parts.get(name, old.read(name)))
        for name in parts.keys() - set(old.namelist()):
            new.writestr(name, parts[name])
    return content.getvalue()


def part_of(workbook: bytes, name: str) -> bytes:
    with ZipFile(BytesIO(workbook)) as archive:
        return archive.read(name)


_NAMESPACES = " ".join(
    f'xmlns:{prefix}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for prefix, name in (("office", "office"), ("table", "table"), ("text", "text"))
)
_CALC = 'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'


def as_ods(sheets: Mapping[str, Rows], *, manifest: str = "", extra: Sequence[str] = ()) -> bytes:
    tables = "".join(ods_table(name, map(ods_row, rows)) for name, rows in sheets.items())
    return ods_of(tables, manifest=manifest, extra=extra)


def ods_of(tables: str, *, manifest: str = "", extra: Sequence[str] = ()) -> bytes:
    content = BytesIO()
    with ZipFile(content, "w", ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr(
            "META-INF/manifest.xml",
            "<manifest:manifest xmlns:manifest="
            f'"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">{manifest}</manifest:manifest>',
        )
        archive.writestr(
            "content.xml",
            f"<office:document-content {_NAMESPACES} {_CALC}><office:body><office:spreadsheet>"
            f"{tables}</office:spreadsheet></office:body></office:document-content>",
        )
        for name in extra:
            archive.writestr(name, "")
    return content.getvalue()


def ods_table(name: str, rows: Iterable[str]) -> str:
    return f"<table:table table:name={quoteattr(name)}>{''.join(rows)}</table:table>"


def ods_row(row: Sequence[Any], attributes: str = "") -> str:
    return f"<table:table-row {attributes}>{''.join(map(ods_cell, row))}</table:table-row>"


def ods_cell(value: Any, attributes: str = "") -> str:
    return f"<table:table-cell {attributes} {_ods_value(value)}</table:table-cell>"


def _ods_value(value: Any) -> str:
    if value is None:
        return ">"
    if isinstance(value, date):
        return f'office:value-type="date" office:date-value="{value.isoformat()}">'
    if isinstance(value, int | float):
        return f'office:value-type="float" office:value="{value}">'
    if value.startswith("#"):
        kind = 'office:value-type="string" office:string-value="" calcext:value-type="error"'
        return f"{kind}><text:p>{escape(value)}</text:p>"
    return f'office:value-type="string"><text:p>{escape(value)}</text:p>'
