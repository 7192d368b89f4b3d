"""A file's rows become weighings, once, in order, and as they would have been one by one."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.choices import GRAMS, ImportState
from records.importing.comparing import SCALE_G
from records.models import Block, Crop, Graft, HarvestWeight, HarvestWeightTree, Tree
from records.models.harvest import to_grams
from records.services import saving
from tests.cast import Cast, Place, make_cast, make_cultivar
from tests.importing.making import as_ods, as_xlsx
from tests.records.sending import Rows, bring_in, counts, details, problems, send, weights

pytestmark = pytest.mark.django_db

HEADINGS = ["Date", "Block", "Row", "Position", "Grade", "Weight", "Unit", "Fruit count"]
SEASON = [
    HEADINGS,
    ["2026-09-10", "N1", 1, 1, "A", "12.5", "kg", 31],
    ["2026-09-10", "N1", "", "", "C", "10", "lb", ""],
    ["2026-09-12", "n1", "", "", "", "", "", 40],
]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def ours(cast: Cast) -> Place:
    return cast.ours


def test_a_file_lands_with_all_it_says(ours: Place) -> None:
    sent = send(ours.farm, SEASON)
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (3, 0, 0, 0))
    assert sent.explanation == "Of 3 rows: 3 added, 0 changed, 0 unchanged, 0 refused."
    by_tree, by_pounds, by_count = weights(ours.farm)
    assert (by_tree.weight, by_tree.unit, by_tree.net_g) == (Decimal("12.5"), "kg", 12_500)
    assert (by_tree.grade, by_tree.fruit_count) == (ours.grade, 31)
    assert list(by_tree.trees.all()) == [ours.tree]
    assert (by_pounds.net_g, by_pounds.grade) == (4_536, ours.cull)
    assert (by_count.weight, by_count.unit, by_count.net_g, by_count.fruit_count) == (
        None,
        "",
        None,
        40,
    )
    assert {w.harvest_import_id for w in weights(ours.farm)} == {sent.pk}


def test_landed_rows_belong_to_cultivars_and_crops_from_the_start(ours: Place) -> None:
    send(ours.farm, SEASON)
    for weight in weights(ours.farm):
        assert (weight.version, weight.cultivar, weight.crop) == (1, ours.tree.cultivar, ours.crop)


def test_the_ids_are_in_the_order_of_the_file(ours: Place) -> None:
    rows = [["Date", "Block", "Kilos"], *(["2026-09-10", "N1", kg] for kg in range(60, 0, -1))]
    send(ours.farm, rows)
    assert [weight.weight for weight in weights(ours.farm)] == list(range(60, 0, -1))


def test_what_was_found_is_told(ours: Place) -> None:
    found = send(ours.farm, SEASON).found
    assert found is not None
    assert (found["encoding"], found["delimiter"], found["line_ends"]) == ("utf-8", ",", "crlf")
    assert (found["heading_row"], found["decimal_mark"], found["unused_headings"]) == (1, ".", [])
    assert found["headings"][3:6] == [
        {"heading": "Position", "column": "position", "unit": None},
        {"heading": "Grade", "column": "grade", "unit": None},
        {"heading": "Weight", "column": "weight", "unit": None},
    ]


# The same file, and a newer one ------------------------------------------------------------------


def state_of(place: Place) -> list[tuple[Any, ...]]:
    """Everything that would show that a row was written again."""
    columns = [field.attname for field in HarvestWeight._meta.concrete_fields]
    rows = HarvestWeight.objects.filter(farm=place.farm).order_by("pk").values_list(*columns)
    links = HarvestWeightTree.objects.filter(farm=place.farm).order_by("pk")
    events = HarvestWeight._meta.get_field("events").related_model.objects.count()  # type: ignore[union-attr]
    return [*rows, *links.values_list("weight_id", "tree_id"), (events,)]


def test_the_same_file_again_changes_nothing(ours: Place) -> None:
    send(ours.farm, SEASON)
    before = state_of(ours)
    again = send(ours.farm, SEASON)
    assert (again.state, counts(again)) == (ImportState.LANDED, (0, 0, 3, 0))
    assert state_of(ours) == before


def test_a_changed_row_is_changed_and_no_other(ours: Place) -> None:
    send(ours.farm, SEASON)
    first, second, third = weights(ours.farm)
    newer = [*SEASON[:2], [*SEASON[2][:5], "11", "lb", ""], SEASON[3]]
    sent = send(ours.farm, newer)
    assert counts(sent) == (0, 1, 2, 0)
    changed = HarvestWeight.objects.get(pk=second.pk)
    assert (changed.net_g, changed.version, changed.harvest_import) == (4_990, 2, sent)
    assert [w.version for w in weights(ours.farm)] == [1, 2, 1]
    assert [w.pk for w in weights(ours.farm)] == [first.pk, second.pk, third.pk]


def test_a_longer_file_adds_only_what_is_new(ours: Place) -> None:
    send(ours.farm, SEASON)
    sent = send(ours.farm, [*SEASON, ["2026-09-14", "N1", 1, 1, "A", "9", "kg", 20]])
    assert counts(sent) == (1, 0, 3, 0)
    assert len(weights(ours.farm)) == 4


def test_equal_rows_are_as_many_weighings(ours: Place) -> None:
    rows = [["Date", "Block", "Kilos"], *[["2026-09-10", "N1", "20"]] * 3]
    assert counts(send(ours.farm, rows)) == (3, 0, 0, 0)
    assert counts(send(ours.farm, rows)) == (0, 0, 3, 0)
    assert counts(send(ours.farm, [*rows, rows[1]])) == (1, 0, 3, 0)


def test_files_of_another_series_are_other_rows(ours: Place) -> None:
    send(ours.farm, SEASON, series="2025")
    assert counts(send(ours.farm, SEASON, series="2026")) == (3, 0, 0, 0)


def test_line_numbers_tell_rows_apart_whatever_else_changes(ours: Place) -> None:
    headings = ["Docket", "Line", "Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["D1", 1, "2026-09-10", "N1", 20], ["D2", 1, "2026-09-11", "N1", 5]])
    newer = [headings, ["D2", 1, "2026-09-11", "N1", 5], ["D1", 1, "2026-09-09", "N1", 21]]
    assert counts(send(ours.farm, newer)) == (0, 1, 1, 0)
    assert [(w.docket, w.picked_on.day, w.weight) for w in weights(ours.farm)] == [
        ("D1", 9, 21),
        ("D2", 11, 5),
    ]


def test_without_line_numbers_a_row_of_another_day_is_another_row(ours: Place) -> None:
    headings = ["Docket", "Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["D1", "2026-09-10", "N1", 20]])
    assert counts(send(ours.farm, [headings, ["D1", "2026-09-11", "N1", 20]])) == (1, 0, 0, 0)


@pytest.mark.parametrize(
    ("column", "words"),
    [
        # Each part of the key: the second row differs from the first in it alone.
        ("Docket", ["D1", "D2"]),
        ("Cultivar", ["Ondrela", "Other"]),
        ("Grade", ["A", "C"]),
        ("Tree", ["T1", "T2"]),
    ],
)
def test_rows_that_differ_in_their_key_are_different_rows(
    ours: Place, column: str, words: list[str]
) -> None:
    make_cultivar("Other")
    for position, number in enumerate(("T1", "T2"), start=2):
        Tree.objects.create(
            farm=ours.farm, block=ours.block, row=1, position=position, number=number
        )
    rows = [["2026-09-10", "N1", 20, word] for word in words]
    headings = ["Date", "Block", "Kilos", column]
    send(ours.farm, [headings, *rows])
    assert counts(send(ours.farm, [headings, *reversed(rows)])) == (0, 0, 2, 0)


# What the file does not say ----------------------------------------------------------------------


def test_what_the_sheet_has_no_column_for_stays_as_it_is(ours: Place) -> None:
    headings = ["Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["2026-09-10", "N1", 20]])
    [weight] = weights(ours.farm)
    weight.note, weight.minutes, weight.pickers = "before the rain", 90, ["Ilda"]
    saving.save(weight, trees=[ours.tree])
    assert counts(send(ours.farm, [headings, ["2026-09-10", "N1", 21]])) == (0, 1, 0, 0)
    [weight] = weights(ours.farm)
    assert (weight.weight, weight.note, weight.minutes) == (21, "before the rain", 90)
    assert (weight.pickers, list(weight.trees.all())) == (["Ilda"], [ours.tree])


def test_a_correction_stays_while_the_file_says_nothing_new(ours: Place) -> None:
    headings = ["Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["2026-09-10", "N1", 200]])
    [weight] = weights(ours.farm)
    weight.weight = Decimal(20)
    saving.save(weight)
    again = send(ours.farm, [headings, ["2026-09-10", "N1", 200]])
    assert counts(again) == (0, 0, 1, 0)
    assert problems(again, warnings=True) == [(2, "", "correction-kept", "")]
    assert again.rows_warned == 1
    assert weights(ours.farm)[0].weight == 20


def test_news_in_the_file_goes_over_a_correction(ours: Place) -> None:
    headings = ["Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["2026-09-10", "N1", 200]])
    [weight] = weights(ours.farm)
    weight.weight = Decimal(20)
    saving.save(weight)
    assert counts(send(ours.farm, [headings, ["2026-09-10", "N1", 25]])) == (0, 1, 0, 0)
    assert weights(ours.farm)[0].weight == 25


def test_a_crop_that_somebody_chose_stays_chosen(ours: Place) -> None:
    second = Crop.objects.create(
        farm=ours.farm,
        block=ours.block,
        name="second",
        opened_by="pruning",
        opened_on=dt.date(2026, 7, 1),
    )
    headings = ["Date", "Block", "Kilos"]
    send(ours.farm, [headings, ["2026-09-10", "N1", 20]])
    [weight] = weights(ours.farm)
    assert weight.crop is None  # both crops can be picked that day
    weight.crop, weight.crop_chosen_by = second, "person"
    saving.save(weight)
    send(ours.farm, [headings, ["2026-09-10", "N1", 21]])
    [weight] = weights(ours.farm)
    assert (weight.weight, weight.crop, weight.crop_chosen_by) == (21, second, "person")


def test_a_crop_that_the_file_names_is_chosen(ours: Place) -> None:
    second = Crop.objects.create(
        farm=ours.farm,
        block=ours.block,
        name="Second",
        opened_by="pruning",
        opened_on=dt.date(2026, 7, 1),
    )
    headings = ["Date", "Block", "Crop", "Kilos"]
    rows = [headings, ["2026-09-10", "N1", "second", 20]]
    send(ours.farm, rows)
    [weight] = weights(ours.farm)
    assert (weight.crop, weight.crop_chosen_by) == (second, "person")
    assert counts(send(ours.farm, rows)) == (0, 0, 1, 0)


def test_a_retired_weighing_that_is_sent_again_counts_again(ours: Place) -> None:
    rows = [["Date", "Block", "Kilos"], ["2026-09-10", "N1", 20]]
    send(ours.farm, rows)
    HarvestWeight.objects.update(retired_on=dt.date(2026, 9, 20))
    assert counts(send(ours.farm, rows)) == (0, 1, 0, 0)
    assert weights(ours.farm)[0].retired_on is None


# Words for the farm's own things -----------------------------------------------------------------


def test_codes_are_known_whatever_their_case_and_names_too(ours: Place) -> None:
    ours.block.name = "Below the house"
    ours.block.save()
    headings = ["Date", "Block", "Grade", "Crate type", "Crates", "Kilos"]
    rows = [["2026-09-10", "below the HOUSE", "a", "CRATE", 1, 20]]
    send(ours.farm, [headings, *rows])
    [weight] = weights(ours.farm)
    assert (weight.block, weight.grade, weight.container) == (
        ours.block,
        ours.grade,
        ours.container,
    )


def test_a_code_is_meant_before_a_name(ours: Place) -> None:
    Block.objects.create(farm=ours.farm, code="N2", name="N1")
    send(ours.farm, [["Date", "Block", "Kilos"], ["2026-09-10", "n1", 20]])
    assert weights(ours.farm)[0].block == ours.block


def test_a_farms_own_cultivar_is_meant_before_a_shared_one(ours: Place) -> None:
    own = make_cultivar("Ondrela", ours.farm)
    send(ours.farm, [["Date", "Block", "Cultivar", "Kilos"], ["2026-09-10", "N1", "ONDRELA", 20]])
    assert weights(ours.farm)[0].entered_cultivar == own


def test_a_label_means_the_tree_that_stood_on_the_day(ours: Place) -> None:
    common = {"farm": ours.farm, "block": ours.block, "row": 3, "position": 1, "number": "7"}
    old = Tree.objects.create(**common, removed_on=dt.date(2025, 1, 1))
    new = Tree.objects.create(**common, planted_on=dt.date(2025, 2, 1))
    rows = [["2024-09-10", "N1", 7, 20], ["2026-09-10", "N1", 7, 20]]
    sent = send(ours.farm, [["Date", "Block", "Tree", "Kilos"], *rows])
    assert [list(w.trees.all()) for w in weights(ours.farm)] == [[old], [new]]
    assert sent.rows_warned == 0


def test_kilos_of_a_grafted_tree_are_the_grafts_cultivar(ours: Place) -> None:
    grafted = make_cultivar("Grafted")
    Graft.objects.create(
        farm=ours.farm, tree=ours.tree, cultivar=grafted, grafted_on=dt.date(2024, 1, 1)
    )
    send(ours.farm, SEASON)
    assert weights(ours.farm)[0].cultivar == grafted


# Refusing, skipping, trying ----------------------------------------------------------------------

WITH_ONE_WRONG = [*SEASON, ["2026-09-14", "Q7", 1, 1, "A", "9", "kg", 20]]


def test_one_refused_row_keeps_all_from_landing(ours: Place) -> None:
    sent = send(ours.farm, WITH_ONE_WRONG)
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    assert sent.explanation.startswith("1 of 4 rows are refused, so nothing landed.")
    assert weights(ours.farm) == []


def test_refused_rows_can_be_left_out(ours: Place) -> None:
    sent = send(ours.farm, WITH_ONE_WRONG, on_problem="skip")
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (3, 0, 0, 1))
    assert len(weights(ours.farm)) == 3
    assert problems(sent) == [(5, "Block", "unknown-block", "Q7")]


def test_a_dry_run_only_counts(ours: Place) -> None:
    sent = send(ours.farm, WITH_ONE_WRONG, dry_run=True)
    assert (sent.state, counts(sent)) == (ImportState.CHECKED, (3, 0, 0, 1))
    assert sent.explanation.endswith("Because of the refused rows nothing would land.")
    assert weights(ours.farm) == []


def test_an_import_that_has_its_outcome_is_not_run_again(ours: Place) -> None:
    sent = send(ours.farm, SEASON)
    assert bring_in(sent).version == sent.version
    assert len(weights(ours.farm)) == 3


def test_nothing_is_left_in_the_staging_table(ours: Place) -> None:
    for options in ({}, {"dry_run": True}, {"on_problem": "skip"}):
        send(ours.farm, WITH_ONE_WRONG, **options)
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM records_stagedweighing")
        assert cursor.fetchone() == (0,)


# Kinds of files ----------------------------------------------------------------------------------


def assert_three_landed(place: Place, content: Rows | bytes, file_name: str) -> None:
    sent = send(place.farm, content, file_name=file_name)
    assert (sent.state, details(sent)) == (ImportState.LANDED, [])
    assert [(w.picked_on, w.net_g, w.grade) for w in weights(place.farm)] == [
        (dt.date(2026, 9, 3), 12_500, place.grade),
        (dt.date(2026, 9, 14), 1_234_500, place.cull),
        (dt.date(2026, 9, 15), 7_250, None),
    ]


def test_a_portuguese_file_with_semicolons_and_commas_lands(ours: Place) -> None:
    text = (
        "Data;Talhão;Categoria;Peso (kg)\r\n"
        "03/09/2026;N1;A;12,5\r\n14/09/2026;N1;C;1.234,5\r\n15/09/2026;N1;;7,25\r\n"
    )
    assert_three_landed(ours, text.encode("cp1252"), "pesagens.csv")


@pytest.mark.parametrize(("write", "name"), [(as_xlsx, "peso.xlsx"), (as_ods, "peso.ods")])
def test_a_workbook_with_a_title_lands(ours: Place, write: Any, name: str) -> None:
    rows = [
        ["Cosecha 2026"],
        ["Fecha", "Parcela", "Calidad", "Kilos"],
        [dt.date(2026, 9, 3), "N1", "A", 12.5],
        [dt.date(2026, 9, 14), "N1", "C", 1234.5],
        [dt.date(2026, 9, 15), "N1", None, 7.25],
    ]
    assert_three_landed(ours, write({"Hoja 1": rows}), name)


@pytest.mark.parametrize(
    "content",
    [
        # UTF-16 with and without a byte order mark, and UTF-8 with one.
        "Date,Block,Grade,Kilos\r\n2026-09-03,N1,A,12.5\r\n2026-09-14,N1,C,1234.5\r\n"
        "2026-09-15,N1,,7.25\r\n".encode(encoding)
        for encoding in ("utf-16", "utf-16-le", "utf-16-be", "utf-8-sig")
    ]
    # Line ends of three kinds in one file.
    + [
        b"Date,Block,Grade,Kilos\n2026-09-03,N1,A,12.5\r\n2026-09-14,N1,C,1234.5\r"
        b"2026-09-15,N1,,7.25\n"
    ],
)
def test_odd_text_files_land_all_the_same(ours: Place, content: bytes) -> None:
    assert_three_landed(ours, content, "harvest.csv")


# The arithmetic is that of weighings entered one by one ------------------------------------------


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    weight=st.decimals(min_value="0.0001", max_value="99999.9999", places=4),
    unit=st.sampled_from(sorted(GRAMS)),
)
def test_the_database_rounds_to_grams_as_the_models_do(weight: Decimal, unit: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {SCALE_G} FROM (SELECT %s::numeric AS weight, %s AS unit) s", [weight, unit]
        )
        assert cursor.fetchone() == (to_grams(weight, unit),)


@pytest.mark.parametrize(
    ("grams", "whole"),
    # Halves go to the even gram.
    [("0.5", 0), ("1.5", 2), ("2.5", 2), ("3.5", 4), ("2.4999", 2), ("2.5001", 3)],
)
def test_half_a_gram_goes_to_the_even_one(grams: str, whole: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {SCALE_G} FROM (SELECT %s::numeric AS weight, 'g' AS unit) s", [grams]
        )
        assert cursor.fetchone() == (whole,)


@pytest.mark.parametrize(
    "row",
    [
        # headings, cells, and what the same weighing is when entered by hand
        (["Gross kg"], ["30"], {"weight": "30", "unit": "kg"}),
        (["Net kg"], ["30"], {"weight": "30", "unit": "kg", "weight_kind": "net"}),
        (["Gross lb", "Tare lb"], ["30", "2.5"], {"weight": "30", "unit": "lb", "tare_g": 1_134}),
        (
            ["Gross kg", "Crates", "Crate type"],
            ["30", "2", "crate"],
            {"weight": "30", "unit": "kg", "containers": 2, "container": "crate"},
        ),
        # A tare that was read goes before that of the crates.
        (
            ["Gross kg", "Tare kg", "Crates", "Crate type"],
            ["30", "1", "2", "crate"],
            {"weight": "30", "unit": "kg", "tare_g": 1_000, "containers": 2, "container": "crate"},
        ),
        # Without a scale the crates' usual weight is an estimate.
        (
            ["Crates", "Crate type"],
            ["2", "crate"],
            {"containers": 2, "container": "crate"},
        ),
        (["Crates"], ["2"], {"containers": 2}),
        (["Fruit"], ["44"], {"fruit_count": 44}),
    ],
)
def test_a_row_weighs_what_it_would_weigh_entered_by_hand(
    ours: Place, row: tuple[list[str], list[str], dict[str, Any]]
) -> None:
    headings, cells, entered = row
    assert counts(
        send(ours.farm, [["Date", "Block", *headings], ["2026-09-10", "N1", *cells]])
    ) == (1, 0, 0, 0)
    [sent] = weights(ours.farm)
    entered = dict(entered)
    if "container" in entered:
        entered["container"] = ours.container
    if "weight" in entered:
        entered["weight"] = Decimal(entered["weight"])
    by_hand = HarvestWeight(
        farm=ours.farm, block=ours.block, picked_on=dt.date(2026, 9, 10), **entered
    )
    saving.save(by_hand)
    for name in ("net_g", "estimated_from_containers_g", "container_tare_g", "tare_g"):
        assert getattr(sent, name) == getattr(by_hand, name), name


def test_a_containers_tare_is_that_of_the_day_of_weighing(ours: Place) -> None:
    headings = ["Date", "Block", "Gross kg", "Crates", "Crate type"]
    send(ours.farm, [headings, ["2026-09-10", "N1", 30, 2, "crate"]])
    ours.container.tare_g = 2_000
    ours.container.save()
    assert counts(send(ours.farm, [headings, ["2026-09-10", "N1", 30, 2, "crate"]])) == (0, 0, 1, 0)
    assert counts(send(ours.farm, [headings, ["2026-09-10", "N1", 31, 2, "crate"]])) == (0, 1, 0, 0)
    [weight] = weights(ours.farm)
    assert (weight.container_tare_g, weight.net_g) == (1_500, 28_000)


# History -----------------------------------------------------------------------------------------


def test_the_history_tells_which_import_wrote_a_row(ours: Place) -> None:
    sent = send(ours.farm, SEASON)
    events = HarvestWeight._meta.get_field("events").related_model.objects  # type: ignore[union-attr]
    found = events.filter(pgh_context__metadata__harvest_import=str(sent.pk))
    assert found.count() == 3
    assert set(found.values_list("harvest_import_id", flat=True)) == {sent.pk}
