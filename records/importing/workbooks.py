"""XLSX and ODS workbooks: checked for traps first, then read by calamine."""

import zlib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import NamedTuple
from zipfile import BadZipFile, ZipFile

from python_calamine import (
    CalamineError,
    CalamineSheet,
    CalamineWorkbook,
    SheetTypeEnum,
    SheetVisibleEnum,
)

from records.importing.contents import Content
from records.importing.extents import (
    Extent,
    WalkError,
    attributes_of,
    root_attributes,
    walk_ods,
    walk_xlsx,
)
from records.importing.sheets import MAX_ROWS, Cell, FileRefused, Row, Sheet, column_letters

MAX_MEMBERS = 2_000  # a workbook of a hundred sheets with pictures has a few hundred
MAX_UNPACKED_BYTES = 512 * 2**20  # 200,000 rows of 15 cells unpack to some 100 MB
MAX_RATIO = 200  # sheets pack 5 to 60 times; zeros, of which bombs are made, a thousand times
MAX_SHEET_CELLS = 10_000_000  # laid out in full, some 300 MB
CHUNK_BYTES = 2**20
SHORTEST_TEXT_BYTES = len("<si/>")

_XLSX_PART = "xl/workbook.xml"
_XLSX_RELATIONSHIPS = "xl/_rels/workbook.xml.rels"
_XLSX_TEXTS = "xl/sharedstrings.xml"
_ODS_PART = "content.xml"
_ODS_MANIFEST = "META-INF/manifest.xml"
_ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"
_MACRO_FOLDERS = ("xl/macrosheets/", "basic/", "scripts/")
_DAMAGE = (
    BadZipFile,
    CalamineError,
    EOFError,
    KeyError,
    NotImplementedError,
    WalkError,
    zlib.error,
)

ExtentOf = Callable[[str], Extent]


class Opened(NamedTuple):
    """A workbook's sheets that are to be read, and the names of those that are hidden."""

    sheets: tuple[Sheet, ...]
    hidden: tuple[str, ...]


def open_workbook(content: Content, sheet_name: str | None) -> Opened:
    """The sheet of that name, or all that are visible and not empty."""
    with _damage_refused(), content.open() as file, ZipFile(file) as archive:
        _check_archive(archive, content.size)
        extent_of = _extents(archive)
        with content.open() as whole:
            workbook = CalamineWorkbook.from_filelike(whole)
        names, hidden = _choose(workbook, extent_of, sheet_name)
        # Before any is built: building a sheet that reaches too far fills the memory.
        extents = {name: _checked(name, extent_of(name)) for name in names}
        sheets = (
            _sheet(workbook.get_sheet_by_name(name), extent) for name, extent in extents.items()
        )
        return Opened(tuple(sheets), hidden)


@contextmanager
def _damage_refused() -> Iterator[None]:
    try:
        yield
    except BaseException as error:
        # calamine's panics come as a class that cannot be imported and is no Exception
        if not isinstance(error, _DAMAGE) and type(error).__name__ != "PanicException":
            raise
        raise FileRefused(
            "damaged", "The workbook is damaged. Open it, save it again and send that."
        ) from error


def _check_archive(archive: ZipFile, packed_bytes: int) -> None:
    members = archive.infolist()
    names = [member.filename.lower() for member in members]
    unpacked_bytes = sum(member.file_size for member in members)
    limit = min(MAX_UNPACKED_BYTES, MAX_RATIO * packed_bytes)
    if len(members) > MAX_MEMBERS or unpacked_bytes > limit:
        raise FileRefused(
            "zip-bomb", "The workbook unpacks to far more than a list of weighings could hold."
        )
    if any(member.flag_bits & 1 for member in members):
        raise _encrypted()
    if any(name.endswith("vbaproject.bin") or name.startswith(_MACRO_FOLDERS) for name in names):
        raise FileRefused("macros", "The workbook holds macros. Save it without, as XLSX or ODS.")
    if len(set(names)) < len(names):
        raise BadZipFile("two members have one name")


def _encrypted() -> FileRefused:
    return FileRefused("encrypted", "The workbook is encrypted. Save it without a password.")


def _extents(archive: ZipFile) -> ExtentOf:
    """A function from a sheet's name to its extent; an ODS is checked whole, as it is read."""
    names = set(archive.namelist())
    if _XLSX_PART in names:
        _check_shared_strings(archive)
        parts = _worksheet_parts(archive)
        return cache(lambda name: walk_xlsx(_chunks(archive, parts[name])))
    if "mimetype" in names and archive.read("mimetype").strip() == _ODS_TYPE:
        if b"encryption-data" in archive.read(_ODS_MANIFEST):
            raise _encrypted()
        extents = walk_ods(_chunks(archive, _ODS_PART))
        for name, extent in extents.items():
            _checked(name, extent)
        return extents.__getitem__
    raise FileRefused("unknown-type", "This is no workbook read here. Send XLSX, ODS, CSV or TSV.")


def _check_shared_strings(archive: ZipFile) -> None:
    """calamine makes room for as many texts as are announced, so no more may be than there are."""
    for member in archive.infolist():
        if member.filename.lower() == _XLSX_TEXTS:
            announced = root_attributes(_chunks(archive, member.filename)).get("uniqueCount", "0")
            if (
                not announced.isdecimal()
                or int(announced) > member.file_size // SHORTEST_TEXT_BYTES
            ):
                raise WalkError("more texts are announced than there is room for")


def _worksheet_parts(archive: ZipFile) -> dict[str, str]:
    """Where in the archive each sheet is, by the sheet's name."""
    relationships = attributes_of("Relationship", _chunks(archive, _XLSX_RELATIONSHIPS))
    targets = {one["Id"]: one["Target"] for one in relationships}
    if len(targets) < len(relationships):
        raise WalkError("two relationships have one name")
    sheets = attributes_of("sheet", _chunks(archive, _XLSX_PART))
    return {one["name"]: _part(targets[one["id"]]) for one in sheets}


def _part(target: str) -> str:
    path = target.removeprefix("/")
    return path if path.startswith("xl/") else f"xl/{path}"


def _chunks(archive: ZipFile, name: str) -> Iterator[bytes]:
    with archive.open(name) as member:
        while chunk := member.read(CHUNK_BYTES):
            yield chunk


def _choose(
    workbook: CalamineWorkbook, extent_of: ExtentOf, wanted: str | None
) -> tuple[list[str], tuple[str, ...]]:
    sheets = [one for one in workbook.sheets_metadata if one.typ == SheetTypeEnum.WorkSheet]
    if wanted:
        return [_named(wanted, [one.name for one in sheets])], ()
    filled = [one for one in sheets if extent_of(one.name).rows]
    shown = [one.name for one in filled if one.visible == SheetVisibleEnum.Visible]
    if not shown:
        raise FileRefused("empty-file", "The workbook has no visible sheet with anything in it.")
    return shown, tuple(one.name for one in filled if one.name not in shown)


def _named(wanted: str, names: Iterable[str]) -> str:
    by_folded_name = {name.strip().casefold(): name for name in names}
    try:
        return by_folded_name[wanted.strip().casefold()]
    except KeyError:
        listed = ", ".join(f'"{name}"' for name in by_folded_name.values())
        raise FileRefused(
            "no-such-sheet", f'There is no sheet "{wanted}". The workbook has: {listed}.'
        ) from None


def _checked(name: str, extent: Extent) -> Extent:
    if extent.rows > MAX_ROWS or extent.rows * extent.columns > MAX_SHEET_CELLS:
        corner = f"{column_letters(extent.columns - 1)}{extent.rows}"
        raise FileRefused(
            "sheet-too-large",
            f'The sheet "{name}" reaches to cell {corner}. Delete what stands far off the table.',
        )
    return extent


def _sheet(source: CalamineSheet, extent: Extent) -> Sheet:
    first_column = source.start[1] if source.start else 0
    errors: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for (row, column), text in extent.errors.items():
        errors[row].append((column, text))

    def cells() -> Iterator[Row]:
        with _damage_refused():
            for number, row in enumerate(source.iter_rows()):
                full: list[Cell] = [*[""] * first_column, *row]
                for column, text in errors.get(number, ()):
                    full[column] = text
                yield full

    return Sheet(name=source.name, is_text=False, cells=cells)
