"""A file that cannot be read is refused as a whole, with a sentence, and leaves nothing behind."""

import datetime as dt
from collections.abc import Callable
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

import pytest

from records.choices import ImportState
from tests.cast import Cast, make_cast
from tests.importing.making import as_xlsx, with_parts
from tests.records.sending import csv_of, details, problems, send, weights

pytestmark = pytest.mark.django_db

ROWS = [["Date", "Block", "Kilos"], ["2026-09-10", "N1", 20]]
GOOD_BOOK = [["Date", "Block", "Kilos"], [dt.date(2026, 9, 10), "N1", 20]]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def zip_bomb() -> bytes:
    content = BytesIO()
    with ZipFile(content, "w", ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"0" * 600 * 2**20)
    return content.getvalue()


def with_macros() -> bytes:
    return with_parts(as_xlsx({"Sheet": GOOD_BOOK}), {"xl/vbaProject.bin": b"macro"})


@pytest.mark.parametrize(
    ("make", "file_name", "code", "sentence"),
    [
        (lambda: b"", "harvest.csv", "empty-file", "The file is empty"),
        (lambda: b" \r\n \r\n", "harvest.csv", "empty-file", "The file is empty"),
        (lambda: b"Date,Block,Kilos\n2026-09-10,N\x001,20\n", "a.csv", "nul-byte", "Line 2"),
        (zip_bomb, "harvest.xlsx", "zip-bomb", ""),
        (with_macros, "harvest.xlsx", "macros", "macros"),
        (lambda: csv_of(ROWS), "harvest.xlsm", "macros", "macros"),
        (lambda: b"%PDF-1.7", "harvest.pdf", "unknown-type", "CSV, TSV, XLSX or ODS"),
        (lambda: b"PK\x03\x04 not a zip", "harvest.xlsx", "damaged", ""),
        (lambda: b'Date,Block,Kilos\n2026-09-10,"N1,20\n', "a.csv", "unclosed-quote", "row 2"),
        (lambda: csv_of([["one", "two"], [1, 2]]), "a.csv", "no-heading-row", "picked_on"),
        (lambda: csv_of(ROWS[:1]), "harvest.csv", "no-rows", "no rows below"),
        (
            lambda: csv_of([["Date", "Block"], ["2026-09-10", "N1"]]),
            "a.csv",
            "missing-column",
            "net",
        ),
    ],
)
def test_a_file_is_refused_with_the_reason(
    cast: Cast, make: Callable[[], bytes], file_name: str, code: str, sentence: str
) -> None:
    sent = send(cast.ours.farm, make(), file_name=file_name)
    assert (sent.state, problems(sent)) == (ImportState.REFUSED, [(0, "", code, "")])
    assert details(sent) == [sent.explanation]
    assert sentence in sent.explanation
    assert weights(cast.ours.farm) == []


@pytest.mark.parametrize(
    ("content", "options", "code"),
    [
        (csv_of(ROWS), {"encoding": "ebcdic-of-old"}, "unknown-encoding"),
        ("Data,Talhão,Kilos".encode("cp1252"), {"encoding": "utf-8"}, "bad-encoding"),
        (
            as_xlsx({"Sheet": GOOD_BOOK}),
            {"sheet": "Sheet 9", "file_name": "a.xlsx"},
            "no-such-sheet",
        ),
    ],
)
def test_an_option_that_does_not_fit_the_file_is_a_refusal(
    cast: Cast, content: bytes, options: dict[str, str], code: str
) -> None:
    sent = send(cast.ours.farm, content, **options)
    assert (sent.state, problems(sent)) == (ImportState.REFUSED, [(0, "", code, "")])
