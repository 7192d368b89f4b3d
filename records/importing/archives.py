"""Files and ZIPs sent in one step, taken apart into single files.

A ZIP is not trusted: how much comes out of it is bounded before and while it is unpacked, and its
names are only ever shown, never used as paths.
"""

import stat
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import PurePath
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from records.importing.zipnames import clean_name, path_of

MAX_FILES = 500  # a co-op of two hundred members sends one each, with room to spare
MAX_ENTRIES = 2_000  # of a ZIP, with its folders and what a computer put there by itself
MAX_UNPACKED_BYTES = 200 * 2**20  # of all files together; as much as one import may have
MAX_RATIO = 200  # sheets pack 5 to 60 times; zeros, of which bombs are made, a thousand times
SMALL_BYTES = 2**20  # what unpacks to less is no bomb
# Enough for a ZIP of workbooks, each with parts of its own, and a bound on the memory of a listing.
MAX_HEADERS = 50_000

_ZIP = b"PK"
_HEADER = b"PK\x01\x02"
_OTHER_ARCHIVES = (b"Rar!", b"7z\xbc\xaf\x27\x1c", b"\x1f\x8b", b"BZh", b"\xfd7zXZ")
_ARCHIVE_SUFFIXES = frozenset({".zip", ".rar", ".7z", ".gz", ".tgz", ".bz2", ".xz", ".tar"})
_OFFICE_PARTS = frozenset({"[Content_Types].xml", "mimetype"})
_ENCRYPTED_FLAGS = 0x1 | 0x40
_LITTER_NAMES = frozenset({"thumbs.db", "desktop.ini", "__macosx"})
_MAKE_A_ZIP = "Make an ordinary ZIP of the sheets and send that."


@dataclass(frozen=True, slots=True, kw_only=True)
class SentFile:
    """A file as it was sent, a ZIP or not."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleFile:
    """One file out of what was sent. `ignored` says why it is no file of a member's."""

    name: str
    content: bytes
    archive: str = ""
    folders: tuple[str, ...] = ()
    ignored: str = ""

    @property
    def path(self) -> str:
        """Where the file was: the ZIP, its folders, its name."""
        return "/".join(part for part in (self.archive, *self.folders, self.name) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong with one of the files sent, counted from 0."""

    number: int
    code: str
    detail: str


class SendingRefused(Exception):  # noqa: N818 - a decision about the files, not a failure of ours
    """What was sent cannot be taken apart; nothing of it is kept. `faults` has one at least."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__(faults[0].detail)
        self.faults = faults

    @property
    def is_too_large(self) -> bool:
        return any(fault.code == "too-large" for fault in self.faults)


class _Refused(Exception):  # noqa: N818 - as above, before it is known which file it was
    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


def take_apart(sent: Sequence[SentFile]) -> list[SingleFile]:
    """Every single file, in the order sent.

    SendingRefused with one of the codes too-many-files, too-large, zip-bomb, encrypted,
    nested-archive, unknown-archive, damaged or empty-archive.
    """
    found: list[SingleFile] = []
    faults: list[Fault] = []
    for number, file in enumerate(sent):
        room = MAX_UNPACKED_BYTES - sum(len(one.content) for one in found)
        try:
            found += _single_files(file, room)
        except _Refused as error:
            faults.append(Fault(number=number, code=error.code, detail=error.detail))
    if not faults and sum(not one.ignored for one in found) > MAX_FILES:
        text = f"These are more than {MAX_FILES} files. Send them in several steps."
        faults.append(Fault(number=len(sent) - 1, code="too-many-files", detail=text))
    if faults:
        raise SendingRefused(*faults)
    return found


def _single_files(file: SentFile, room: int) -> list[SingleFile]:
    name = clean_name(file.name)
    if _is_zip(file.content):
        return list(_unpack(name, file.content, room))
    if _is_other_archive(name, file.content):
        raise _Refused("unknown-archive", f'"{name}" cannot be unpacked here. {_MAKE_A_ZIP}')
    if len(file.content) > room:
        raise _too_large()
    return [SingleFile(name=name, content=file.content, ignored=_litter((name,)))]


# What a file is ----------------------------------------------------------------------------------


def _is_zip(content: bytes) -> bool:
    """A ZIP that is no workbook or text document, which are ZIPs too."""
    if not content.startswith(_ZIP):
        return False
    _check_headers(content)
    try:
        with ZipFile(BytesIO(content)) as archive:
            return _OFFICE_PARTS.isdisjoint(archive.namelist())
    except (BadZipFile, UnicodeDecodeError):
        return False


def _is_other_archive(name: str, content: bytes) -> bool:
    suffix = PurePath(name).suffix.lower()
    return content.startswith(_OTHER_ARCHIVES) or suffix in _ARCHIVE_SUFFIXES


def _litter(path: Sequence[str]) -> str:
    """Why a file is none that a person meant to send, by its name; empty if it may be one."""
    if any(part.casefold() in _LITTER_NAMES or part.startswith(".") for part in path):
        return "The computer that packed the files put this one there; it is no sheet."
    if path[-1].startswith("~$"):
        return "This only says that a workbook was open; the workbook itself is another file."
    return ""


# ZIPs --------------------------------------------------------------------------------------------


def _unpack(name: str, content: bytes, room: int) -> Iterator[SingleFile]:
    try:
        with ZipFile(BytesIO(content)) as archive:
            entries = _checked(name, archive.infolist(), len(content), room)
            for entry in entries:
                single = _entry(name, archive, entry, room)
                room -= len(single.content)
                yield single
    except (BadZipFile, EOFError, NotImplementedError, zlib.error):
        raise _Refused("damaged", f'The ZIP "{name}" is damaged. {_MAKE_A_ZIP}') from None


def _checked(name: str, entries: list[ZipInfo], packed_bytes: int, room: int) -> list[ZipInfo]:
    """The entries that are files; the ZIP is refused by what it says of itself."""
    files = [entry for entry in entries if not entry.is_dir()]
    if len(entries) > MAX_ENTRIES:
        raise _too_many_entries()
    if not files:
        raise _Refused("empty-archive", f'The ZIP "{name}" has no file in it.')
    unpacked_bytes = sum(entry.file_size for entry in files)
    if unpacked_bytes > max(SMALL_BYTES, MAX_RATIO * packed_bytes):
        raise _Refused("zip-bomb", f'The ZIP "{name}" unpacks to far more than sheets would.')
    if unpacked_bytes > room:
        raise _too_large()
    for entry in files:
        _check_entry(entry)
    return files


def _check_entry(entry: ZipInfo) -> None:
    shown = "/".join(path_of(entry))
    if entry.flag_bits & _ENCRYPTED_FLAGS:
        raise _Refused("encrypted", f'"{shown}" in the ZIP has a password. Pack it without.')
    if entry.compress_type not in {ZIP_STORED, ZIP_DEFLATED}:
        raise _Refused("unknown-archive", f'"{shown}" is packed in a rare way. {_MAKE_A_ZIP}')


def _entry(archive: str, opened: ZipFile, entry: ZipInfo, room: int) -> SingleFile:
    *folders, name = path_of(entry)
    ignored = _litter((*folders, name)) or _link(entry)
    if ignored:
        return SingleFile(
            name=name, content=b"", archive=archive, folders=tuple(folders), ignored=ignored
        )
    content = _read(opened, entry, room)
    if _is_zip(content) or _is_other_archive(name, content):
        text = f'"{"/".join((*folders, name))}" is an archive within the ZIP "{archive}".'
        raise _Refused("nested-archive", f"{text} Unpack it and send what is in it.")
    return SingleFile(name=name, content=content, archive=archive, folders=tuple(folders))


def _link(entry: ZipInfo) -> str:
    is_link = stat.S_ISLNK(entry.external_attr >> 16)
    return "This only points to a file on another computer." if is_link else ""


def _read(opened: ZipFile, entry: ZipInfo, room: int) -> bytes:
    """The file's bytes, never more than there is room for, whatever size it claims."""
    with opened.open(entry) as file:
        content = file.read(room + 1)
    if len(content) > room:
        raise _too_large()
    return content


def _check_headers(content: bytes) -> None:
    """Before a ZIP's listing is read: each of its lines takes memory, however short the file."""
    if content.count(_HEADER) > MAX_HEADERS:
        raise _too_many_entries()


def _too_many_entries() -> _Refused:
    text = f"The ZIP has more than {MAX_ENTRIES:,} entries. Pack only the members' sheets."
    return _Refused("too-many-files", text)


def _too_large() -> _Refused:
    megabytes = MAX_UNPACKED_BYTES // 2**20
    text = f"Unpacked, the files are larger than {megabytes} MB. Send them in several steps."
    return _Refused("too-large", text)
