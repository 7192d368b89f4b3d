"""The same bytes again: answered without reading, just as a reading would have answered."""

from collections.abc import Callable
from typing import Any

import pytest

from records.choices import ImportState
from records.importing import load, repeats
from records.models import Block, Cultivar, FileLayout, HarvestImport, HarvestWeight
from records.services import saving
from records.services.undoing import undo
from tests.cast import Place, make_cast
from tests.records.sending import counts, send

ROWS = [
    ["Date", "Block", "Grade", "Kilos", "Note"],
    ["2026-09-10", "N1", "A", 20, ""],
    ["2026-09-10", "N1", "A", 20, ""],
    ["2026-09-11", "N1", "", 7, "wet"],
]
TOLD = (
    *("state", "found", "questions", "explanation"),
    *("rows_read", "rows_added", "rows_changed", "rows_unchanged", "rows_retired"),
    *("rows_refused", "rows_warned"),
)


@pytest.fixture
def ours(committed: None) -> Place:
    return make_cast().ours


@pytest.fixture
def readings(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """The files that were read."""
    read, done = load._read, []

    def reading(harvest_import: HarvestImport, *args: Any) -> Any:
        done.append(harvest_import.pk)
        return read(harvest_import, *args)

    monkeypatch.setattr(load, "_read", reading)
    return done


def report(sent: HarvestImport) -> dict[str, Any]:
    return {name: getattr(sent, name) for name in TOLD}


@pytest.mark.parametrize("options", [{}, {"dry_run": True}])
def test_both_ways_give_equal_reports(
    ours: Place, readings: list[Any], monkeypatch: pytest.MonkeyPatch, options: Any
) -> None:
    send(ours.farm, ROWS)
    answered = send(ours.farm, ROWS, **options)
    assert len(readings) == 1
    monkeypatch.setattr(repeats, "answered", lambda *_: False)
    compared = send(ours.farm, ROWS, **options)
    assert len(readings) == 2
    assert report(answered) == report(compared)
    assert counts(answered) == (0, 0, 3, 0)


def _edited(ours: Place) -> None:
    weight = HarvestWeight.objects.filter(note="wet").get()
    weight.fruit_count = 3
    saving.save(weight)


def _deleted(ours: Place) -> None:
    saving.delete(HarvestWeight.objects.filter(note="wet").get())


def _other_series(ours: Place) -> None:
    send(ours.farm, ROWS[:2], series="other")


CHANGES: list[tuple[Callable[[Place], Any], tuple[int, ...]]] = [
    # what happened between, and what is then found
    (_edited, (0, 0, 3, 0)),
    (_deleted, (1, 0, 2, 0)),
    (lambda ours: undo(HarvestImport.objects.get()), (3, 0, 0, 0)),
    (_other_series, (0, 0, 3, 0)),
    (lambda ours: Block.objects.create(farm=ours.farm, code="S2"), (0, 0, 3, 0)),
    (lambda ours: FileLayout.objects.create(farm=ours.farm, unit="kg"), (0, 0, 3, 0)),
    (
        lambda ours: Cultivar.objects.create(name="Brumel", species=ours.tree.cultivar.species),
        (0, 0, 3, 0),
    ),
]


@pytest.mark.parametrize(("happens", "expected"), CHANGES)
def test_whatever_changed_since_the_file_is_read(
    ours: Place, readings: list[Any], happens: Callable[[Place], Any], expected: tuple[int, ...]
) -> None:
    send(ours.farm, ROWS)
    happens(ours)
    before = len(readings)
    again = send(ours.farm, ROWS)
    assert len(readings) == before + 1
    assert (again.state, counts(again)) == (ImportState.LANDED, expected)


@pytest.mark.parametrize(
    "options", [{"series": "second"}, {"on_problem": "skip"}, {"decimal_mark": "."}]
)
def test_other_choices_are_another_reading(ours: Place, readings: list[Any], options: Any) -> None:
    send(ours.farm, ROWS)
    send(ours.farm, ROWS, **options)
    assert len(readings) == 2
