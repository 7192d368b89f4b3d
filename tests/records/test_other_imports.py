"""Intakes, weather, work, stages, rounds and counts land, are known again, and can be undone."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from records import models
from records.choices import ImportState
from records.models import HarvestImport, ImportedRecord
from records.services import file_parts, saving
from records.services.imports import ImportConflictError
from records.services.undoing import undo
from tests.cast import Cast, Place
from tests.importing.making import as_xlsx
from tests.records.making import make_count
from tests.records.other_files import FILES, OtherFile, prepare
from tests.records.sending import Rows, bring_in, counts, csv_of, details, problems, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def ours(cast: Cast) -> Place:
    prepare(cast.ours)
    return cast.ours


@pytest.fixture(params=FILES)
def kind(request: Any) -> str:
    kind: str = request.param
    return kind


def bring(place: Place, kind: str, rows: Rows | bytes, **options: Any) -> HarvestImport:
    mark = "," if kind == "intakes" else "."
    return send(place.farm, rows, kind=kind, **{"decimal_mark": mark, **options})


def landed(file: OtherFile) -> list[tuple[Any, ...]]:
    """What came in by files, in their order."""
    rows = file.model.objects.filter(harvest_import__isnull=False).order_by("pk")
    return list(rows.values_list(*file.shown))


def state_of(file: OtherFile) -> list[tuple[Any, ...]]:
    """All that would show that a record was written again."""
    rows = file.model.objects.order_by("pk").values_list()
    return [*rows, (file.model._meta.get_field("events").related_model.objects.count(),)]


def test_every_kind_lands_from_text(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, FILES[kind].rows)
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (2, 0, 0, 0)), details(sent)
    assert sent.explanation == "Of 2 rows: 2 added, 0 changed, 0 unchanged, 0 refused."
    assert landed(FILES[kind]) == FILES[kind].stored
    assert sent.series == kind


def test_every_kind_lands_from_a_workbook(ours: Place, kind: str) -> None:
    content = as_xlsx({"Sheet 1": FILES[kind].rows})
    sent = bring(ours, kind, content, file_name="sent.xlsx")
    assert counts(sent) == (2, 0, 0, 0), details(sent)
    assert landed(FILES[kind]) == FILES[kind].stored


def test_the_same_file_again_changes_nothing(ours: Place, kind: str) -> None:
    bring(ours, kind, FILES[kind].rows)
    before = state_of(FILES[kind])
    again = bring(ours, kind, FILES[kind].rows)
    assert (again.state, counts(again)) == (ImportState.LANDED, (0, 0, 2, 0))
    assert state_of(FILES[kind]) == before


def test_a_corrected_row_is_changed_and_no_other(ours: Place, kind: str) -> None:
    bring(ours, kind, FILES[kind].rows)
    sent = bring(ours, kind, FILES[kind].corrected)
    assert counts(sent) == (0, 1, 1, 0), details(sent)
    assert landed(FILES[kind]) == [FILES[kind].stored[0], FILES[kind].mended]


def test_what_was_added_goes_with_an_undo(ours: Place, kind: str) -> None:
    before = FILES[kind].model.objects.count()
    sent = undo(bring(ours, kind, FILES[kind].rows))
    assert (sent.state, FILES[kind].model.objects.count()) == (ImportState.UNDONE, before)
    assert not ImportedRecord.objects.exists()
    assert counts(bring(ours, kind, FILES[kind].rows)) == (2, 0, 0, 0)


def test_imports_are_undone_one_after_the_other(ours: Place, kind: str) -> None:
    first = bring(ours, kind, FILES[kind].rows)
    second = bring(ours, kind, FILES[kind].corrected)
    with pytest.raises(ImportConflictError, match="1 of them"):
        undo(first)
    undo(second)
    assert landed(FILES[kind]) == FILES[kind].stored
    undo(first)
    assert landed(FILES[kind]) == []


def test_a_record_edited_since_stands_in_the_way(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, FILES[kind].rows)
    edited = FILES[kind].model.objects.filter(harvest_import=sent).first()
    edited.note = "looked at again"
    saving.save(edited)
    before = state_of(FILES[kind])
    with pytest.raises(ImportConflictError, match=str(edited.pk)):
        undo(sent)
    assert state_of(FILES[kind]) == before


def test_a_record_deleted_since_stands_in_the_way(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, FILES[kind].rows)
    saving.delete(FILES[kind].model.objects.filter(harvest_import=sent).first())
    with pytest.raises(ImportConflictError, match="1 of the records were deleted"):
        undo(sent)


def test_a_correction_made_since_stays(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, FILES[kind].rows)
    edited = FILES[kind].model.objects.filter(harvest_import=sent).first()
    name, value = FILES[kind].edit
    setattr(edited, name, value)
    saving.save(edited)
    again = bring(ours, kind, FILES[kind].rows)
    assert counts(again) == (0, 0, 2, 0)
    assert [found[2] for found in problems(again, warnings=True)] == ["correction-kept"]
    edited.refresh_from_db()
    assert getattr(edited, name) == value


def test_a_dry_run_tells_what_would_be_and_writes_nothing(ours: Place, kind: str) -> None:
    before = state_of(FILES[kind])
    sent = bring(ours, kind, FILES[kind].rows, dry_run=True)
    assert (sent.state, counts(sent)) == (ImportState.CHECKED, (2, 0, 0, 0))
    assert state_of(FILES[kind]) == before
    assert not ImportedRecord.objects.exists()


def spoilt(rows: Rows) -> list[list[Any]]:
    """A file whose last row is of a farm that is not the import's."""
    headings, first, second = (list(row) for row in rows)
    return [[*headings, "Farm"], [*first, "OURS"], [*second, "NEXT"]]


def test_one_refused_row_keeps_the_whole_file_out(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, spoilt(FILES[kind].rows))
    assert (sent.state, counts(sent)) == (ImportState.REFUSED, (0, 0, 0, 1))
    assert problems(sent) == [(3, "Farm", "other-farm", "NEXT")]
    assert landed(FILES[kind]) == []


def test_refused_rows_may_be_skipped(ours: Place, kind: str) -> None:
    sent = bring(ours, kind, spoilt(FILES[kind].rows), on_problem="skip")
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (1, 0, 0, 1))
    assert landed(FILES[kind]) == FILES[kind].stored[:1]


# What a file does not say -----------------------------------------------------------------------


def test_what_a_file_has_no_column_for_stays(ours: Place) -> None:
    bring(ours, "task-logs", FILES["task-logs"].rows)
    log = models.TaskLog.objects.get(kind="pruning")
    log.note = "with the long saw"
    saving.save(log)
    short = [["Date", "Block", "Work", "Row", "Position", "Minutes"]]
    sent = bring(ours, "task-logs", [*short, ["2026-02-10", "N1", "pruning", 1, 2, 250]])
    assert counts(sent) == (0, 1, 0, 0)
    log.refresh_from_db()
    assert (log.minutes, log.note, log.people) == (250, "with the long saw", ["Ana", "Rui"])
    assert log.details == {"method": "heading"}


def test_sorting_comes_later_and_stays_when_only_the_weight_is_sent_again(ours: Place) -> None:
    weighed = [["Date", "Docket", "Net kg"], ["2026-09-10", "G-7", 100]]
    sorted_ = [[*weighed[0], "Grade", "Sorted kg"], [*weighed[1], "A", 90]]
    again = [weighed[0], ["2026-09-10", "G-7", 101]]
    assert [counts(bring(ours, "intakes", rows)) for rows in (weighed, sorted_, again)] == [
        (1, 0, 0, 0),
        (0, 1, 0, 0),
        (0, 1, 0, 0),
    ]
    [intake] = models.Intake.objects.all()
    [line] = intake.sorted_weights.all()
    assert (intake.net_g, line.grade, line.net_g) == (101_000, ours.grade, 90_000)


def test_a_retired_record_comes_back_and_goes_again_with_an_undo(ours: Place) -> None:
    sent = bring(ours, "task-logs", FILES["task-logs"].rows)
    day = dt.date(2026, 3, 1)
    models.TaskLog.objects.filter(harvest_import=sent).update(retired_on=day)
    again = bring(ours, "task-logs", FILES["task-logs"].rows)
    assert counts(again) == (0, 2, 0, 0)
    assert set(models.TaskLog.objects.values_list("retired_on", flat=True)) == {None}
    undo(again)
    assert set(models.TaskLog.objects.values_list("retired_on", flat=True)) == {day}


def test_equal_rows_are_as_many_records(ours: Place) -> None:
    row = ["2026-02-11", "N1", "capina", "", "", "Rui", 60, ""]
    rows = [FILES["task-logs"].rows[0], row, row]
    assert counts(bring(ours, "task-logs", rows)) == (2, 0, 0, 0)
    assert counts(bring(ours, "task-logs", [*rows, row])) == (1, 0, 2, 0)


def test_a_weather_day_is_known_whatever_the_series(ours: Place) -> None:
    bring(ours, "weather-days", FILES["weather-days"].rows)
    sent = bring(ours, "weather-days", FILES["weather-days"].rows, series="from the ridge")
    assert counts(sent) == (0, 0, 2, 0)


# Undoing ----------------------------------------------------------------------------------------


def test_a_round_that_was_counted_since_stands_in_the_way(ours: Place) -> None:
    sent = bring(ours, "pollination-rounds", FILES["pollination-rounds"].rows)
    round_ = models.PollinationRound.objects.filter(harvest_import=sent).first()
    make_count(ours, [round_])
    with pytest.raises(ImportConflictError, match="in use by other records"):
        undo(sent)
    assert models.PollinationRound.objects.filter(harvest_import=sent).count() == 2


def test_an_undo_brings_back_the_rows_below_a_record(ours: Place) -> None:
    headings, brushed, natural = (list(row) for row in FILES["pollination-rounds"].rows)
    bring(ours, "pollination-rounds", [headings, brushed, natural])
    sent = bring(ours, "pollination-rounds", [headings, [*brushed[:8], 320, "Eva", 100], natural])
    assert counts(sent) == (0, 1, 1, 0)
    undo(sent)
    stored = models.PollinationRound.objects.get(flowers=310)
    assert [tree.position for tree in stored.trees.order_by("position")] == [1, 2, 3]
    assert (stored.people, stored.pollen_batch.name) == (["Ana", "Rui"], "jar 7")
    bring(ours, "intakes", FILES["intakes"].rows)
    undo(bring(ours, "intakes", FILES["intakes"].corrected))
    [line] = models.Intake.objects.get(docket="G-8").sorted_weights.all()
    assert (line.weight, line.unit, line.grade) == (Decimal(20), "kg", ours.grade)


# Layouts, co-ops and speed ------------------------------------------------------------------------


def test_a_layout_kept_for_one_kind_is_not_used_for_another(ours: Place) -> None:
    rows = [["Tag", "Min"], ["2026-05-01", 12]]
    mapping = {"Tag": "day", "Min": "tmin_c"}
    send(ours.farm, rows, kind="weather-days", series="yard", mapping=mapping, remember=True)
    layout = models.FileLayout.objects.get()
    assert (layout.kind, layout.series, layout.mapping) == ("weather-days", "yard", mapping)
    assert send(ours.farm, rows, kind="weather-days", series="yard").state == ImportState.LANDED
    work = [["Tag", "Block", "Work"], ["2026-05-01", "N1", "weeding"]]
    asked = send(ours.farm, work, kind="task-logs", series="yard")
    assert [question["setting"] for question in asked.questions] == ["mapping"]


def test_an_intake_sent_by_a_co_op_is_its_sheds_and_sorted_by_its_grades(
    cast: Cast, ours: Place
) -> None:
    cast.co_op.grades.create(code="A", is_marketable=True)
    first = models.CoOpGrade.objects.create(co_op=cast.co_op, code="Prime", is_marketable=True)
    models.Membership.objects.update(staff_may_edit=True, ends_on=dt.date(2026, 9, 10))
    rows = [
        ["Date", "Docket", "Net kg", "Prime kg", "C kg"],
        ["2026-09-10", "G-7", 100, 60, 30],
        ["2026-09-11", "G-8", 100, 60, 30],
    ]
    options = {"kind": "intakes", "decimal_mark": ".", "on_problem": "skip", "co_op": cast.co_op}
    received = models.HarvestImport(farm=ours.farm, file_name="f.csv", file_sha256="", **options)
    received.save(force_insert=True)
    file_parts.keep(received, csv_of(rows))
    sent = bring_in(received)
    assert problems(sent) == [(3, "Date", "outside-membership", "2026-09-11")]
    [intake] = models.Intake.objects.all()
    lines = intake.sorted_weights.order_by("-net_g")
    assert intake.co_op == cast.co_op
    assert [(line.co_op_grade, line.grade) for line in lines] == [(first, None), (None, ours.cull)]


@pytest.mark.parametrize(
    ("kind", "a_row"),
    [
        # savepoint, insert, release; the farms that go by the station, and a job for each
        ("weather-days", 5),
        # savepoint, insert, release; links that are there, as the manager asks twice, and new ones
        ("task-logs", 6),
    ],
)
def test_queries_grow_by_a_few_a_row(ours: Place, kind: str, a_row: int) -> None:
    def rows(first: int, count: int) -> Rows:
        days = (dt.date(2025, 1, 1) + dt.timedelta(days=first + n) for n in range(count))
        if kind == "weather-days":
            return [["Date", "Tmin", "Tmax"], *([day, 10, 20] for day in days)]
        headings = ["Date", "Block", "Work", "Row", "Position", "Workers"]
        return [headings, *([day, "N1", "poda", 1, day.day % 3 + 1, "Ana"] for day in days)]

    queries = []
    for first, count in ((0, 5), (10, 45)):
        with CaptureQueriesContext(connection) as captured:
            assert bring(ours, kind, rows(first, count)).state == ImportState.LANDED
        queries.append(len(captured))
    assert queries[1] - queries[0] <= 40 * a_row
