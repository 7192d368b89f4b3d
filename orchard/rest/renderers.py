"""JSON by orjson; tables as CSV and XLSX with cells that no spreadsheet runs as a formula."""

import csv
import io
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import orjson
import xlsxwriter
from rest_framework import negotiation, renderers
from rest_framework.exceptions import NotAcceptable
from rest_framework.request import Request

# A leading character that spreadsheets take for a formula, full-width forms included
# (OWASP ASVS 5.0, 1.2.10).
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")  # noqa: RUF001 - the look-alikes are meant


class JSONRenderer(renderers.JSONRenderer):
    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        return b"" if data is None else orjson.dumps(data, default=_plain)


def _plain(value: Any) -> Any:
    """What orjson does not know: decimals are numbers, lazy texts are texts."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, Sequence | set | frozenset):
        return list(value)
    return str(value)


def safe_cell(value: Any) -> Any:
    """A text that would run as a formula gets a leading apostrophe; numbers stay numbers."""
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    if isinstance(value, list | dict):
        return safe_cell(orjson.dumps(value, default=_plain).decode())
    return value


def table(rows: Any, context: Mapping[str, Any] | None) -> tuple[list[str], list[list[Any]]]:
    """Headings and rows of a list; one without rows still has its headings."""
    headings = list((context or {})["view"].get_serializer().fields)
    return headings, [[safe_cell(row[name]) for name in headings] for row in rows]


class CSVRenderer(renderers.BaseRenderer):
    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        headings, rows = table(data, renderer_context)
        text = io.StringIO()
        writer = csv.writer(text)
        writer.writerow(headings)
        writer.writerows(rows)
        return text.getvalue().encode()


class XLSXRenderer(renderers.BaseRenderer):
    media_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    format = "xlsx"
    charset = None
    render_style = "binary"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        headings, rows = table(data, renderer_context)
        stream = io.BytesIO()
        # Strings stay strings: no formula, link or number is made of them.
        options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
        with xlsxwriter.Workbook(stream, options) as book:
            sheet = book.add_worksheet()
            sheet.freeze_panes(1, 0)
            sheet.write_row(0, 0, headings, book.add_format({"bold": True}))
            for number, row in enumerate(rows, start=1):
                sheet.write_row(number, 0, [_cell(value) for value in row])
        return stream.getvalue()


def _cell(value: Any) -> Any:
    return value if value is None or isinstance(value, int | float | Decimal | str) else str(value)


class Negotiation(negotiation.DefaultContentNegotiation):
    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        """As DRF's, but an unknown `format` is a 406 and not a 404."""
        wanted = format_suffix or request.query_params.get("format")
        if wanted and wanted not in {renderer.format for renderer in renderers}:
            raise NotAcceptable
        return super().select_renderer(request, renderers, format_suffix)
