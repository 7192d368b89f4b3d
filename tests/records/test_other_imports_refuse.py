"""A wrong row of any kind of file is refused in a sentence that names its cell."""

import datetime as dt
from typing import Any

import pytest

from records import models
from records.choices import ImportState
from records.importing.recording import settling
from records.models import HarvestImport
from tests.cast import Cast, Place
from tests.records.making import make_batch, make_block, make_round, make_tree
from tests.records.other_files import prepare, station
from tests.records.sending import Rows, counts, details, problems, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def ours(cast: Cast) -> Place:
    prepare(cast.ours)
    make_tree(cast.ours, 9, block=make_block(cast.ours), number="B-9")
    return cast.ours


def bring(place: Place, kind: str, cells: dict[str, Any], **options: Any) -> HarvestImport:
    rows = [list(cells), list(cells.values())]
    return send(place.farm, rows, kind=kind, decimal_mark=".", **options)


GOOD: dict[str, dict[str, Any]] = {
    "growth-stages": {"Date": "2026-05-13", "Block": "N1", "Tree": "", "BBCH": "65"}
    | {"Seen on": 8, "Trees checked": 20},
    "fruit-counts": {"Date": "2026-06-20", "Block": "N1", "Tree": "", "Round": "2026-05-21"}
    | {"Flowers": 40, "Fruit": 36, "Method": "", "Kind": "", "Reason": ""},
    "intakes": {"Date": "2026-09-10", "Block": "N1", "Containers": "", "Container": ""}
    | {"Gross kg": 100, "Grade": "A", "Sorted kg": 90},
    "pollination-rounds": {"Date": "2026-05-22", "Time": "", "Block": "N1", "Cultivar": "Ondrela"}
    | {"Row": 1, "Positions": "1-3", "Method": "brush", "Pollen": "jar 7", "Flowers": 100},
    "task-logs": {"Date": "2026-02-10", "Block": "N1", "Tree": "", "Work": "pruning"}
    | {"Minutes": 60, "Method": "", "Shoots before": "", "Cut off": ""},
    "weather-days": {"Date": "2026-05-01", "Tmin": 15, "Tmax": 25, "Station": "Yard"},
}


@pytest.mark.parametrize("kind", GOOD)
def test_the_rows_that_are_spoilt_below_are_good(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, GOOD[kind])
    assert (counts(sent), details(sent)) == ((1, 0, 0, 0), [])


@pytest.mark.parametrize(
    ("kind", "cells", "column", "code", "sentence"),
    [
        # a stage of three digits, and one of the days to come
        ("growth-stages", {"BBCH": "100"}, "BBCH", "not-a-stage", "two digits, 00 to 99"),
        ("growth-stages", {"Date": "2026-12-01"}, "Date", "date-in-future", "after today"),
        # a tree of another block, and one that is nowhere
        ("growth-stages", {"Tree": "B-9"}, "Seen on", "tree-and-trees", "not of both"),
        ("task-logs", {"Tree": "B-9"}, "Tree", "tree-in-another-block", "in block S2, not in N1"),
        ("task-logs", {"Tree": "B-8"}, "Tree", "unknown-tree", "no such tree in block N1"),
        ("task-logs", {"Block": "N2"}, "Block", "unknown-block", "Is it S2 or N1?"),
        ("task-logs", {"Cut off": "30"}, "Cut off", "shoots-differ", "the same shoots"),
        # counts: above the flowers looked at, above those marked, of no round
        ("fruit-counts", {"Fruit": 41}, "Fruit", "fruit-above-flowers", "marked flowers looked at"),
        ("fruit-counts", {"Flowers": 41}, "Flowers", "above-marked", "Only 40 flowers were marked"),
        ("fruit-counts", {"Round": "2026-05-20"}, "Round", "unknown-round", "are 2026-05-21."),
        ("fruit-counts", {"Method": "natural"}, "Round", "unknown-round", "No round of this block"),
        ("fruit-counts", {"Kind": "thinned"}, "Reason", "thinned-reason", "has a reason"),
        # grades above the net: by the sheet, and by what the records know of the containers
        ("intakes", {"Sorted kg": 110}, "Gross kg", "grades-exceed-net", "add up to 110 kg"),
        (
            "intakes",
            {"Containers": 10, "Container": "crate"},
            "Sorted kg",
            "grades-above-net",
            "90 kg, above the net 85 kg",
        ),
        ("intakes", {"Grade": "Extra"}, "Grade", "unknown-grade", "Known are A, C."),
        ("intakes", {"Containers": 70, "Container": "crate"}, "Gross kg", "tare-above-gross", ""),
        # rounds: pollen that is not there, not yet there, or of two batches
        ("pollination-rounds", {"Pollen": "jar 8"}, "Pollen", "unknown-pollen-batch", "jar 7"),
        ("pollination-rounds", {"Date": "2026-05-19"}, "Pollen", "unknown-pollen-batch", "by 2026"),
        (
            "pollination-rounds",
            {"Date": "2026-05-20", "Time": "05:00"},
            "Pollen",
            "pollen-of-the-future",
            "collected after the round",
        ),
        ("pollination-rounds", {"Pollen": "jar 7; jar 8"}, "Pollen", "several-batches", "one"),
        ("pollination-rounds", {"Positions": "7-9"}, "Positions", "no-tree-there", "No tree stood"),
        ("pollination-rounds", {"Cultivar": "Ondrola"}, "Cultivar", "unknown-cultivar", "Ondrela?"),
        # weather: of no station, of Fahrenheit, upside down, of a day to come
        ("weather-days", {"Station": "Yurd"}, "Station", "unknown-station", "Is it Yard?"),
        ("weather-days", {"Tmax": 95}, "Tmax", "out-of-range", "name that in the heading"),
        ("weather-days", {"Tmin": 26}, "Tmin", "tmin-above-tmax", "above the highest"),
        ("weather-days", {"Date": "2026-11-02"}, "Date", "date-in-future", "observed yet"),
    ],
)
def test_a_wrong_row_is_refused_in_a_sentence(
    ours: Place, kind: str, cells: dict[str, Any], column: str, code: str, sentence: str
) -> None:
    sent = bring(ours, kind, GOOD[kind] | cells)
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    [found], [detail] = problems(sent), details(sent)
    assert found[:3] == (2, column, code), detail
    assert sentence in detail


def test_all_wrong_rows_are_told_at_once(ours: Place) -> None:
    good = GOOD["fruit-counts"]
    wrong = [good | {"Fruit": 41}, good | {"Block": "N9"}, good | {"Flowers": 41}, good]
    rows: Rows = [list(good), *(list(cells.values()) for cells in wrong)]
    sent = send(ours.farm, rows, kind="fruit-counts")
    assert [(row, column) for row, column, *_ in problems(sent)] == [
        (2, "Fruit"),
        (3, "Block"),
        (4, "Flowers"),
    ]


# Weather -----------------------------------------------------------------------------------------


def test_an_only_station_needs_no_column(ours: Place) -> None:
    cells = {"Date": "2026-05-01", "Tmin": 15}
    assert counts(bring(ours, "weather-days", cells)) == (1, 0, 0, 0)
    station(ours, "Ridge")
    sent = bring(ours, "weather-days", cells)
    assert problems(sent) == [(2, "Date", "station-missing", "2026-05-01")]
    assert details(sent) == ["Say which station: Ridge, Yard."]


def test_a_day_is_there_once_in_a_file(ours: Place) -> None:
    rows: Rows = [["Date", "Tmin"], ["2026-05-01", 15], ["2026-05-01", 16]]
    sent = send(ours.farm, rows, kind="weather-days")
    assert problems(sent) == [(3, "Date", "row-repeated", "2026-05-01")]


def test_a_day_entered_by_hand_stands_in_the_way(ours: Place) -> None:
    yard = models.WeatherStation.objects.get(name="Yard")
    models.WeatherDay.objects.create(station=yard, day=dt.date(2026, 5, 1), tmin_c=14)
    sent = bring(ours, "weather-days", GOOD["weather-days"])
    assert details(sent) == ["The station has an observed row of this day."]


def test_a_station_of_somebody_else_is_not_written_to(ours: Place, cast: Cast) -> None:
    station(cast.neighbour, "Ridge")
    sent = bring(ours, "weather-days", GOOD["weather-days"] | {"Station": "Ridge"})
    assert problems(sent) == [(2, "Station", "unknown-station", "Ridge")]


# Rounds of a count -------------------------------------------------------------------------------


def test_rounds_of_one_day_that_differ_are_told_apart_by_a_column(ours: Place) -> None:
    day = dt.date(2026, 5, 21)
    make_round(ours, method="natural", pollen_batch=None, pollinated_on=day, flowers=60)
    sent = bring(ours, "fruit-counts", GOOD["fruit-counts"])
    assert [code for _, _, code, _ in problems(sent)] == ["ambiguous-round"]
    sent = bring(ours, "fruit-counts", GOOD["fruit-counts"] | {"Method": "natural"})
    [count] = models.FruitCount.objects.filter(harvest_import=sent)
    assert [round_.method for round_ in count.rounds.all()] == ["natural"]


def test_marks_that_do_not_tell_visits_apart_give_one_count(ours: Place) -> None:
    first = models.PollinationRound.objects.get()
    make_round(ours, pollen_batch=first.pollen_batch, pollinated_on=first.pollinated_on)
    sent = bring(ours, "fruit-counts", GOOD["fruit-counts"] | {"Flowers": 80, "Fruit": 70})
    [count] = models.FruitCount.objects.filter(harvest_import=sent)
    assert count.rounds.count() == 2


def test_a_name_on_a_jar_means_the_batch_collected_last(ours: Place) -> None:
    later = dt.datetime(2026, 5, 22, 5, 0, tzinfo=dt.UTC)
    newer = make_batch(ours, name="Jar 7", collected_at=later)
    bring(ours, "pollination-rounds", GOOD["pollination-rounds"] | {"Time": "07:00"})
    earlier = GOOD["pollination-rounds"] | {"Date": "2026-05-21"}
    bring(ours, "pollination-rounds", earlier)
    used = models.PollinationRound.objects.filter(harvest_import__isnull=False)
    names = list(used.order_by("pollinated_on").values_list("pollen_batch__name", flat=True))
    assert names == ["jar 7", newer.name]


# What is odd but possible ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "cells", "column", "code"),
    [
        ("weather-days", {"Tmax": 50}, "Tmax", "not-celsius"),
        ("growth-stages", {"BBCH": "21"}, "BBCH", "stage-unusual"),  # of no annona
        ("pollination-rounds", {"Date": "2026-05-30"}, "Pollen", "pollen-old"),
        ("pollination-rounds", {"Positions": ""}, "Row", "half-a-place"),
    ],
)
def test_what_is_odd_lands_with_a_warning(
    ours: Place, kind: str, cells: dict[str, Any], column: str, code: str
) -> None:
    sent = bring(ours, kind, GOOD[kind] | cells)
    assert (sent.state, counts(sent), sent.rows_warned) == (ImportState.LANDED, (1, 0, 0, 0), 1)
    assert [found[1:3] for found in problems(sent, warnings=True)] == [(column, code)]


def test_a_tree_that_was_removed_by_then_is_a_warning(ours: Place) -> None:
    make_tree(ours, 4, number="A-4", removed_on=dt.date(2026, 1, 31))
    sent = bring(ours, "task-logs", GOOD["task-logs"] | {"Tree": "a-4"})
    assert [found[1:3] for found in problems(sent, warnings=True)] == [("Tree", "tree-was-removed")]
    [log] = models.TaskLog.objects.all()
    assert [tree.number for tree in log.trees.all()] == ["A-4"]


# Large files -------------------------------------------------------------------------------------


def test_more_rows_than_are_saved_one_by_one_are_refused(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settling, "MAX_ROWS", 1)
    rows: Rows = [["Date", "Tmin"], ["2026-05-01", 15], ["2026-05-02", 16]]
    sent = send(ours.farm, rows, kind="weather-days")
    assert (sent.state, sent.explanation) == (
        ImportState.REFUSED,
        "The file has 2 rows. Send it in parts of 1.",
    )
