"""Intakes, weather, work, stages, rounds and counts land, are known again, and can be undone."""

from typing import Any

import pytest

from records.choices import ImportState
from records.models import HarvestImport, ImportedRecord
from records.services import saving
from records.services.imports import ImportConflictError
from records.services.undoing import undo
from tests.cast import Cast, Place
from tests.importing.making import as_xlsx
from tests.records.other_files import FILES, OtherFile, prepare
from tests.records.sending import Rows, counts, details, problems, send

pytestmark = pytest.mark.django_db

ANSWERS = {"decimal_mark": ","}


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
