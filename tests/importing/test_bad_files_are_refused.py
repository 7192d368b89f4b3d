"""Every hostile or hopeless file ends in a FileRefused that says why; none in another error."""

from collections.abc import Callable
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.importing import files, sheets, workbooks
from records.importing.reading import Reading, Settings, read
from records.importing.sheets import FileRefused
from tests.importing.making import (
    TODAY,
    as_csv,
    as_ods,
    as_xlsx,
    ods_cell,
    ods_of,
    ods_row,
    ods_table,
    part_of,
    with_parts,
)

HEADINGS = ["Date", "Block", "Net kg"]
ROWS = [HEADINGS, ["2026-04-13", "Hill", 12.5]]
CSV = as_csv(ROWS).encode()
XLSX = as_xlsx({"Picking": ROWS})
SHEET_PART = "xl/worksheets/sheet1.xml"
TEXTS_PART = "xl/sharedStrings.xml"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


def refusal(content: bytes, name: str = "harvest.csv", **settings: Any) -> FileRefused:
    with pytest.raises(FileRefused) as refused:
        read(content, name, Settings(**settings), TODAY)
    return refused.value


@pytest.mark.parametrize(
    ("name", "content", "code", "said"),
    [
        ("a.csv", b"", "empty-file", "empty"),
        ("a.xlsx", b"", "empty-file", "empty"),
        ("a.csv", b" \r\n\t\n", "empty-file", "empty"),
        ("a.csv", ",,\n;;\n".encode("utf-16"), "no-heading-row", "first 30 rows"),
        ("a.csv", "\n \n".encode("utf-16"), "empty-file", "no cells"),  # blank in UTF-16
        ("a.csv", CSV[:30] + b"\0" + CSV[30:], "nul-byte", "Line 2"),  # one NUL is not UTF-16
        ("a.csv", b"Date\0Block", "nul-byte", "Line 1"),
        ("a.csv", "Date".encode("utf-32"), "nul-byte", "Line 1"),
        ("a.pdf", b"%PDF-1.7 hello", "unknown-type", '".pdf"'),
        ("harvest", CSV, "unknown-type", '"harvest"'),
        ("a.xlsx", CSV, "unknown-type", '".xlsx"'),  # the name promises a workbook
        ("a.xls", OLE, "unknown-type", "old workbook"),
        ("a.xlsx", OLE + "EncryptedPackage".encode("utf-16-le"), "encrypted", "password"),
        ("a.xlsm", XLSX, "macros", "macros"),
        (
            "a.csv",
            "Date,Block,Net kg\n2026-04-13,Alc\xe1zar".encode("utf-16")[:-1],
            "bad-encoding",
            "Line",
        ),
        ("a.csv", b"Date,Talh\xc3\xa3o\n1,Encosta \xe1\n", "bad-encoding", "Line 2"),  # two in one
        ("a.csv", b"Date,Block\n1,\x81\n", "bad-encoding", "Line 2"),  # neither UTF-8 nor cp1252
        ("a.csv", b'Date,Block,Net kg\n1,"Hill,3\n2,Hill,4\n', "unclosed-quote", "row 2"),
        ("a.csv", b'Date,Block,Net kg\n1,"Hi"ll,3\n', "unclosed-quote", "row 2"),
        ("a.csv", b'Date,Block,Net kg\n"' + b"1,2,3\n" * 30_000, "unclosed-quote", "row 2"),
        ("a.csv", CSV + b"1,2,3," + b"x" * 10_001, "cell-too-long", "Row 3"),
        ("a.csv", CSV + b"1,2,3," + b"x" * 200_000, "cell-too-long", "Row 3"),
        ("a.csv", CSV + b"x," * 201, "too-many-columns", "Row 3"),
        ("a.csv", b"2026-04-13,Hill,12.5\n" * 3, "no-heading-row", "picked_on; block; weight or"),
        ("a.csv", b"\n" * 30 + CSV, "no-heading-row", "first 30 rows"),
        ("a.xlsx", as_xlsx({"Empty": []}), "empty-file", "no visible sheet"),
        ("a.xlsx", as_xlsx({"Notes": [["hello"]]}), "no-heading-row", 'sheet "Notes"'),
        ("a.xlsx", XLSX[:-200], "damaged", "damaged"),
        ("a.xlsx", b"PK\x03\x04" + bytes(100), "damaged", "damaged"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused(
    name: str, content: bytes, code: str, said: str
) -> None:
    refused = refusal(content, name)
    assert refused.code == code
    assert said in refused.detail


@pytest.mark.parametrize(
    ("settings", "code"),
    [
        ({"encoding": "utf-8"}, "bad-encoding"),  # the file is in cp1252
        ({"encoding": "klingon"}, "unknown-encoding"),
        ({"encoding": "zip"}, "unknown-encoding"),  # a codec, but of no text
        ({"encoding": "a\0b"}, "unknown-encoding"),
        ({"delimiter": "::"}, "unknown-delimiter"),
        ({"heading_row": 2}, None),  # taken as it is, however little sense it makes
        ({"heading_row": 99}, "no-heading-row"),
    ],
)
def test_a_setting_that_does_not_fit_is_refused(settings: dict[str, Any], code: str | None) -> None:
    content = "Data,Talhão,Peso (kg)\n2026-04-13,Encosta,12\n".encode("cp1252")
    if code:
        assert refusal(content, **settings).code == code
    else:
        assert not read(content, "a.csv", Settings(**settings), TODAY).is_ready


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (with_parts(XLSX, {"xl/vbaProject.bin": b"code"}), "macros"),
        (with_parts(XLSX, {"xl/macrosheets/sheet1.xml": b"<x/>"}), "macros"),
        (as_ods({"P": ROWS}, extra=["Basic/Standard/Module1.xml"]), "macros"),
        (as_ods({"P": ROWS}, manifest="<manifest:encryption-data/>"), "encrypted"),
        (with_parts(XLSX, {"xl/media/zeros.bin": bytes(20 * 2**20)}), "zip-bomb"),  # the ratio
        (with_parts(XLSX, {f"xl/{n}.xml": b"" for n in range(2_001)}), "zip-bomb"),  # the number
    ],
)
def test_a_workbook_with_a_trap_is_refused_before_it_is_parsed(content: bytes, code: str) -> None:
    assert refusal(content, "harvest.xlsx").code == code


def test_a_workbook_that_unpacks_to_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbooks, "MAX_UNPACKED_BYTES", 10_000)
    assert (
        refusal(with_parts(XLSX, {"xl/a.xml": b"0123456789" * 1_001}), "a.xlsx").code == "zip-bomb"
    )


def test_a_member_that_understates_its_size_is_found_out() -> None:
    """The directory of a ZIP may lie; its checksums then do not fit."""
    big = with_parts(XLSX, {SHEET_PART: part_of(XLSX, SHEET_PART) + b" " * 5_000})
    with ZipFile(BytesIO(big)) as archive:
        true_size = archive.getinfo(SHEET_PART).file_size
    lied = big.replace(true_size.to_bytes(4, "little"), (900).to_bytes(4, "little"))
    assert lied != big
    assert refusal(lied, "a.xlsx").code == "damaged"


def test_members_encrypted_one_by_one_are_refused() -> None:
    flagged = bytearray(XLSX)
    at = flagged.index(b"PK\x01\x02")
    flagged[at + 8] |= 1  # the flag bit of the first entry of the directory
    assert refusal(bytes(flagged), "a.xlsx").code == "encrypted"


def test_two_members_of_one_name_are_refused() -> None:
    content = BytesIO(XLSX)
    with ZipFile(content, "a", ZIP_DEFLATED) as archive:
        archive.writestr(SHEET_PART.upper(), b"<x/>")
    assert refusal(content.getvalue(), "a.xlsx").code == "damaged"


def test_a_zip_of_something_else_is_refused() -> None:
    content = BytesIO()
    with ZipFile(content, "w") as archive:
        archive.writestr("harvest.csv", CSV)
    assert refusal(content.getvalue(), "a.zip").code == "unknown-type"


def changed_sheet(change: Callable[[bytes], bytes]) -> bytes:
    sheet = part_of(XLSX, SHEET_PART)
    assert change(sheet) != sheet
    return with_parts(XLSX, {SHEET_PART: change(sheet)})


@pytest.mark.parametrize(
    ("content", "code"),
    [
        # Two cells in opposite corners: laid out in full, 400 gigabytes.
        (changed_sheet(lambda xml: xml.replace(b'"C2"', b'"XFD1048576"')), "sheet-too-large"),
        (changed_sheet(lambda xml: xml.replace(b'"C2"', b'"C3000000"')), "sheet-too-large"),
        (changed_sheet(lambda xml: xml.replace(b'"C2"', b'"$2"')), "damaged"),
        (changed_sheet(lambda xml: xml.replace(b'"C2"', b'"CC"')), "damaged"),
        (changed_sheet(lambda xml: b'<!DOCTYPE a [<!ENTITY b "c">]>' + xml), "damaged"),
        (changed_sheet(lambda xml: xml[:-20]), "damaged"),
        # Four thousand million texts announced, one given.
        (
            with_parts(
                XLSX, {"xl/sharedStrings.xml": b'<sst uniqueCount="4000000000"><si/></sst>'}
            ),
            "damaged",
        ),
        (with_parts(XLSX, {"xl/sharedStrings.xml": b""}), "damaged"),
        # One row of ODS that stands for a million, of sixteen thousand cells each.
        (
            ods_of(
                ods_table(
                    "P",
                    [
                        ods_row(HEADINGS),
                        '<table:table-row table:number-rows-repeated="1048000">'
                        + ods_cell(1, 'table:number-columns-repeated="16384"')
                        + "</table:table-row>",
                    ],
                )
            ),
            "sheet-too-large",
        ),
        (
            ods_of(ods_table("P", [ods_row(HEADINGS, 'table:number-rows-repeated="many"')])),
            "damaged",
        ),
    ],
)
def test_a_sheet_that_would_fill_the_memory_is_refused(content: bytes, code: str) -> None:
    assert refusal(content, "harvest.xlsx").code == code


def test_a_date_beyond_all_calendars_is_refused(capfd: pytest.CaptureFixture[str]) -> None:
    """The reader of workbooks panics over it, and prints so."""
    dated = as_xlsx({"P": [HEADINGS, [TODAY, "Hill", 12.5]]})
    xml = part_of(dated, SHEET_PART).replace(b"<v>46203</v>", b"<v>-1e15</v>")
    assert b"-1e15" in xml
    assert refusal(with_parts(dated, {SHEET_PART: xml}), "a.xlsx").code == "damaged"
    capfd.readouterr()


def test_too_many_rows_or_bytes_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "MAX_ROWS", 1)
    assert refusal(CSV).code == "too-many-rows"
    monkeypatch.setattr(files, "MAX_FILE_BYTES", 10)
    assert refusal(CSV).code == "too-large"


@given(st.binary(max_size=300), st.sampled_from(["a.csv", "a.tsv", "a.xlsx", "a.ods", "a"]))
def test_any_bytes_are_read_or_refused(content: bytes, name: str) -> None:
    assert is_read_or_refused(content, name)


@given(st.text(alphabet='Date,;\t|Block Net kg"\r\n0123456789./-\ufeffã\x85\u2028', max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    assert is_read_or_refused(b"Date,Block,Net kg\n" + text.encode(), "a.csv")


@given(st.integers(0, len(XLSX) - 1), st.integers(0, 255))
def test_a_workbook_with_one_wrong_byte_is_read_or_refused(place: int, byte: int) -> None:
    assert is_read_or_refused(XLSX[:place] + bytes([byte]) + XLSX[place + 1 :], "a.xlsx")


def is_read_or_refused(content: bytes, name: str) -> bool:
    try:
        reading = read(content, name, Settings(), TODAY)
        rows = list(reading.rows()) if reading.is_ready else []
    except FileRefused as refused:
        return bool(refused.code and refused.detail)
    return isinstance(reading, Reading) and all(rows)
