"""ZIPs of members' sheets: what is in them comes out, and traps do not."""

import stat
import struct
import zlib
from io import BytesIO
from typing import Any
from zipfile import ZIP_BZIP2, ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

import pytest

from records.importing import archives
from records.importing.archives import SendingRefused, SentFile, SingleFile, take_apart
from records.importing.zipnames import clean_name, path_of
from tests.importing.making import as_ods, as_xlsx

SHEET = b"Date,Block,Kilos\n2026-09-10,N1,20\n"


def zip_of(entries: dict[str, bytes], compression: int = ZIP_DEFLATED) -> bytes:
    stream = BytesIO()
    with ZipFile(stream, "w", compression) as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    return stream.getvalue()


def apart(content: bytes, name: str = "all.zip") -> list[SingleFile]:
    return take_apart([SentFile(name=name, content=content)])


def refusal(content: bytes, name: str = "all.zip") -> SendingRefused:
    with pytest.raises(SendingRefused) as refused:
        apart(content, name)
    return refused.value


def code_of(content: bytes, name: str = "all.zip") -> str:
    return refusal(content, name).faults[0].code


# What comes out ----------------------------------------------------------------------------------


def test_single_files_and_those_of_zips_come_in_the_order_sent() -> None:
    found = take_apart(
        [
            SentFile(name="first.csv", content=b"1"),
            SentFile(name="all.zip", content=zip_of({"BER/a.csv": b"2", "b.csv": b"3"})),
            SentFile(name="last.csv", content=b"4"),
        ]
    )
    assert [(f.archive, f.folders, f.name, f.content) for f in found] == [
        ("", (), "first.csv", b"1"),
        ("all.zip", ("BER",), "a.csv", b"2"),
        ("all.zip", (), "b.csv", b"3"),
        ("", (), "last.csv", b"4"),
    ]


@pytest.mark.parametrize("written", [as_xlsx, as_ods])
def test_a_workbook_is_a_file_though_it_is_a_zip(written: Any) -> None:
    book = written({"Picked": [["Date", "Block", "Kilos"]]})
    assert [f.archive for f in apart(book, "a.xlsx")] == [""]
    assert [f.name for f in apart(zip_of({"a.xlsx": book}, ZIP_STORED))] == ["a.xlsx"]


def test_folders_are_no_files() -> None:
    assert [f.name for f in apart(zip_of({"BER/": b"", "BER/a.csv": SHEET}))] == ["a.csv"]


@pytest.mark.parametrize(
    "name",
    [
        "__MACOSX/BER/._a.csv",
        "BER/.DS_Store",
        ".hidden/a.csv",
        "BER/Thumbs.db",
        "desktop.ini",
        "BER/~$a.xlsx",
    ],
)
def test_what_computers_leave_behind_is_ignored_and_listed(name: str) -> None:
    litter, sheet = apart(zip_of({name: b"x", "BER/a.csv": SHEET}))
    assert litter.ignored
    assert litter.content == b""
    assert sheet.ignored == ""


def test_a_link_is_ignored() -> None:
    stream = BytesIO()
    with ZipFile(stream, "w") as archive:
        link = ZipInfo("a.csv")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    assert apart(stream.getvalue())[0].ignored == "This only points to a file on another computer."


def test_litter_among_single_files_is_ignored_too() -> None:
    assert apart(b"x", ".DS_Store")[0].ignored


def test_an_empty_file_is_left_to_its_import() -> None:
    assert [f.content for f in apart(zip_of({"a.csv": b""}))] == [b""]


# Names -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("BER/a.csv", ("BER", "a.csv")),
        ("/etc/a.csv", ("etc", "a.csv")),
        ("../../BER/a.csv", ("BER", "a.csv")),
        ("C:\\Users\\BER\\a.csv", ("Users", "BER", "a.csv")),
        ("BER//./a.csv", ("BER", "a.csv")),
        ("BER/a\r\nb.csv", ("BER", "a b.csv")),
        ("BER/a\x1b[31m.csv", ("BER", "a\N{REPLACEMENT CHARACTER}[31m.csv")),
        ("..", ("(no name)",)),
        ("Be\u0301rula.csv", ("Bérula.csv",)),  # as a Mac writes it
    ],
)
def test_a_path_is_made_safe_to_show(name: str, path: tuple[str, ...]) -> None:
    entry = ZipInfo(name)
    entry.flag_bits |= 0x800
    assert path_of(entry) == path


def test_a_long_name_keeps_its_ending() -> None:
    name = clean_name("é" * 400 + ".xlsx")
    assert (len(name), name[-5:]) == (255, ".xlsx")


@pytest.mark.parametrize("encoding", ["utf-8", "cp850"])
def test_names_without_a_stated_encoding_are_readable(encoding: str) -> None:
    raw = "Quinta São João/colheita ñ.csv".encode(encoding)
    content = zip_of({"x" * len(raw): SHEET}).replace(b"x" * len(raw), raw)
    (file,) = apart(content)
    assert (file.folders, file.name) == (("Quinta São João",), "colheita ñ.csv")


def test_the_unicode_name_beside_an_odd_one_counts() -> None:
    entry = ZipInfo("?????.csv")
    name = "樹木.csv".encode()
    field = b"\x01" + struct.pack("<L", zlib.crc32(b"?????.csv")) + name
    entry.extra = struct.pack("<HH", 0x7075, len(field)) + field
    assert path_of(entry) == ("樹木.csv",)
    entry.orig_filename = "other.csv"  # renamed by a program that left the old field
    assert path_of(entry) == ("other.csv",)


# Traps -------------------------------------------------------------------------------------------


def test_an_archive_in_the_archive_is_refused() -> None:
    inner = zip_of({"a.csv": SHEET})
    assert code_of(zip_of({"BER/inner.zip": inner})) == "nested-archive"
    assert code_of(zip_of({"BER/a.csv": inner})) == "nested-archive"  # by what it is
    assert code_of(zip_of({"BER/a.rar": b"x"})) == "nested-archive"
    assert str(refusal(zip_of({"BER/inner.zip": inner}))) == (
        '"BER/inner.zip" is an archive within the ZIP "all.zip". Unpack it and send what is in it.'
    )


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.rar", b"Rar!\x1a\x07"),
        ("a.7z", b"7z\xbc\xaf\x27\x1c"),
        ("a.csv.gz", b"\x1f\x8b\x08"),
        ("a.tar", b"x"),
        ("a.zip", b"no zip at all"),
        ("a.csv", b"\x1f\x8b\x08"),  # whatever it is called
    ],
)
def test_other_archives_are_refused(name: str, content: bytes) -> None:
    assert code_of(content, name) == "unknown-archive"


def test_a_password_is_refused() -> None:
    content = bytearray(zip_of({"a.csv": SHEET}))
    content[content.index(b"PK\x01\x02") + 8] |= 1
    assert code_of(bytes(content)) == "encrypted"


def test_a_rare_way_of_packing_is_refused() -> None:
    assert code_of(zip_of({"a.csv": SHEET}, ZIP_BZIP2)) == "unknown-archive"


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "_read", None)
    assert code_of(zip_of({"a.csv": b"\0" * (4 * 2**20)})) == "zip-bomb"


def test_what_lies_about_its_size_is_damaged() -> None:
    content = bytearray(zip_of({"a.csv": b"0123456789" * 1000}))
    place = content.index(b"PK\x01\x02") + 24
    content[place : place + 4] = struct.pack("<L", 10)
    assert code_of(bytes(content)) == "damaged"


def test_all_files_together_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_UNPACKED_BYTES", 100)
    refused = refusal(zip_of({"a.csv": b"x" * 60, "b.csv": b"y" * 60}, ZIP_STORED))
    assert refused.is_too_large
    with pytest.raises(SendingRefused) as several:
        take_apart([SentFile(name=f"{n}.csv", content=b"x" * 60) for n in range(2)])
    assert [(f.number, f.code) for f in several.value.faults] == [(1, "too-large")]


def test_the_number_of_files_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_FILES", 3)
    entries = {f"{number}.csv": b"x" for number in range(3)}
    assert len(apart(zip_of({**entries, ".DS_Store": b"x"}))) == 4  # litter does not count
    assert code_of(zip_of({**entries, "3.csv": b"x"})) == "too-many-files"


def test_the_number_of_entries_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_ENTRIES", 3)
    assert code_of(zip_of({f".{n}": b"" for n in range(4)})) == "too-many-files"


def test_a_listing_without_end_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_HEADERS", 3)
    monkeypatch.setattr(archives, "ZipFile", None)
    assert code_of(zip_of({f"{n}.csv": b"" for n in range(4)})) == "too-many-files"


def test_an_empty_zip_is_refused() -> None:
    assert code_of(zip_of({})) == "empty-archive"
    assert code_of(zip_of({"BER/": b""})) == "empty-archive"


@pytest.mark.parametrize("kept", [0.5, 0.9])
def test_a_cut_zip_is_refused(kept: float) -> None:
    content = zip_of({"a.csv": SHEET * 100, "b.csv": SHEET})
    assert code_of(content[: int(len(content) * kept)]) in {"damaged", "unknown-archive"}


def test_damaged_content_is_refused() -> None:
    content = bytearray(zip_of({"a.csv": SHEET}, ZIP_STORED))
    content[content.index(b"Kilos")] = ord("X")
    assert code_of(bytes(content)) == "damaged"


def test_every_faulty_file_is_named() -> None:
    sent = [
        SentFile(name="a.rar", content=b"Rar!"),
        SentFile(name="b.csv", content=SHEET),
        SentFile(name="c.zip", content=b"x"),
    ]
    with pytest.raises(SendingRefused) as refused:
        take_apart(sent)
    assert [fault.number for fault in refused.value.faults] == [0, 2]
