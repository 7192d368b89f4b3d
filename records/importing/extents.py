"""How far a workbook's sheets reach and which cells hold errors, found without building them.

The reader of workbooks lays each sheet out as a full rectangle, so that two cells in opposite
corners of an otherwise empty sheet would take hundreds of gigabytes; and it gives error cells as
blanks. Both are settled beforehand by one walk through the XML.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from xml.parsers import expat

from records.importing.sheets import column_letters

MAX_ERROR_CELLS = 1_000_000
_DIGITS = "0123456789"


class WalkError(Exception):
    """The XML is damaged, or of a kind that no spreadsheet program writes."""


@dataclass(slots=True)
class Extent:
    """Rows and columns up to the last filled one; errors by (row, column), counted from 0."""

    rows: int = 0
    columns: int = 0
    errors: dict[tuple[int, int], str] = field(default_factory=dict)

    def reach(self, rows: int, columns: int) -> None:
        self.rows = max(self.rows, rows)
        self.columns = max(self.columns, columns)

    def note_error(self, row: int, column: int, text: str) -> None:
        if len(self.errors) >= MAX_ERROR_CELLS:
            raise WalkError("too many cells hold errors")
        self.errors[row, column] = text


def walk_xlsx(chunks: Iterable[bytes]) -> Extent:
    """The extent of a worksheet part."""
    walk = _XlsxWalk()
    with _soundness():
        _parse(walk.parser, chunks)
        return walk.finished()


def walk_ods(chunks: Iterable[bytes]) -> dict[str, Extent]:
    """The extents of a document's sheets by name."""
    walk = _OdsWalk()
    with _soundness():
        _parse(walk.parser, chunks)
    return walk.extents


def attributes_of(local_name: str, chunks: Iterable[bytes]) -> list[dict[str, str]]:
    """The attributes, by local name, of every element of that local name."""
    found: list[dict[str, str]] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if _local(name) == local_name:
            found.append({_local(key): value for key, value in attributes.items()})

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    with _soundness():
        _parse(parser, chunks)
    return found


def root_attributes(chunks: Iterable[bytes]) -> dict[str, str]:
    """The attributes of the outermost element; the rest is not read."""
    found: list[dict[str, str]] = []
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda _name, attributes: found.append(attributes)
    with _soundness():
        for chunk in chunks:
            parser.Parse(chunk, False)
            if found:
                return found[0]
    raise WalkError("there is no element")


def _local(name: str) -> str:
    return name.rpartition(":")[2]


def _parse(parser: expat.XMLParserType, chunks: Iterable[bytes]) -> None:
    parser.StartDoctypeDeclHandler = _refuse_doctype
    for chunk in chunks:
        parser.Parse(chunk, False)
    parser.Parse(b"", True)


@contextmanager
def _soundness() -> Iterator[None]:
    """Broken XML, numbers that are none and unknown encodings are all the file's fault."""
    try:
        yield
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise WalkError(str(error)) from error


def _refuse_doctype(*_declaration: object) -> None:
    raise WalkError("a document type is declared")


class _XlsxWalk:
    """Keeps the letters of filled cells' references, and the greatest of their numbers."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.ordered_attributes = True
        self.parser.StartElementHandler = self._start
        self._local_names: dict[str, str] = {}
        self._row = 0
        self._reference = ""
        self._is_error = False
        self._letters: set[str] = set()
        self._number = ""  # of the row at hand, which its cells share
        self._last_row = 0
        self._errors: dict[str, list[str]] = {}

    def _start(self, name: str, attributes: list[str]) -> None:
        local = self._local_names.get(name) or self._local_name(name)
        if local == "c":
            self._open_cell(attributes)
        elif local in ("v", "is"):
            reference = self._reference
            letters = reference.rstrip(_DIGITS)
            self._letters.add(letters)
            digits = reference[len(letters) :]
            if digits != self._number:
                self._number, self._last_row = digits, max(self._last_row, int(digits))
            if self._is_error:
                self.parser.CharacterDataHandler = self._errors.setdefault(reference, []).append
        elif local == "row":
            number = _attribute(attributes, "r")
            self._row = int(number) if number else self._row + 1
            self._reference = ""

    def _open_cell(self, attributes: list[str]) -> None:
        if self._is_error:
            self.parser.CharacterDataHandler = None
        self._is_error = "e" in attributes
        if attributes and attributes[0] == "r":
            self._reference = attributes[1]
        else:
            self._reference = _attribute(attributes, "r") or self._next_reference()

    def _next_reference(self) -> str:
        """A cell may leave out its reference: then it stands after the one before it."""
        column = column_number(self._reference.rstrip(_DIGITS))
        return f"{column_letters(column)}{self._row}"

    def _local_name(self, name: str) -> str:
        return self._local_names.setdefault(name, _local(name))

    def finished(self) -> Extent:
        extent = Extent(
            rows=self._last_row,
            columns=max(map(column_number, self._letters), default=0),
        )
        for reference, texts in self._errors.items():
            letters = reference.rstrip(_DIGITS)
            row, column = int(reference[len(letters) :]), column_number(letters)
            extent.note_error(row - 1, column - 1, "".join(texts))
        return extent


def _attribute(attributes: list[str], name: str) -> str | None:
    return dict(zip(attributes[::2], attributes[1::2], strict=True)).get(name)


class _OdsWalk:
    """Counts through rows and cells, which may stand for many by a number of repeats."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.extents: dict[str, Extent] = {}
        self._extent = Extent()
        self._row = self._row_repeats = 0
        self._column = self._column_repeats = 0
        self._in_cell = self._is_error = False
        self._error_text = ""

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name in ("table:table-cell", "table:covered-table-cell"):
            self._open_cell(attributes)
        elif name == "text:p" and self._in_cell:
            self._fill()
        elif name == "table:table-row":
            self._row += self._row_repeats
            self._row_repeats = int(attributes.get("table:number-rows-repeated", "1"))
            self._column = self._column_repeats = 0
        elif name == "table:table":
            self._extent = self.extents.setdefault(attributes.get("table:name", ""), Extent())
            self._row = self._row_repeats = 0

    def _open_cell(self, attributes: dict[str, str]) -> None:
        self._column += self._column_repeats
        self._column_repeats = int(attributes.get("table:number-columns-repeated", "1"))
        self._in_cell = True
        self._error_text = ""
        self._is_error = attributes.get("calcext:value-type") == "error"
        if "office:value-type" in attributes:
            self._fill()

    def _fill(self) -> None:
        self._extent.reach(self._row + self._row_repeats, self._column + self._column_repeats)
        if self._is_error:
            self.parser.CharacterDataHandler = self._keep_text

    def _keep_text(self, text: str) -> None:
        self._error_text += text

    def _end(self, name: str) -> None:
        if name in ("table:table-cell", "table:covered-table-cell"):
            self._in_cell = False
            self.parser.CharacterDataHandler = None
            if self._is_error:
                self._note_errors()

    def _note_errors(self) -> None:
        for row in range(self._row, self._row + self._row_repeats):
            for column in range(self._column, self._column + self._column_repeats):
                self._extent.note_error(row, column, self._error_text)


def column_number(letters: str) -> int:
    """How many columns there are up to and with the one of these letters; none of no letters."""
    number = 0
    for letter in letters.upper():
        if not "A" <= letter <= "Z":
            raise WalkError(f"no column is called {letters}")
        number = 26 * number + ord(letter) - ord("A") + 1
    return number
