from itertools import chain

import pytest

from records.importing.columns import Kind, heading_key, match_headings
from records.importing.harvest import HARVEST
from records.importing.units import fold
from tests.importing.making import read_rows, weighings


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Date", "picked_on"),
        ("FECHA DE COSECHA", "picked_on"),
        ("Data da colheita", "picked_on"),
        ("picked_on", "picked_on"),  # our own name
        ("Talhão", "block"),
        ("talhao", "block"),  # accents left out
        (" Talhão: ", "block"),
        ("Parcela", "block"),
        ("Árbol", "tree"),
        ("N.º da árvore", "tree"),
        ("Tree No.", "tree"),
        ("Fila", "row"),
        ("Row", "row"),
        ("Posição", "position"),
        ("Variedad", "cultivar"),
        ("Calidad", "grade"),
        ("Categoria", "grade"),
        ("Peso", "weight"),
        ("Peso bruto", "gross"),
        ("Tara", "tare"),
        ("Peso líquido", "net"),
        ("Peso neto", "net"),
        ("Unidad", "unit"),
        ("Nº de cajas", "containers"),
        ("Caixas", "containers"),
        ("No. of crates", "containers"),
        ("Tipo de caixa", "container"),
        ("Número de frutos", "fruit_count"),
        ("# fruits", "fruit_count"),
        ("Qtd. de frutos", "fruit_count"),
        ("Albarán", "docket"),
        ("Guia", "docket"),
        ("Talão", "ticket"),
        ("N.º da linha", "line"),
        ("Apanhadores", "pickers"),
        ("Recolectado por", "pickers"),
        ("Minutos", "minutes"),
        ("Minutes (min)", "minutes"),  # what stands in brackets may be more than we know
        ("Fecha (dd/mm/aaaa)", "picked_on"),
        ("Observações", "note"),
        ("Finca", "farm"),
    ],
)
def test_a_heading_is_known_in_three_languages(heading: str, column: str) -> None:
    (found,) = match_headings([heading], HARVEST, {}).used
    assert found.column.name == column
    assert found.unit is None


@pytest.mark.parametrize(
    ("heading", "column", "unit"),
    [
        ("Peso (kg)", "weight", "kg"),
        ("Weight lb", "weight", "lb"),
        ("Peso bruto [Kg.]", "gross", "kg"),
        ("Peso líquido em quilos", "net", "kg"),
        ("Peso neto, libras", "net", "lb"),
        ("Tara (g)", "tare", "g"),
        ("Net weight in pounds", "net", "lb"),
        ("Gross (oz)", "gross", "oz"),
        ("Peso (toneladas)", "weight", "t"),
        ("Peso (onças)", "weight", "oz"),
        ("Kilos", "weight", "kg"),  # a unit alone is a weight
        ("kg netos", "net", "kg"),
        ("Harvest (kg)", "weight", "kg"),  # beside a unit, other words are a weight too
        ("Kilos de fruta", "weight", "kg"),
        ("Yield, lb", "weight", "lb"),
    ],
)
def test_a_heading_may_carry_the_unit(heading: str, column: str, unit: str) -> None:
    (found,) = match_headings([heading], HARVEST, {}).used
    assert (found.column.name, found.unit) == (column, unit)


@pytest.mark.parametrize(
    "heading",
    [
        "Weight (ton)",  # 1,000 kg or 2,000 lb?
        "Peso (arrobas)",  # a unit that we do not know
        "Weight kg/lb",  # two units
        "kg per tree",
        "Caixas (kg)",  # no number of boxes
        "Yield",  # kilos? fruit? per tree?
        "Linha",  # a row of trees or a line of the sheet
        "T",
        "Harvested",
        "",
        "Tare per crate",
    ],
)
def test_a_heading_that_could_mean_two_things_is_left_unused(heading: str) -> None:
    found = match_headings([heading], HARVEST, {})
    assert found.used == ()
    assert found.unused == ((heading,) if heading else ())


def test_no_word_stands_for_two_columns() -> None:
    keys = [
        {heading_key(word) for word in (column.name, *column.synonyms)}
        for column in HARVEST.columns
    ]
    assert len(set(chain(*keys))) == sum(map(len, keys))


def test_no_word_beside_a_unit_stands_for_two_weights() -> None:
    words = [
        {fold(word) for word in (column.name, *column.synonyms, *column.synonyms_with_unit)}
        for column in HARVEST.columns
        if column.kind is Kind.WEIGHT
    ]
    assert len(set(chain(*words))) == sum(map(len, words))


def test_only_weights_have_synonyms_beside_a_unit() -> None:
    with_unit = [column for column in HARVEST.columns if column.synonyms_with_unit]
    assert {column.kind for column in with_unit} == {Kind.WEIGHT}


def test_the_report_says_what_became_of_each_heading() -> None:
    found = match_headings(["Fecha", "Peso (kg)", "Tiempo", "Lote"], HARVEST, {})
    assert [(one.text, one.column.name, one.index) for one in found.used] == [
        ("Fecha", "picked_on", 0),
        ("Peso (kg)", "weight", 1),
    ]
    assert found.unused == ("Tiempo", "Lote")
    assert found.missing == (("block",),)


def test_some_amount_is_needed_whichever() -> None:
    assert match_headings(["Date", "Block", "Crates"], HARVEST, {}).missing == ()
    (amounts,) = match_headings(["Date", "Block"], HARVEST, {}).missing
    assert amounts == ("weight", "gross", "net", "containers", "fruit_count")


@pytest.mark.parametrize(
    ("headings", "places"),
    [
        (["Date", "Day", "Block", "Kilos"], '"Date" (A) and "Day" (B)'),
        (["Date", "Block", "Peso", "Peso"], '"Peso" (C) and "Peso" (D)'),
        # a weight is gross unless it says net, so that these two say the same
        (["Date", "Block", "Weight", "Gross weight"], '"Weight" (C) and "Gross weight" (D)'),
    ],
)
def test_two_headings_for_one_column_are_a_problem(headings: list[str], places: str) -> None:
    reading = read_rows([headings, ["2026-04-13", "2026-04-13", "A", "1"]])
    (problem,) = reading.columns.problems
    assert problem.code == "ambiguous-headings"
    assert problem.detail.startswith(places)
    assert not reading.is_ready
    with pytest.raises(ValueError, match="not understood"):
        reading.rows()


def test_a_mapping_wins_over_synonyms() -> None:
    rows = [["Data", "Lote", "Parcela", "Kilos"], ["2026-04-13", "7", "North", "12"]]
    (row,) = weighings(read_rows(rows, mapping={"LOTE ": "block"}))
    assert row.block == "7"


def test_a_mapping_settles_an_ambiguity_and_keeps_the_unit() -> None:
    rows = [["Date", "Block", "Peso (kg)", "Weight (lb)"], ["2026-04-13", "A", "12.0", "26.0"]]
    assert not read_rows(rows).is_ready
    (row,) = weighings(read_rows(rows, mapping={"weight lb": "net"}))
    assert (row.weight_is, row.unit) == ("gross", "kg")
    (row,) = weighings(read_rows(rows, mapping={"Weight (lb)": "weight"}))
    assert (row.weight_is, row.unit, row.weight_g) == ("gross", "lb", 11_793)
    (row,) = weighings(read_rows(rows, mapping={"Weight (lb)": "gross"}))
    assert (row.weight_is, row.unit, row.weight_g) == ("gross", "lb", 11_793)


def test_a_mapping_for_headings_that_are_not_there_does_no_harm() -> None:
    rows = [["Date", "Block", "Kilos"], ["2026-04-13", "A", "12"]]
    assert weighings(read_rows(rows, mapping={"Parcela": "block", "Tempo": "minutes"}))


def test_a_mapping_to_no_column_is_a_problem() -> None:
    rows = [["Date", "Block", "Kilos", "Rain"], ["2026-04-13", "A", "12", "3"]]
    (problem,) = read_rows(rows, mapping={"Rain": "rainfall"}).columns.problems
    assert (problem.code, problem.headings) == ("unknown-column", ("Rain",))


@pytest.mark.parametrize(
    ("rows_above", "found_at"),
    [
        ([], 1),
        ([["Fruit of the lower orchard"], ["Date", "30 June"]], 3),  # one known word in a title
        ([[""]] * 29, 30),  # the last row that is looked at
    ],
)
def test_the_heading_row_is_found_below_titles(rows_above: list[list[str]], found_at: int) -> None:
    rows = [*rows_above, ["Date", "Block", "Kilos"], ["2026-04-13", "A", "12"]]
    reading = read_rows(rows)
    assert reading.detected.heading_row == found_at
    assert [row.row_number for row in weighings(reading)] == [found_at + 1]


def test_a_heading_row_that_lacks_a_column_is_reported_with_what_is_missing() -> None:
    rows = [["Farm diary"], ["Date", "Lote", "Kilos"], ["2026-04-13", "A", "12"]]
    reading = read_rows(rows)
    assert reading.detected.heading_row == 2
    assert reading.columns.missing == (("block",),)
    assert not reading.is_ready


def test_a_heading_row_can_be_said() -> None:
    head = ["Date", "Block", "Kilos"]
    rows = [head, ["2026-04-13", "A", "12"], head, ["2026-04-14", "B", "13"]]
    assert [row.block for row in weighings(read_rows(rows, heading_row=3))] == ["B"]


def test_headings_are_reported_without_signs_that_a_database_cannot_take() -> None:
    found = match_headings(["Pe\nso\u00a0(kg)", "No\0te\x07s"], HARVEST, {})
    assert found.unused == ("Pe so (kg)", "No\N{REPLACEMENT CHARACTER}te\N{REPLACEMENT CHARACTER}s")
