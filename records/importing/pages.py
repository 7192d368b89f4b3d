"""The sheets of a file that are tables of its kind: their headings, and what their names supply."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from itertools import dropwhile, islice, takewhile

from records.importing.columns import FileKind, Heading, HeadingMap, HeadingProblem, Kind
from records.importing.lines import Line, LineReader, Places
from records.importing.sheetnames import NO_YEAR, Told, told_by_name
from records.importing.sheets import (
    Cell,
    FileRefused,
    Row,
    Sheet,
    cell_at,
    check_limits,
    is_filled,
)
from records.importing.wide import Known, unclaimed, understand, unknown_value
from records.importing.written import parse_number

HEADING_WITHIN_ROWS = 30  # a title, an address, a logo's blank rows: more than any sheet has seen
LOOKED_THROUGH = 200  # rows below the headings in which a column shows whether it holds numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A sheet with its heading row; `supplied` are columns that its name fills in.

    Without `adds_up`, nothing in it depends on what its rows add up to.
    """

    sheet: Sheet
    kind: FileKind
    heading_row: int
    columns: HeadingMap
    known: Known
    title_rows: tuple[int, ...] = ()
    supplied: tuple[Heading, ...] = ()
    adds_up: bool = True

    @property
    def over(self) -> str:
        """The column whose values are headings; "" where there is none."""
        return self.columns.wide[0].over if self.columns.wide else ""

    @property
    def said(self) -> frozenset[str]:
        """All columns that the sheet speaks of, in whatever way."""
        names = {heading.column.name for heading in (*self.columns.used, *self.supplied)}
        return frozenset(names | {self.over} - {""})

    def lines(self) -> Iterator[Line]:
        """The rows below the headings, anew at each call."""
        reader = LineReader(Places.of(self.columns, self.kind), self.known.month)
        below = dropwhile(lambda one: one[0] <= self.heading_row, self.sheet.rows())
        return reader.read(below)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """The sheets to be read, and why others are not."""

    read: tuple[Page, ...]
    left_out: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What tables are looked for: the kind, what headings are mapped to, and the farm's words.

    `words` are by column, {folded: as the farm writes it}. A `heading_row` is taken as it is.
    """

    kind: FileKind
    mapping: Mapping[str, str]
    words: Mapping[str, Mapping[str, str]]
    file_name: str
    heading_row: int | None


def find_pages(sheets: Sequence[Sheet], search: Search) -> Pages:
    """All sheets with the headings of the kind; if none has them all, the one with the most.

    FileRefused if there is no sheet with at least two.
    """
    found: list[Page] = []
    refused: dict[str, FileRefused] = {}
    for sheet in sheets:
        try:
            found.append(_page(sheet, search))
        except FileRefused as refusal:
            if len(sheets) == 1 or refusal.code not in _NO_TABLE:
                raise
            refused[sheet.name] = refusal
    if not found:
        raise next(iter(refused.values()))
    fitting = [page for page in found if not page.columns.missing]
    read = fitting or [max(found, key=lambda page: len(page.columns.used))]
    left = {page.sheet.name: _lacking(page) for page in found if page not in read}
    left |= dict.fromkeys(refused, "It has no headings that are known here.")
    order = [sheet.name for sheet in sheets if sheet.name in left]
    return Pages(read=tuple(read), left_out=tuple((name, left[name]) for name in order))


_NO_TABLE = frozenset({"no-heading-row", "too-many-columns", "empty-file"})


def _lacking(page: Page) -> str:
    needed = "; ".join(" or ".join(group) for group in page.columns.missing)
    return f"It has no column for: {needed}."


def _page(sheet: Sheet, search: Search) -> Page:
    check_limits(sheet)
    kind, mapping = search.kind, search.mapping
    beside = [search.file_name, *_titles(sheet)]
    told = told_by_name(sheet.name, kind, search.words, beside=beside)
    match = partial(understand, kind=kind, mapping=mapping, known=told.known)
    number, columns = find_headings(sheet, kind, match, search.heading_row)
    page = Page(
        sheet=sheet,
        kind=kind,
        heading_row=number,
        columns=columns,
        known=told.known,
        title_rows=tuple(takewhile(lambda row: row < number, (row for row, _ in sheet.rows()))),
        supplied=tuple(_supplied(sheet, kind, columns, told.known)),
    )
    problems = (*columns.problems, *_yearless(page, told), *_unknown_values(page, mapping))
    return replace(page, columns=replace(columns, problems=problems))


def _titles(sheet: Sheet) -> Iterator[str]:
    """The texts above a table: its first rows, as long as they have no more than two cells."""
    for _, row in islice(sheet.rows(), HEADING_WITHIN_ROWS):
        filled = list(filter(is_filled, row))
        if len(filled) > 2:
            return
        yield from (cell for cell in filled if isinstance(cell, str))


def find_headings(
    sheet: Sheet,
    kind: FileKind,
    match: Callable[[Row], HeadingMap],
    heading_row: int | None = None,
) -> tuple[int, HeadingMap]:
    """The row number and columns of the first row with all required headings.

    Where no row has them all, it is the row with the most, if that is at least two: the report
    then says what is missing. A caller's `heading_row` is taken as it is.
    """
    last = heading_row or HEADING_WITHIN_ROWS
    best: tuple[int, HeadingMap] | None = None
    for number, row in takewhile(lambda numbered: numbered[0] <= last, sheet.rows()):
        if heading_row and number != heading_row:
            continue
        found = match(row)
        if heading_row or not found.missing:
            return number, found
        if len(found.used) > (len(best[1].used) if best else 1):
            best = number, found
    if best is None:
        raise _no_heading_row(sheet, kind, heading_row)
    return best


def _no_heading_row(sheet: Sheet, kind: FileKind, heading_row: int | None) -> FileRefused:
    needed = "; ".join(" or ".join(group) for group in kind.required)
    where = f"row {heading_row}" if heading_row else f"the first {HEADING_WITHIN_ROWS} rows"
    named = f' of the sheet "{sheet.name}"' if sheet.name else ""
    return FileRefused(
        "no-heading-row",
        f"No headings were recognised in {where}{named}. Needed are columns for: {needed}. "
        "Name them so, or map your own headings to them.",
    )


def _supplied(sheet: Sheet, kind: FileKind, columns: HeadingMap, known: Known) -> Iterator[Heading]:
    """What the sheet's name fills in, for want of a column."""
    names = {heading.column.name for heading in columns.used}
    names |= {heading.over for heading in columns.used}
    for name, value in known.supplied.items():
        if name not in names:
            column = kind.by_name[name]
            yield Heading(text=f"sheet {sheet.name}", index=-1, column=column, value=value)


def _yearless(page: Page, told: Told) -> Iterator[HeadingProblem]:
    if told.month_alone and any(_lacks_year(cell) for cell in _days(page)):
        yield HeadingProblem(
            code="year-unknown",
            headings=(page.sheet.name,),
            detail=f'The sheet "{page.sheet.name}" is named after a month, and its year is nowhere '
            "to be found. Write the year in the sheet's name or in a title.",
        )


def _days(page: Page) -> Iterator[Cell]:
    yield from (heading.value for heading in page.columns.wide)
    dates = [one.index for one in page.columns.fixed if one.column.kind is Kind.DATE]
    for line in islice(page.lines(), LOOKED_THROUGH):
        yield from (line.cells[index] for index in dates)


def _lacks_year(cell: Cell) -> bool:
    return isinstance(cell, date) and cell.year == NO_YEAR


def _unknown_values(page: Page, mapping: Mapping[str, str]) -> Iterator[HeadingProblem]:
    """Columns right beside a wide sheet's, with numbers in them and headings that mean nothing."""
    wide = page.columns.wide
    if not wide:
        return
    row = next(row for number, row in page.sheet.rows() if number == page.heading_row)
    taken = {heading.index for heading in page.columns.used}
    loose = {index: text for index, text, _ in unclaimed(row, taken, mapping)}
    touching = {heading.index for heading in wide}
    for index in (*sorted(loose), *sorted(loose, reverse=True)):
        if {index - 1, index + 1} & touching:
            touching.add(index)
    below = [line.cells for line in islice(page.lines(), LOOKED_THROUGH)]
    found = {
        index: text
        for index, text in loose.items()
        if index in touching and any(_is_number(cell_at(cells, index)) for cells in below)
    }
    told = {text for problem in page.columns.problems for text in problem.headings}
    if found and not told & set(found.values()):
        yield unknown_value(found, wide[0].over)


def _is_number(cell: Cell) -> bool:
    if isinstance(cell, str):
        return parse_number(cell, ".") is not None or parse_number(cell, ",") is not None
    return isinstance(cell, float)
