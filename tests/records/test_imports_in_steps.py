"""A file too large for one transaction: checked whole, landed in steps, resumed after a kill."""

import datetime as dt
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection, transaction

from orchard.access import Caller
from records.choices import ImportState
from records.importing import landing, load, staging, steps
from records.importing.landing import Step
from records.importing.staging import Staged
from records.models import Block, HarvestImport, HarvestWeight, ImportedChange, ImportFile
from records.services import saving
from records.services.imports import ImportConflictError, discard, receive, resume
from records.services.undoing import undo
from tests.cast import Place, client_of, make_cast
from tests.conftest import owner_of
from tests.records.sending import bring_in, counts, csv_of, problems, send, weights

HEADINGS = ["Line", "Date", "Block", "Kilos"]
ROWS = [HEADINGS, *([n, "2026-09-10", "N1", n] for n in range(1, 13))]
OF_ALL = (9, 2, 1, 0)  # of the twelve, one was there as it is and two with other weights


DAY = dt.date(2026, 9, 12)


class Killed(BaseException):
    """What a worker's death looks like from within."""


@pytest.fixture
def ours(committed: None, monkeypatch: pytest.MonkeyPatch) -> Place:
    monkeypatch.setattr(steps, "STEP", 5)
    place = make_cast().ours
    send(place.farm, [HEADINGS, *([n, "2026-09-10", "N1", kg] for n, kg in KNOWN.items())])
    return place


KNOWN = {2: 2, 7: 70, 12: 120}


def received(place: Place, rows: Any = ROWS, **options: Any) -> HarvestImport:
    return receive(farm=place.farm, file_name="a.csv", content=csv_of(rows), **options)


def outcome(place: Place) -> list[Any]:
    """All that a landing leaves, without ids, times and versions."""
    rows = HarvestWeight.objects.filter(farm=place.farm).order_by("import_key")
    changes = ImportedChange.objects.filter(farm=place.farm).order_by("weight__import_key", "pk")
    return [
        *rows.values_list("import_key", "net_g", "block_id", "cultivar_id", "crop_id"),
        *changes.values_list("weight__import_key", "before__weight", "sent"),
    ]


def staged() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM records_stagedweighing")
        return int(cursor.fetchone()[0])


def test_it_lands_whole_in_time_ordered_ids_and_is_undone_whole(ours: Place) -> None:
    before = [(w.net_g, w.retired_on) for w in weights(ours.farm)]
    sent = bring_in(received(ours))
    assert (sent.state, counts(sent)) == (ImportState.LANDED, OF_ALL)
    assert sent.file.landed == 11
    added = HarvestWeight.objects.filter(harvest_import=sent, version=1).order_by("pk")
    assert [w.net_g // 1000 for w in added] == [1, 3, 4, 5, 6, 8, 9, 10, 11]
    assert {w.tick is None for w in weights(ours.farm)} == {False}
    undo(sent)
    assert [(w.net_g, w.retired_on) for w in weights(ours.farm)] == before


def test_nothing_lands_where_a_late_row_is_bad(ours: Place) -> None:
    before = outcome(ours)
    sent = bring_in(received(ours, [*ROWS, [13, "2026-09-10", "N9", 1]]))
    assert sent.state == ImportState.REFUSED
    assert problems(sent) == [(14, "Block", "unknown-block", "N9")]
    assert outcome(ours) == before


# Killed ------------------------------------------------------------------------------------------


def dies(step: Callable[..., Any], *, at: int, after: bool) -> Callable[..., Any]:
    calls = iter(range(1, 100))

    def dying(*args: Any, **options: Any) -> Any:
        if next(calls) != at:
            return step(*args, **options)
        if after:
            step(*args, **options)
        raise Killed

    return dying


DEATHS = [
    # module, function, at which call, before or after it
    (steps, "begin", 1, False),
    (steps, "begin", 1, True),
    (landing, "land", 1, False),
    (landing, "land", 2, False),
    (landing, "land", 2, True),
    (landing, "land", 3, True),
    (steps, "land_next", 1, True),
    (steps, "land_next", 2, True),
    (steps, "land_next", 3, True),
    (steps, "counts_of", 1, True),
    (load, "_close", 1, True),
]


@pytest.mark.parametrize("crash", [False, True], ids=["worker", "worker and database"])
@pytest.mark.parametrize(("module", "name", "at", "after"), DEATHS)
def test_killed_anywhere_it_ends_as_if_nothing_had_been(
    ours: Place, module: Any, name: str, at: int, after: bool, crash: bool
) -> None:
    one = received(ours)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, name, dies(getattr(module, name), at=at, after=after))
        with pytest.raises(Killed):
            load.run(one.pk)
    connection.close()
    if crash:
        with owner_of(connection.settings_dict["NAME"]) as database:
            database.execute("TRUNCATE records_stagedweighing")
    bring_in(one)
    assert (one.state, counts(one)) == (ImportState.LANDED, OF_ALL)
    assert sorted(w.version for w in weights(ours.farm)) == [1] * 10 + [2] * 2
    killed = outcome(ours)
    undo(one)
    bring_in(received(ours))
    assert outcome(ours) == killed
    assert staged() == 0


def test_a_second_kill_is_survived_too(ours: Place) -> None:
    one = received(ours)
    for at in (2, 1):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(landing, "land", dies(landing.land, at=at, after=False))
            with pytest.raises(Killed):
                load.run(one.pk)
        one.refresh_from_db()
        assert (one.state, one.file.landed_through) == (ImportState.LANDING, 5)
    assert counts(bring_in(one)) == OF_ALL


# On its way --------------------------------------------------------------------------------------


@pytest.fixture
def halfway(ours: Place) -> Iterator[HarvestImport]:
    """Two of three steps have landed when the worker dies."""
    one = received(ours)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(landing, "land", dies(landing.land, at=3, after=False))
        with pytest.raises(Killed):
            load.run(one.pk)
    one.refresh_from_db()
    return one


def test_a_landing_import_shows_how_far_it_is(ours: Place, halfway: HarvestImport) -> None:
    shown = client_of(ours.owner).get(f"/api/v1/harvest-imports/{halfway.pk}").json()
    assert (shown["state"], shown["rows_landed"]) == ("landing", 9)
    assert staging.READING_PERCENT < shown["progress"] < 100
    assert (shown["rows_added"], shown["rows_changed"]) == (9, 2)
    with pytest.raises(ImportConflictError, match="landing"):
        undo(halfway)
    with pytest.raises(ImportConflictError, match="landing"):
        discard(halfway)


def test_a_weighing_edited_meanwhile_stays_as_it_was_left(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    land = landing.land

    def edited_before(staged: Staged, step: Step) -> Any:
        if step.after == 10:
            weight = HarvestWeight.objects.get(weight=120)
            weight.weight = 121
            saving.save(weight)
        return land(staged, step)

    monkeypatch.setattr(landing, "land", edited_before)
    sent = bring_in(received(ours))
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (9, 1, 2, 0))
    assert problems(sent, warnings=True) == [(13, "Date", "edited-meanwhile", "2026-09-10")]
    assert HarvestWeight.objects.filter(weight=121).exists()


def test_what_cannot_go_on_stops_and_says_how_far_it_came(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = Block.objects.create(farm=ours.farm, code="S2")
    rows = [*ROWS, [13, "2026-09-10", "S2", 13]]
    land = landing.land

    def deleted_before(staged: Staged, step: Step) -> Any:
        if step.after == 10:
            with owner_of(connection.settings_dict["NAME"]) as database:
                database.execute("DELETE FROM records_block WHERE id = %s", [other.pk])
        return land(staged, step)

    monkeypatch.setattr(landing, "land", deleted_before)
    sent = bring_in(received(ours, rows))
    assert sent.state == ImportState.STOPPED
    assert sent.explanation.startswith("9 of 12 weighings have landed; then something")
    with pytest.raises(ImportConflictError):
        discard(sent)
    monkeypatch.setattr(landing, "land", land)
    go_on(sent)
    assert sent.state == ImportState.STOPPED
    assert problems(sent) == [(14, "Block", "unknown-block", "S2")]
    Block.objects.create(farm=ours.farm, code="S2")
    go_on(sent)
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (10, 2, 1, 0))
    undo(sent)
    assert len(weights(ours.farm)) == 3


def go_on(sent: HarvestImport) -> None:
    resume(sent, caller=Caller(name="Berta"))
    bring_in(sent)


def test_a_stopped_import_can_be_undone(ours: Place, halfway: HarvestImport) -> None:
    load.give_up(halfway.pk)
    halfway.refresh_from_db()
    assert halfway.state == ImportState.STOPPED
    undo(halfway)
    assert len(weights(ours.farm)) == 3


# Beside it ---------------------------------------------------------------------------------------


def test_others_write_to_the_farm_between_its_steps(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On another connection, as another worker or the API would."""
    seen: list[int] = []
    land_next = steps.land_next

    def beside() -> None:
        try:
            with transaction.atomic():
                saving.save(
                    HarvestWeight(farm=ours.farm, block=ours.block, picked_on=DAY, fruit_count=3)
                )
            shown = client_of(ours.owner).get("/api/v1/harvest-imports")
            seen.append(shown.status_code)
        finally:
            connection.close()

    def with_others(*args: Any) -> bool:
        thread = threading.Thread(target=beside)
        thread.start()
        thread.join(timeout=20)
        return land_next(*args)

    monkeypatch.setattr(steps, "land_next", with_others)
    sent = bring_in(received(ours))
    assert (sent.state, counts(sent)) == (ImportState.LANDED, OF_ALL)
    assert seen == [200] * 4


def test_two_of_one_file_at_once_end_with_one_set_of_rows(ours: Place) -> None:
    both = [received(ours) for _ in range(2)]

    def run(pk: Any) -> None:
        try:
            load.run(pk)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(one.pk,)) for one in both]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = sorted(counts(HarvestImport.objects.get(pk=one.pk)) for one in both)
    assert found == [(0, 0, 12, 0), OF_ALL]
    assert len(weights(ours.farm)) == 12


def test_an_undo_does_not_wait_for_another_landing(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("records.services.imports.PATIENCE", "100ms")
    first = HarvestImport.objects.get()
    refused: list[str] = []
    land_next = steps.land_next

    def undoing() -> None:
        try:
            undo(first)
        except ImportConflictError as error:
            refused.append(str(error))
        finally:
            connection.close()

    def meanwhile(*args: Any) -> bool:
        thread = threading.Thread(target=undoing)
        thread.start()
        thread.join()
        return land_next(*args)

    monkeypatch.setattr(steps, "land_next", meanwhile)
    assert bring_in(received(ours)).state == ImportState.LANDED
    assert refused
    assert "is landing" in refused[0]
    assert ImportFile.objects.count() == 2
