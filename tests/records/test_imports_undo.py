"""A landed import can be taken back as a whole while its rows are untouched."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from records.choices import ImportState
from records.models import HarvestWeight, HarvestWeightTree, ImportedChange, Tree
from records.services import saving
from records.services.imports import ImportConflictError
from records.services.undoing import KEPT_BY_DATABASE, undo
from tests.cast import Cast, Place, make_cast, make_cultivar
from tests.records.sending import counts, send, weights

pytestmark = pytest.mark.django_db

HEADINGS = ["Line", "Date", "Block", "Row", "Position", "Grade", "Kilos", "Pickers"]
FIRST = [
    HEADINGS,
    [1, "2026-09-10", "N1", 1, 1, "A", 20, "Ilda; Rui"],
    [2, "2026-09-10", "N1", "", "", "C", 10, ""],
]
# Everything about line 1 is different, and line 3 is new.
SECOND = [
    HEADINGS,
    [1, "2026-09-09", "N1", 1, 2, "C", 21, "Berta"],
    FIRST[2],
    [3, "2026-09-12", "N1", 1, 2, "A", 5, ""],
]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def ours(cast: Cast) -> Place:
    """A farm with a second tree, of another cultivar."""
    Tree.objects.create(
        farm=cast.ours.farm, block=cast.ours.block, row=1, position=2, cultivar=make_cultivar("Two")
    )
    return cast.ours


def content(place: Place) -> list[tuple[Any, ...]]:
    """Weighings without what the database keeps of itself, and their trees."""
    columns = [
        field.attname
        for field in HarvestWeight._meta.concrete_fields
        if field.attname not in KEPT_BY_DATABASE - {"id"}
    ]
    rows = HarvestWeight.objects.filter(farm=place.farm).order_by("pk").values_list(*columns)
    links = HarvestWeightTree.objects.filter(farm=place.farm).values_list("weight_id", "tree_id")
    return [*rows, *sorted(links)]


def test_what_was_added_goes(ours: Place) -> None:
    sent = undo(send(ours.farm, FIRST))
    assert (sent.state, content(ours)) == (ImportState.UNDONE, [])
    assert not ImportedChange.objects.exists()


def test_what_was_changed_is_as_it_was(ours: Place) -> None:
    send(ours.farm, FIRST)
    before = content(ours)
    sent = send(ours.farm, SECOND)
    assert counts(sent) == (1, 1, 1, 0)
    assert content(ours) != before
    undo(sent)
    assert content(ours) == before


def test_imports_can_be_undone_one_after_the_other(ours: Place) -> None:
    first, second = send(ours.farm, FIRST), send(ours.farm, SECOND)
    with pytest.raises(ImportConflictError, match="1 of them"):
        undo(first)
    first.refresh_from_db()
    assert first.state == ImportState.LANDED
    undo(second)
    undo(first)
    assert content(ours) == []


def test_an_undone_file_can_be_sent_again(ours: Place) -> None:
    undo(send(ours.farm, FIRST))
    assert counts(send(ours.farm, FIRST)) == (2, 0, 0, 0)


def test_what_was_entered_by_hand_is_none_of_an_imports_business(ours: Place) -> None:
    sent = send(ours.farm, FIRST)
    by_hand = HarvestWeight(
        farm=ours.farm,
        block=ours.block,
        picked_on=dt.date(2026, 9, 10),
        weight=Decimal(3),
        unit="kg",
    )
    saving.save(by_hand)
    undo(sent)
    assert weights(ours.farm) == [by_hand]


def test_a_row_that_was_edited_since_stands_in_the_way(ours: Place) -> None:
    sent = send(ours.farm, FIRST)
    edited = weights(ours.farm)[1]
    edited.note = "looked at again"
    saving.save(edited)
    before = content(ours)
    with pytest.raises(ImportConflictError, match=f"2026-09-10 in block N1 .id {edited.pk}"):
        undo(sent)
    assert content(ours) == before


def test_a_row_that_was_deleted_since_stands_in_the_way(ours: Place) -> None:
    sent = send(ours.farm, FIRST)
    deleted = weights(ours.farm)[0]
    HarvestWeightTree.objects.filter(weight=deleted).delete()
    deleted.delete()
    with pytest.raises(ImportConflictError, match="1 of the weighings were deleted"):
        undo(sent)


@pytest.mark.parametrize("options", [{"dry_run": True}, {"decimal_mark": ","}])
def test_only_what_landed_can_be_undone(ours: Place, options: dict[str, Any]) -> None:
    rows = FIRST if "dry_run" in options else [HEADINGS, [1, "2026-09-10", "X", "", "", "", 1, ""]]
    with pytest.raises(ImportConflictError, match="Only a landed import"):
        undo(send(ours.farm, rows, **options))


def test_an_import_is_not_undone_twice(ours: Place) -> None:
    sent = undo(send(ours.farm, FIRST))
    with pytest.raises(ImportConflictError, match="undone"):
        undo(sent)


def test_a_restored_row_belongs_to_the_cultivar_of_today(ours: Place) -> None:
    send(ours.farm, FIRST)
    second = send(ours.farm, SECOND)
    new = make_cultivar("Renamed since")
    ours.tree.cultivar = new
    saving.save(ours.tree)
    undo(second)
    assert weights(ours.farm)[0].cultivar == new


def test_the_history_tells_what_was_undone(ours: Place) -> None:
    sent = undo(send(ours.farm, FIRST))
    events = HarvestWeight._meta.get_field("events").related_model.objects  # type: ignore[union-attr]
    deleted = events.filter(pgh_label="delete", pgh_context__metadata__harvest_import=str(sent.pk))
    assert deleted.count() == 2
