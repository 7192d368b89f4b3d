"""The names of files in a ZIP, readable whatever computer packed them, and safe to show.

A ZIP that does not say UTF-8 has names in the code page of the computer that made it. Those of
Western Europe's Windows (code page 850) are tried after UTF-8, which Macs and phones write without
saying so. The Unicode Path extra field is Info-ZIP's (APPNOTE.TXT 4.6.9; value from memory).
"""

import struct
import unicodedata
import zlib
from pathlib import PurePath
from zipfile import ZipInfo

from records.importing.sheets import printable

MAX_NAME_CHARS = 255
MAX_FOLDERS = 20
NO_NAME = "(no name)"

_UTF8_FLAG = 0x800
_UNICODE_PATH = 0x7075


def path_of(entry: ZipInfo) -> tuple[str, ...]:
    """Folders and name of an entry; steps upwards, roots and drives are left out."""
    parts = _decoded(entry).replace("\\", "/").split("/")
    if parts and len(parts[0]) == 2 and parts[0].endswith(":"):
        parts = parts[1:]
    kept = [clean_name(part) for part in parts if part.strip() not in {"", ".", ".."}]
    if not kept:
        return (NO_NAME,)
    return (*kept[:-1][-MAX_FOLDERS:], kept[-1])


def clean_name(name: str) -> str:
    """One line without control characters, cut in the middle if it is too long."""
    line = printable(unicodedata.normalize("NFC", name.replace("/", " ")))
    if len(line) <= MAX_NAME_CHARS:
        return line or NO_NAME
    suffix = PurePath(line).suffix[:20]
    return line[: MAX_NAME_CHARS - len(suffix)] + suffix


def _decoded(entry: ZipInfo) -> str:
    raw_name = entry.orig_filename
    if entry.flag_bits & _UTF8_FLAG:
        return raw_name
    raw = raw_name.encode("cp437")
    return _unicode_path(entry.extra, raw) or _guessed(raw)


def _guessed(raw: bytes) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp850")


def _unicode_path(extra: bytes, raw: bytes) -> str:
    """The name in the Unicode Path field, where there is one that belongs to this very name."""
    while len(extra) >= 4:
        kind, size = struct.unpack("<HH", extra[:4])
        field, extra = extra[4 : 4 + size], extra[4 + size :]
        if kind == _UNICODE_PATH and len(field) > 5:
            (checksum,) = struct.unpack("<L", field[1:5])
            if checksum == zlib.crc32(raw):
                return field[5:].decode("utf-8", "replace")
    return ""
