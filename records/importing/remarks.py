"""What was done with a file by a rule, told to its sender: rows left out, cells carried down."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from records.importing.columns import Heading
from records.importing.lines import Line, LineIs
from records.importing.pages import Page, Pages
from records.importing.sheetnames import NO_YEAR
from records.importing.sheets import as_written, is_filled, printable
from records.importing.wide import spoken

EXAMPLES = 5
TOTALS = "totals"
MAX_SHOWN_CHARS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """`rows` are the first few it is about; `count` is how many there are."""

    code: str
    sheet: str
    detail: str
    count: int = 0
    rows: tuple[int, ...] = ()


@dataclass(slots=True)
class Notes:
    """Rows of one sort: how many, the first few, and what they say."""

    count: int = 0
    rows: list[int] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    def add(self, line: Line) -> None:
        self.count += 1
        if self.count <= EXAMPLES:
            self.rows.append(line.number)
            first = next(filter(is_filled, line.cells), "")
            self.texts.append(printable(as_written(first))[:MAX_SHOWN_CHARS])

    @property
    def shown(self) -> str:
        more = ["..."] if self.count > EXAMPLES else []
        named = [f"row {row}: {text}" for row, text in zip(self.rows, self.texts, strict=True)]
        return "; ".join(named + more)


class Observer:
    """Watches the lines of one page go by, and says afterwards what was special about them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self._carried: dict[str, Notes] = defaultdict(Notes)
        self._others: dict[LineIs, Notes] = defaultdict(Notes)

    def entries(self, lines: Iterable[Line]) -> Iterator[Line]:
        """The entries alone."""
        for line in lines:
            for name in line.carried:
                self._carried[name].add(line)
            if line.what is LineIs.ENTRY:
                yield line
            else:
                self._others[line.what].add(line)

    def observed(self) -> Page:
        """The page, with whether there is a total in it or a row that might be one."""
        has_total = self.page.columns.heading("total") is not None
        adds_up = has_total or LineIs.TOTAL in self._others or bool(self._carried)
        return replace(self.page, adds_up=adds_up)

    def remarks(self) -> Iterator[Remark]:
        yield from self._of_sheet()
        for name, notes in self._carried.items():
            heading = self.page.columns.heading(name)
            yield self._remark(
                "carried-down",
                f'"{heading.text if heading else name}" is blank in {_rows(notes.count)} and was '
                "taken from the row above. Nothing is carried across a blank row or a total.",
                notes,
            )
        for what, (code, detail) in _LEFT_OUT.items():
            if left := self._others.get(what):
                told = f"{_rows(left.count)} {_were(left.count)} {detail} ({left.shown})."
                yield self._remark(code, told, left)

    def _of_sheet(self) -> Iterator[Remark]:
        page = self.page
        if page.title_rows:
            count = len(page.title_rows)
            detail = f"{_rows(count)} above the headings {_were(count)} left out."
            yield self._remark("title-rows", detail, Notes(count, list(page.title_rows[:EXAMPLES])))
        for heading in page.supplied:
            meant = f"the {spoken(heading.column.name)} of all rows, which have no column for it"
            yield self._remark("sheet-name", f'The name "{page.sheet.name}" is {meant}.')
        if page.known.month and page.known.month.year != NO_YEAR:
            month = f"{page.known.month.year}-{page.known.month.month:02}"
            yield self._remark("sheet-name", f"Days without a month are taken in {month}.")
        if page.columns.wide:
            yield self._remark("wide-sheet", _told_wide(page.columns.wide))

    def _remark(self, code: str, detail: str, notes: Notes | None = None) -> Remark:
        notes = notes or Notes()
        return Remark(
            code=code,
            sheet=self.page.sheet.name,
            detail=detail,
            count=notes.count,
            rows=tuple(notes.rows),
        )


_LEFT_OUT = {
    LineIs.TOTAL: (TOTALS, "taken for totals: not loaded, but held against the rows above"),
    LineIs.HEADINGS: ("headings-repeated", "left out for repeating the headings"),
    LineIs.MEAN: ("means", "left out as averages"),
    LineIs.NOTE: ("footer-rows", "left out as notes below the table"),
}


def of_left_out(pages: Pages, hidden: Iterable[str]) -> Iterator[Remark]:
    """A remark for each sheet that is not read."""
    for name, reason in pages.left_out:
        yield Remark(code="sheet-left-out", sheet=name, detail=f"The sheet is not read. {reason}")
    for name in hidden:
        detail = "The sheet is hidden and not read. Ask for it by name, or show it."
        yield Remark(code="sheet-left-out", sheet=name, detail=detail)


def _told_wide(wide: tuple[Heading, ...]) -> str:
    over = spoken(wide[0].over)
    meant = [
        f'"{one.text}"' if as_written(one.value) == one.text else f'"{one.text}" ({one.value})'
        for one in wide[:EXAMPLES]
    ]
    more = f" and {len(wide) - EXAMPLES} more" if len(wide) > EXAMPLES else ""
    gaps = "Blank cells, dashes and zeros are nothing."
    return f"Each heading is a {over}: {', '.join(meant)}{more}. {gaps}"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"


def _were(count: int) -> str:
    return "was" if count == 1 else "were"
