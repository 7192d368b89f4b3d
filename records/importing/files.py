"""From bytes and a file name to sheets, whatever kind of file it is."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePath

from records.importing.contents import Content
from records.importing.sheets import FileRefused, Row, Sheet
from records.importing.texts import open_text
from records.importing.workbooks import open_workbook

MAX_FILE_BYTES = 200 * 2**20  # two million rows of text with room to spare
TEXT_SUFFIXES = frozenset({".csv", ".tsv", ".tab", ".txt"})
MACRO_SUFFIXES = frozenset({".xlsm", ".xltm", ".xlam"})

_ZIP = b"PK"
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # old workbooks, and the wrapper of encrypted new ones
_ENCRYPTED_PART = re.compile("EncryptedPackage".encode("utf-16-le"))


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFile:
    """The sheets that hold anything, and for text files how they were taken apart.

    `hidden` names a workbook's sheets that are not shown, which are read only if asked for.
    """

    sheets: tuple[Sheet, ...]
    hidden: tuple[str, ...] = ()
    encoding: str | None = None
    delimiter: str | None = None
    line_ends: str | None = None


def open_file(
    content: Content,
    file_name: str,
    *,
    recognise: Callable[[Row], int],
    encoding: str | None = None,
    delimiter: str | None = None,
    sheet_name: str | None = None,
) -> OpenFile:
    """Open a CSV, TSV, XLSX or ODS file, known by its content first and its name second.

    `recognise` counts the known headings in a row of cells. FileRefused with one of the codes
    empty-file, too-large, macros, encrypted, unknown-type, zip-bomb, damaged, sheet-too-large,
    no-such-sheet, unknown-encoding, bad-encoding, unknown-delimiter or nul-byte; what is wrong
    with single rows (unclosed-quote, cell-too-long, too-many-columns) shows when they are walked
    through.
    """
    suffix = PurePath(file_name).suffix.lower()
    _refuse_early(content, suffix)
    if content.start(len(_ZIP)) == _ZIP:
        sheets, hidden = open_workbook(content, sheet_name)
        return OpenFile(sheets=sheets, hidden=hidden)
    if suffix not in TEXT_SUFFIXES:
        raise FileRefused(
            "unknown-type", f'"{suffix or file_name}" is no file type read here. {_READ_HERE}'
        )
    text = open_text(content, recognise=recognise, encoding=encoding, delimiter=delimiter)
    return OpenFile(
        sheets=(text.sheet,),
        encoding=text.encoding,
        delimiter=text.delimiter,
        line_ends=text.line_ends,
    )


_READ_HERE = "Send CSV, TSV, XLSX or ODS."


def _refuse_early(content: Content, suffix: str) -> None:
    if content.is_blank:
        raise FileRefused("empty-file", "The file is empty. Send the sheet with its rows.")
    if content.size > MAX_FILE_BYTES:
        megabytes = MAX_FILE_BYTES // 2**20
        raise FileRefused("too-large", f"The file is larger than {megabytes} MB. Split it.")
    if suffix in MACRO_SUFFIXES:
        raise FileRefused("macros", "Workbooks with macros are not read. Save it as XLSX.")
    if content.start(len(_OLE)) == _OLE:
        raise _ole_refusal(content)


def _ole_refusal(content: Content) -> FileRefused:
    if content.holds(_ENCRYPTED_PART, longest=len(_ENCRYPTED_PART.pattern)):
        return FileRefused("encrypted", "The workbook is encrypted. Save it without a password.")
    return FileRefused("unknown-type", f"This is an old workbook format (XLS). {_READ_HERE}")
