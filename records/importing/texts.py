"""Delimited text: which encoding, which line ends, which delimiter, and its cells."""

import codecs
import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import TextIOWrapper
from itertools import chain, islice
from typing import TYPE_CHECKING, NamedTuple

from records.importing.contents import Content
from records.importing.sheets import FileRefused, Row, Sheet

if TYPE_CHECKING:
    from _csv import Reader

DELIMITERS = (",", ";", "\t", "|")
ENCODINGS = (
    *("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"),
    *("cp1252", "iso8859-1", "iso8859-15", "mac-roman", "cp850"),
)
BYTE_ORDER_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)
SAMPLE_BYTES = 4_096
SAMPLE_ROWS = 30

# The first byte of most accented Latin letters in UTF-8, followed as UTF-8 demands; in cp1252
# that is a capital A with tilde before a symbol, which no one writes.
_ACCENTED_IN_UTF8 = re.compile(rb"\xc3[\x80-\xbf]")
BYTE_ORDER_SIGN = "\ufeff"


@dataclass(frozen=True, slots=True, kw_only=True)
class TextFile:
    """A text file's sheet, and how it was taken apart."""

    sheet: Sheet
    encoding: str
    delimiter: str
    line_ends: str


def open_text(
    content: Content,
    *,
    recognise: Callable[[Row], int],
    encoding: str | None = None,
    delimiter: str | None = None,
) -> TextFile:
    """Decode and take apart; `recognise` counts the headings that a row of cells would give."""
    encoding = _known_encoding(encoding) if encoding else detect_encoding(content)
    line_ends = _survey(content, encoding)
    if delimiter and delimiter not in DELIMITERS:
        raise FileRefused("unknown-delimiter", "Cells are parted by a comma, ; a tab or |.")
    text = Text(content, encoding)
    chosen = delimiter or detect_delimiter(text, recognise)
    return TextFile(
        sheet=Sheet(name="", is_text=True, cells=lambda: _records(text, chosen)),
        encoding=encoding,
        delimiter=chosen,
        line_ends=line_ends,
    )


class Text(NamedTuple):
    """A file's text, decoded as it is walked through."""

    content: Content
    encoding: str

    @contextmanager
    def lines(self) -> Iterator[TextIOWrapper]:
        """With every kind of line end left in place, for csv to see."""
        with TextIOWrapper(self.content.open(), self.encoding, newline="") as lines:
            if lines.read(1) != BYTE_ORDER_SIGN:
                lines.seek(0)
            yield lines


def _known_encoding(name: str) -> str:
    with suppress(LookupError, ValueError):
        known = codecs.lookup(name).name
        if known in ENCODINGS:
            return known
    raise FileRefused(
        "unknown-encoding", f'"{name}" is not read here. Say one of {", ".join(ENCODINGS)}.'
    )


def detect_encoding(content: Content) -> str:
    """By byte order mark, else UTF-16 by its zero bytes, else UTF-8 if valid, else cp1252."""
    sample = content.start(SAMPLE_BYTES)
    for mark, encoding in BYTE_ORDER_MARKS:
        if sample.startswith(mark):
            return encoding
    utf_16 = _utf_16_without_mark(sample) if content.size % 2 == 0 else None
    if utf_16:
        return utf_16
    try:
        for _ in decoded(content, "utf-8"):
            pass
    except Undecodable as error:
        return _fall_back(content, error)
    return "utf-8"


def _utf_16_without_mark(sample: bytes) -> str | None:
    """Latin text in UTF-16 has a zero in nearly every pair of bytes, always on the same side."""
    pairs = len(sample) // 2
    first, second = sample[0::2].count(0), sample[1::2].count(0)
    if not pairs:
        return None
    if second > 0.7 * pairs and first < 0.1 * pairs:
        return "utf-16-le"
    if first > 0.7 * pairs and second < 0.1 * pairs:
        return "utf-16-be"
    return None


def _fall_back(content: Content, error: "Undecodable") -> str:
    if content.holds(_ACCENTED_IN_UTF8, longest=2):
        raise FileRefused(
            "bad-encoding",
            f"Line {error.line} is not UTF-8, though other lines are. "
            "Save the file again as UTF-8, or say which encoding it is in.",
        )
    return "cp1252"


class Undecodable(Exception):  # noqa: N818 - what is found, which may decide the encoding
    """A line that cannot be decoded."""

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


def decoded(content: Content, encoding: str) -> Iterator[str]:
    """The text, a chunk at a time. Undecodable, with the line, where it is none."""
    decoder = codecs.getincrementaldecoder(encoding)()
    line = 1
    for chunk in chain(content.chunks(), [b""]):
        try:
            yield decoder.decode(chunk, final=not chunk)
        except UnicodeDecodeError as error:
            raise Undecodable(line + error.object.count(b"\n", 0, error.start)) from error
        line += chunk.count(b"\n")


def _survey(content: Content, encoding: str) -> str:
    """Look through all of it once: which line ends it has, if it is text at all."""
    line, both, feeds, returns, last = 1, 0, 0, 0, ""
    try:
        for text in decoded(content, encoding):
            if "\0" in text:
                line += feeds + text.count("\n", 0, text.index("\0"))
                raise FileRefused(
                    "nul-byte", f"Line {line} holds a NUL byte: this is not a text file."
                )
            feeds += text.count("\n")
            returns += text.count("\r")
            both += text.count("\r\n") + (last == "\r" and text.startswith("\n"))
            last = text[-1:] or last
    except Undecodable as error:
        raise FileRefused(
            "bad-encoding",
            f"Line {error.line} cannot be read as {encoding}. "
            "Save the file as UTF-8 and send it again.",
        ) from error
    kinds = {"crlf": both, "lf": feeds - both, "cr": returns - both}
    found = [name for name, count in kinds.items() if count]
    return found[0] if len(found) == 1 else "mixed" if found else "lf"


def detect_delimiter(text: Text, recognise: Callable[[Row], int]) -> str:
    """The delimiter that yields a row with the most known headings, then the most cells."""
    return max(DELIMITERS, key=lambda delimiter: _fit(text, delimiter, recognise))


def _fit(text: Text, delimiter: str, recognise: Callable[[Row], int]) -> tuple[int, int]:
    best = (0, 0)
    # A wrong delimiter may well leave quotes in odd places; the right one is checked later.
    with text.lines() as lines, suppress(csv.Error):
        for row in islice(_reader(lines, delimiter), SAMPLE_ROWS):
            best = max(best, (recognise(row), len(row)))
    return best


def _reader(lines: Iterable[str], delimiter: str) -> "Reader":
    return csv.reader(lines, delimiter=delimiter, strict=True, skipinitialspace=True)


def _records(text: Text, delimiter: str) -> Iterator[Sequence[str]]:
    number, last_line = 0, 0
    with text.lines() as lines:
        reader = _reader(lines, delimiter)
        try:
            for number, row in enumerate(reader, start=1):  # noqa: B007 - the handler names the row
                last_line = reader.line_num
                yield row
        except csv.Error as error:
            raise _quoting_refusal(number + 1, reader.line_num - last_line, error) from error


def _quoting_refusal(row: int, lines: int, error: csv.Error) -> FileRefused:
    if "field limit" in str(error) and lines <= 1:
        return FileRefused("cell-too-long", f"Row {row} has a cell that is far too long.")
    return FileRefused(
        "unclosed-quote",
        f"In row {row} a quotation mark opens a cell and is not closed at its end. "
        'Close it, or write a mark within a cell twice ("").',
    )
