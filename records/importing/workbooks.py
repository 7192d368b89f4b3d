"""XLSX and ODS workbooks: checked for traps first, then read by calamine."""

import zlib
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import PurePosixPath
from xml.parsers import expat
from zipfile import BadZipFile, ZipFile

from python_calamine import (
    CalamineError,
    CalamineWorkbook,
    SheetMetadata,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from records.importing.extents import Extent, NotWalkable, walk_ods, walk_xlsx
from records.importing.sheets import FileRefused, Row, Sheet, column_letters

MAX_MEMBERS = 2_000  # a workbook of a hundred sheets with pictures has a few hundred
MAX_UNPACKED_BYTES = 512 * 2**20  # 200,000 rows of 15 cells unpack to some 100 MB
MAX_RATIO = 200  # sheets pack 5 to 60 times; zeros, of which bombs are made, a thousand times
MAX_SHEET_CELLS = 10_000_000  # laid out in full, some 300 MB
CHUNK_BYTES = 2**20

_WORKBOOK_PART = "xl/workbook.xml"
_RELATIONSHIPS_PART = "xl/_rels/workbook.xml.rels"
_ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"


def open_workbook(content: bytes, sheet_name: str | None) -> Sheet:
    """The sheet of that name, or the first one that is visible and not empty."""
    try:
        with ZipFile(BytesIO(content)) as archive:
            _check_archive(archive, len(content))
            walk = _walk_of(archive)
            with CalamineWorkbook.from_filelike(BytesIO(content)) as workbook:
                return _open_sheet(workbook, walk, sheet_name)
    except (BadZipFile, zlib.error, CalamineError, NotWalkable, KeyError, EOFError) as error:
        raise FileRefused(
            "damaged", "The workbook is damaged. Open it, save it again and send that."
        ) from error


def _check_archive(archive: ZipFile, packed_bytes: int) -> None:
    members = archive.infolist()
    names = [member.filename.lower() for member in members]
    unpacked = sum(member.file_size for member in members)
    if any(member.flag_bits & 1 for member in members):
        raise _encrypted()
    if (
        len(members) > MAX_MEMBERS
        or unpacked > MAX_UNPACKED_BYTES
        or unpacked > MAX_RATIO * packed_bytes
    ):
        raise FileRefused(
            "zip-bomb", "The workbook unpacks to far more than a list of weighings. It is not read."
        )
    if len(set(names)) < len(names):
        raise BadZipFile("two members of one name")
    if any(_is_macro(name) for name in names):
        raise FileRefused("macros", "The workbook holds macros. Save it as XLSX or ODS without.")


def _is_macro(name: str) -> bool:
    return name.endswith("vbaproject.bin") or name.startswith(
        ("xl/macrosheets/", "basic/", "scripts/")
    )


def _encrypted() -> FileRefused:
    return FileRefused("encrypted", "The workbook is encrypted. Save it without a password.")
