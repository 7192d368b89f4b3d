"""JSON by orjson; tables as CSV and XLSX with cells that no spreadsheet runs as a formula."""

import csv
import datetime as dt
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
    """A text that would run as a formula gets a leading apostrophe; numbers stay numbers.

    So does one that has such an apostrophe already, and a reader who takes one off has the text.
    """
    if isinstance(value, str) and value.lstrip("'").startswith(FORMULA_STARTS):
        return f"'{value}"
    if isinstance(value, list | dict):
        return safe_cell(orjson.dumps(value, default=_plain).decode())
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A list as a spreadsheet has it.

    `formats` are number formats by heading, as spreadsheets write them. `facts` go on a sheet of
    their own: what the figures are of, and where they come from. `others` are further sheets of
    a workbook, which a text file cannot hold.
    """

    headings: Sequence[str]
    rows: Sequence[Sequence[Any]]
    formats: Mapping[str, str] = field(default_factory=dict)
    facts: Sequence[tuple[str, Any]] = ()
    title: str = "table"
    others: "Sequence[Table]" = ()


def table(data: Any, context: Mapping[str, Any] | None) -> Table:
    """What a view made a table itself, or the rows of a list; one without rows has headings too."""
    if isinstance(data, Table):
        return data
    headings = list((context or {})["view"].get_serializer().fields)
    return Table(headings=headings, rows=[[row[name] for name in headings] for row in data])


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
        found = table(data, renderer_context)
        text = io.StringIO()
        writer = csv.writer(text)
        writer.writerow(found.headings)
        writer.writerows([safe_cell(value) for value in row] for row in found.rows)
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
        found = table(data, renderer_context)
        stream = io.BytesIO()
        # Strings stay strings: no formula, link or number is made of them.
        options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
        with xlsxwriter.Workbook(stream, options) as book:
            for sheet in (found, *found.others):
                _add_rows(book, sheet)
            if found.facts:
                _add_facts(book, found.facts)
        return stream.getvalue()


DAY_FORMAT = "yyyy-mm-dd"
NARROWEST, WIDEST = 8, 40  # characters
LOOKED_AT = 200  # rows, for the width of a column


def _add_rows(book: Any, found: Table) -> None:
    """Headings that stay in sight and filter; numbers and days in their formats."""
    sheet = book.add_worksheet(found.title)
    sheet.freeze_panes(1, 0)
    sheet.write_row(0, 0, found.headings, book.add_format({"bold": True}))
    for column, heading in enumerate(found.headings):
        written = found.formats.get(heading)
        style = book.add_format({"num_format": written}) if written else None
        sheet.set_column(column, column, _width(found, column), style)
    days = book.add_format({"num_format": DAY_FORMAT})
    for number, row in enumerate(found.rows, start=1):
        for column, value in enumerate(row):
            if isinstance(value, dt.date):
                sheet.write_datetime(number, column, _as_written(value), days)
            elif value is not None:
                sheet.write(number, column, _cell(value))
    if found.headings:
        sheet.autofilter(0, 0, len(found.rows), len(found.headings) - 1)


def _width(found: Table, column: int) -> int:
    texts = [found.headings[column], *(str(row[column]) for row in found.rows[:LOOKED_AT])]
    return min(max(NARROWEST, max(map(len, texts)) + 2), WIDEST)


def _add_facts(book: Any, facts: Sequence[tuple[str, Any]]) -> None:
    sheet = book.add_worksheet("about")
    sheet.set_column(0, 0, max(len(name) for name, _ in facts) + 2, book.add_format({"bold": True}))
    sheet.set_column(1, 1, WIDEST * 2, book.add_format({"text_wrap": True, "valign": "top"}))
    for number, (name, value) in enumerate(facts):
        sheet.write_string(number, 0, name)
        sheet.write(number, 1, _cell(value))


def _as_written(value: dt.date) -> dt.date:
    """A spreadsheet's instants have no time zone: theirs is UTC."""
    return (
        value.astimezone(dt.UTC).replace(tzinfo=None) if isinstance(value, dt.datetime) else value
    )


def _cell(value: Any) -> Any:
    safe = safe_cell(value)
    return safe if safe is None or isinstance(safe, int | float | Decimal | str) else str(safe)


class Negotiation(negotiation.DefaultContentNegotiation):
    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        """As DRF's, but an unknown `format` is a 406 and not a 404."""
        wanted = format_suffix or request.query_params.get("format")
        if wanted and wanted not in {renderer.format for renderer in renderers}:
            raise NotAcceptable
        return super().select_renderer(request, renderers, format_suffix)
