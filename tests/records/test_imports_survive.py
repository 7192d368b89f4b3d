"""Workers killed halfway, two at once, a file deleted under way: one set of rows, or none."""

import threading
import time
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection

from records import tasks
from records.choices import ImportState, JobState
from records.importing import checks, comparing, landing, load, lookups, staging
from records.importing.staging import Staged
from records.models import (
    HarvestImport,
    HarvestWeight,
    HarvestWeightTree,
    ImportFile,
    ImportProblem,
    Job,
)
from records.services import jobs, saving
from records.services.imports import discard, receive, start_import
from records.services.undoing import undo
from tests.cast import Place, make_cast
from tests.records.sending import bring_in, counts, csv_of, problems, send, weights

HEADINGS = ["Date", "Block", "Row", "Position", "Kilos"]
FIRST = [HEADINGS, ["2026-09-10", "N1", 1, 1, 20], ["2026-09-10", "N1", "", "", 10]]
# A row changed, one the same, two new, one of which is refused.
SECOND = [
    HEADINGS,
    ["2026-09-10", "N1", 1, 1, 22],
    FIRST[2],
    *[["2026-09-11", block, "", "", 7] for block in ("N1", "N9")],
]


class Killed(BaseException):
    """What a worker's death looks like from within."""


@pytest.fixture
def ours(committed: None) -> Place:
    return make_cast().ours


def outcome(place: Place) -> list[Any]:
    """All that an import leaves, without ids and times."""
    rows = HarvestWeight.objects.filter(farm=place.farm).order_by("pk")
    ids = {pk: number for number, pk in enumerate(rows.values_list("pk", flat=True))}
    links = HarvestWeightTree.objects.filter(farm=place.farm).values_list("weight_id", "tree_id")
    return [
        *rows.values_list("picked_on", "weight", "net_g", "version", "crop_id", "import_key"),
        *sorted((ids[weight], tree) for weight, tree in links),
        staged(),
    ]


def staged() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM records_stagedweighing")
        return int(cursor.fetchone()[0])


def dies_before(step: Any) -> Callable[..., Any]:
    def dying(*_: Any, **__: Any) -> Any:
        raise Killed

    return dying


def dies_after(step: Any) -> Callable[..., Any]:
    def dying(*args: Any, **options: Any) -> Any:
        step(*args, **options)
        raise Killed

    return dying


STEPS = [
    # Where the worker dies: while reading, while gathering, between the checks, while landing.
    (load, "_read", dies_before),
    (staging, "note_progress", dies_after),
    (staging, "gather", dies_after),
    (lookups, "look_up_words", dies_after),
    (checks, "check_rows", dies_after),
    (comparing, "classify", dies_after),
    (landing, "land", dies_before),
    (landing, "land", dies_after),
    (load, "explain", dies_before),
    (load, "_close", dies_before),
    (load, "_close", dies_after),
]


@pytest.mark.parametrize(("module", "name", "death"), STEPS)
def test_a_killed_import_goes_on_as_if_nothing_had_been(
    ours: Place, module: Any, name: str, death: Any
) -> None:
    send(ours.farm, FIRST)
    before = outcome(ours)
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(SECOND), on_problem="skip")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, name, death(getattr(module, name)))
        with pytest.raises(Killed):
            load.run(received.pk)
    assert outcome(ours)[:-1] == before[:-1]
    sent = bring_in(received)
    assert (sent.state, counts(sent)) == (ImportState.LANDED, (1, 1, 1, 1))
    assert problems(sent) == [(5, "Block", "unknown-block", "N9")]
    assert [(w.net_g, w.version) for w in weights(ours.farm)] == [
        (22_000, 2),
        (10_000, 1),
        (7_000, 1),
    ]
    assert staged() == 0


STATEMENTS = [
    *(landing.ADD, landing.NOTE_BEFORE, landing.CHANGE),
    *(landing.UNLINK, landing.LINK, landing.NOTE_ADDED),
]


def test_each_step_of_landing_is_undone_with_the_rest(ours: Place) -> None:
    """The worker dies before each statement of the landing in turn, then it lands."""
    send(ours.farm, FIRST)
    before = outcome(ours)
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(SECOND), on_problem="skip")
    run = Staged.run
    for statement in STATEMENTS:
        with pytest.MonkeyPatch.context() as patch:

            def dying(self: Staged, text: str, *, at: str = statement, **values: Any) -> int:
                if text == at:
                    raise Killed
                return run(self, text, **values)

            patch.setattr(Staged, "run", dying)
            with pytest.raises(Killed):
                load.run(received.pk)
        assert outcome(ours)[:-1] == before[:-1]
    assert counts(bring_in(received)) == (1, 1, 1, 1)


# Two at once -------------------------------------------------------------------------------------


def at_once(*works: Callable[[], Any]) -> list[BaseException]:
    """Run in threads of their own, each with a connection of its own; what they raised."""
    raised: list[BaseException] = []
    start = threading.Barrier(len(works))

    def run(work: Callable[[], Any]) -> None:
        try:
            start.wait()
            work()
        except BaseException as error:
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


def test_two_imports_of_one_file_at_once_end_with_one_set_of_rows(ours: Place) -> None:
    rows = [HEADINGS, *(["2026-09-10", "N1", 1, 1, kg] for kg in range(1, 301))]
    content = csv_of(rows)
    received = [receive(farm=ours.farm, file_name="a.csv", content=content) for _ in range(4)]
    assert at_once(*(lambda pk=one.pk: load.run(pk) for one in received)) == []
    for one in received:
        one.refresh_from_db()
    assert {one.state for one in received} == {ImportState.LANDED}
    assert sorted(counts(one) for one in received) == [(0, 0, 300, 0)] * 3 + [(300, 0, 0, 0)]
    assert [w.weight for w in weights(ours.farm)] == list(range(1, 301))
    assert {w.version for w in weights(ours.farm)} == {1}


def test_one_import_run_by_two_workers_at_once_lands_once(ours: Place) -> None:
    rows = [HEADINGS, *(["2026-09-10", "N1", 1, 1, kg] for kg in range(1, 301))]
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(rows))
    assert at_once(*[lambda: load.run(received.pk)] * 4) == []
    received.refresh_from_db()
    assert (received.state, counts(received)) == (ImportState.LANDED, (300, 0, 0, 0))
    assert len(weights(ours.farm)) == 300
    assert staged() == 0


# The reading is taken from under the worker ------------------------------------------------------


def in_the_middle(monkeypatch: pytest.MonkeyPatch, happens: Callable[[], Any]) -> None:
    """Something happens on another connection between the first batch and the second."""
    batches = iter(range(100))
    note_progress = staging.note_progress

    def noting(*args: Any) -> None:
        if next(batches) == 1:
            monkeypatch.setattr(staging, "note_progress", note_progress)
            assert at_once(happens) == []
        note_progress(*args)

    monkeypatch.setattr(staging, "BATCH", 1)
    monkeypatch.setattr(staging, "note_progress", noting)


def test_a_worker_taken_for_dead_leaves_the_import_to_the_next(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(FIRST))
    in_the_middle(monkeypatch, lambda: load.run(received.pk))
    load.run(received.pk)
    received.refresh_from_db()
    assert (received.state, counts(received)) == (ImportState.LANDED, (2, 0, 0, 0))
    assert len(weights(ours.farm)) == 2
    assert staged() == 0


def test_an_import_can_be_thrown_away_while_it_is_read(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(FIRST))
    in_the_middle(monkeypatch, lambda: discard(HarvestImport.objects.get(pk=received.pk)))
    load.run(received.pk)
    assert not HarvestImport.objects.exists()
    assert (weights(ours.farm), staged()) == ([], 0)


def test_progress_is_seen_while_the_file_is_read(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    received = receive(farm=ours.farm, file_name="a.csv", content=csv_of(FIRST))
    seen: list[Any] = []
    in_the_middle(
        monkeypatch,
        lambda: seen.extend(
            HarvestImport.objects.values_list("state", "file__progress", "version")
        ),
    )
    load.run(received.pk)
    assert seen == [("reading", 40, 2)]
    assert ImportFile.objects.get().progress == 100


# Jobs --------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("quiet")
def test_the_job_brings_an_import_in(ours: Place) -> None:
    sent = start_import(farm=ours.farm, file_name="a.csv", content=csv_of(FIRST), by="Berta")
    job = Job.objects.get(kind="harvest-import")
    assert (job.key, jobs.run(job.pk)) == (str(sent.pk), True)
    sent.refresh_from_db()
    assert sent.state == ImportState.LANDED
    events = HarvestWeight._meta.get_field("events").related_model.objects  # type: ignore[union-attr]
    assert events.filter(pgh_context__metadata__by="Berta").count() == 2


@pytest.mark.usefixtures("quiet")
def test_an_import_that_keeps_failing_says_so_and_can_be_started_again(
    ours: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = start_import(farm=ours.farm, file_name="a.csv", content=csv_of(FIRST))
    monkeypatch.setattr(landing, "land", lambda *_: 1 / 0)
    job = Job.objects.get(kind="harvest-import")
    for attempt in range(1, tasks.MAX_READINGS + 1):
        jobs.run(job.pk)
        job.refresh_from_db()
        expected = JobState.DONE if attempt == tasks.MAX_READINGS else JobState.WAITING
        assert (job.attempts, job.state) == (attempt, expected)
        Job.objects.filter(pk=job.pk).update(run_after=job.queued_at)
    sent.refresh_from_db()
    assert sent.state == ImportState.FAILED
    assert "nothing was written" in sent.explanation
    assert (weights(ours.farm), staged()) == ([], 0)


@pytest.mark.usefixtures("quiet")
def test_a_job_for_an_import_that_is_gone_is_done(committed: None) -> None:
    jobs.run(jobs.enqueue("harvest-import", str(uuid4()), {"by": ""}))
    assert Job.objects.get(kind="harvest-import").state == JobState.DONE
    assert not ImportProblem.objects.exists()


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody else is to do the jobs."""
    monkeypatch.setattr(jobs, "wake", lambda: None)


# Trees alone -------------------------------------------------------------------------------------


def stamps(place: Place) -> list[Any]:
    rows = HarvestWeight.objects.filter(farm=place.farm)
    return list(rows.values_list("version", "links_version", "tick"))


def test_a_change_of_nothing_but_the_tree_is_seen_by_whoever_follows_the_changes(
    ours: Place,
) -> None:
    numbered = ["Line", *HEADINGS]
    send(ours.farm, [numbered, [1, "2026-09-10", "N1", "", "", 20]])
    [(_, _, first)] = stamps(ours)
    moved = send(ours.farm, [numbered, [1, "2026-09-10", "N1", 1, 1, 20]])
    assert counts(moved) == (0, 1, 0, 0)
    [(version, links_version, second)] = stamps(ours)
    assert (version, links_version) == (2, 1)
    assert second > first
    undo(moved)
    [(version, links_version, third)] = stamps(ours)
    assert (version, links_version) == (3, 2)
    assert third > second
    assert not HarvestWeightTree.objects.exists()


# Size --------------------------------------------------------------------------------------------


def season(rows: int, kilos: int) -> list[list[Any]]:
    days = (f"2026-{4 + n % 6:02}-{1 + n % 28:02}" for n in range(rows))
    return [HEADINGS, *([day, "N1", 1, 1, kilos] for day in days)]


def seconds(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def seconds_of_steps(place: Place, rows: int) -> dict[str, float]:
    """On a connection that has just edited a single row: triggers keep plans for a session."""
    connection.close()
    weight = weights(place.farm)[0]
    weight.note = f"before {rows} rows"
    saving.save(weight)
    sent: list[HarvestImport] = []

    def sending(kilos: int, expected: tuple[int, int, int, int]) -> None:
        sent.append(send(place.farm, season(rows, kilos), series=f"of {rows}"))
        assert counts(sent[-1]) == expected

    return {
        "add": seconds(lambda: sending(20, (rows, 0, 0, 0))),
        "change": seconds(lambda: sending(21, (0, rows, 0, 0))),
        "undo": seconds(lambda: undo(sent[-1])),
    }


@pytest.mark.long
def test_the_time_of_a_file_grows_as_its_rows_do(ours: Place) -> None:
    """Eight times as many rows, where a plan made for one row would take 64 times as long."""
    send(ours.farm, FIRST)
    small, large = seconds_of_steps(ours, 1_000), seconds_of_steps(ours, 8_000)
    assert {step for step in small if large[step] > 8 * 2.5 * small[step]} == set()
