import pytest

from records.importing.reading import Settings, read
from records.importing.sheets import FileRefused
from tests.importing.making import TODAY, as_csv, problems, read_text, weighings

SHEET = [
    ["Data", "Talhão", "Peso (kg)", "Observações"],
    ["13/04/2026", "Encosta", "12,5", "chuva"],
    ["14/04/2026", "Vale", "7,25", ""],
]


@pytest.mark.parametrize(
    ("written_in", "mark", "detected"),
    [
        ("utf-8", b"", "utf-8"),
        ("utf-8", b"\xef\xbb\xbf", "utf-8-sig"),  # as spreadsheet programs save "CSV UTF-8"
        ("utf-16-le", b"\xff\xfe", "utf-16-le"),  # as they save "Unicode text"
        ("utf-16-be", b"\xfe\xff", "utf-16-be"),
        ("utf-16-le", b"", "utf-16-le"),  # no mark, but every second byte is zero
        ("utf-16-be", b"", "utf-16-be"),
        ("cp1252", b"", "cp1252"),  # not valid UTF-8: the old western encoding
    ],
)
def test_the_encoding_is_detected(written_in: str, mark: bytes, detected: str) -> None:
    content = mark + as_csv(SHEET).encode(written_in)
    reading = read(content, "colheita.csv", Settings(), TODAY)
    assert reading.detected.encoding == detected
    assert [row.block for row in weighings(reading)] == ["Encosta", "Vale"]
    assert reading.columns.heading("block").text == "Talhão"


@pytest.mark.parametrize("name", ["cp850", "CP850", "mac-roman", "ISO-8859-1", "windows-1252"])
def test_an_encoding_that_is_said_is_used(name: str) -> None:
    reading = read(as_csv(SHEET).encode(name), "x.csv", Settings(encoding=name), TODAY)
    assert reading.columns.heading("block").text == "Talhão"


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_detected(delimiter: str) -> None:
    reading = read_text(as_csv(SHEET, delimiter=delimiter))
    assert reading.detected.delimiter == delimiter
    assert [row.weight_g for row in weighings(reading)] == [12_500, 7_250]


@pytest.mark.parametrize(
    "text",
    [
        # decimal commas in every row would make comma the more regular delimiter
        "Data;Talhão;Peso (kg);Tara (kg)\n13/04/2026;A;12,5;1,5\n14/04/2026;A;13,5;1,5\n",
        # a title of many commas
        "Colheita, pomar, época, ano, lista, geral\nData;Talhão;Peso (kg)\n13/04/2026;A;12,5\n",
        # quotes that only make sense with the right delimiter
        'Data;Talhão;Peso (kg);Notas\n13/04/2026;A;12,5;"boa; ""muito"", boa"\n',
    ],
)
def test_commas_within_cells_do_not_pass_for_delimiters(text: str) -> None:
    reading = read_text(text)
    assert reading.detected.delimiter == ";"
    assert weighings(reading)[0].weight_g == 12_500


def test_a_delimiter_that_is_said_is_used() -> None:
    text = "Data;Talhão;Peso (kg)\n2026-04-13;A;12\n"
    with pytest.raises(FileRefused) as refused:
        read_text(text, delimiter=",")
    assert refused.value.code == "no-heading-row"
    assert read_text(text, delimiter=";").detected.delimiter == ";"


@pytest.mark.parametrize(
    ("ends", "detected"),
    [
        (["\n"] * 3, "lf"),
        (["\r\n"] * 3, "crlf"),
        (["\r"] * 3, "cr"),
        (["\r\n", "\n", "\r"], "mixed"),
        (["\n", "\n", ""], "lf"),  # the last line is not ended
    ],
)
def test_any_line_ends_will_do(ends: list[str], detected: str) -> None:
    lines = [as_csv([row], line_end="") for row in SHEET]
    reading = read_text("".join(line + end for line, end in zip(lines, ends, strict=True)))
    assert reading.detected.line_ends == detected
    assert [row.row_number for row in weighings(reading)] == [2, 3]


def test_rows_keep_the_numbers_that_a_spreadsheet_program_shows() -> None:
    text = (
        "Harvest of the lower orchard\r\n"  # 1
        "\r\n"  # 2
        "Date,Block,Net kg,Note\r\n"  # 3
        "2026-04-13,A,12,\r\n"  # 4
        " , ,,\r\n"  # 5 blank
        '2026-04-14,A,13,"two\r\nlines"\r\n'  # 6, on two lines of text
        "2026-04-15,A,14,\r\n"  # 7
    )
    reading = read_text(text)
    assert reading.detected.heading_row == 3
    assert [(row.row_number, row.weight_g) for row in weighings(reading)] == [
        (4, 12_000),
        (6, 13_000),
        (7, 14_000),
    ]
    assert weighings(reading)[1].note == "two lines"
    assert reading.row_count == 3


def test_a_row_with_a_cell_too_many_is_a_problem_not_a_shifted_weighing() -> None:
    text = "Date,Block,Net kg\n2026-04-13,A,12,5\n2026-04-14,A,13\n"
    (problem,) = problems(read_text(text))
    assert (problem.row, problem.code, problem.value) == (2, "extra-cells", "5")


def test_short_rows_have_blank_cells_at_their_end() -> None:
    (row,) = weighings(read_text("Date,Block,Net kg,Note,Grade\n2026-04-13,A,12\n"))
    assert (row.note, row.grade) == ("", "")


def test_spaces_after_delimiters_do_not_spoil_quotes() -> None:
    (row,) = weighings(read_text('Date, Block, Net kg\n2026-04-13, "Hill, upper", 12\n'))
    assert row.block == "Hill, upper"


def test_rows_can_be_walked_through_again() -> None:
    reading = read_text(as_csv(SHEET))
    assert weighings(reading) == weighings(reading)
