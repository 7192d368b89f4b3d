"""Next tasks of 100,000 blocks, rebuilt set-based, against a loop over objects and bare SQL."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from statistics import median
from typing import Any
from uuid import UUID

from django.db import connection

from planning.compute.next_tasks import next_tasks
from planning.models import Alert, NextTask, UndatedTask
from planning.queries.plantings import planted_blocks
from planning.queries.schedules import facts_of_blocks, plan_of
from planning.services.schedule_rows import TASK_COLUMNS, task_rows
from planning.services.schedules import rebuild_schedules
from records.models import Farm
from tests.bench.frame import Bench, seconds
from tests.bench.orchards import TODAY, plant
from tests.conftest import owner_of

BATCH = 50  # farms at a time, each batch in its own transaction
WORKERS = 2  # at once, as the service's workers are
FASTER = 100
OF_ONE_INSERT = 2
LINEAR = 1.1  # time a block at ten times the size; what is above 1 is noise of the machine
RUNS = 3
DERIVED = ", ".join(model._meta.db_table for model in (NextTask, UndatedTask, Alert))
TASKS = NextTask._meta.db_table
COLUMNS = ", ".join(f'"{name}"' for name in ("id", *TASK_COLUMNS))


def test_next_tasks_are_rebuilt_set_based(bench: Bench, committed: None) -> None:
    farms, blocks = bench.size(1_000, 10), bench.size(100, 3)
    plant(farms, blocks)
    ids = sorted(Farm.objects.values_list("pk", flat=True))
    _as_owner("ANALYZE")
    rebuild(ids)  # the default rules are kept from then on
    rows = _keep_rows()
    assert rows == farms * blocks * 6
    took = _by_turns(bench, ids)
    work = f"next tasks of {farms * blocks:,} blocks ({rows:,} rows)"
    bench.note_at_most(
        OF_ONE_INSERT, f"{work}, one INSERT..SELECT", took["insert"], took["rebuild"]
    )
    sample = bench.size(200, 2)
    loop = _loop_seconds(ids[0], sample) * farms * blocks / sample
    bench.note_at_least(FASTER, f"{work}, a loop over objects, scaled", loop, took["rebuild"])
    _note_growth(bench, ids, took["rebuild"])


def rebuild(farm_ids: Sequence[UUID]) -> None:
    batches = [farm_ids[start : start + BATCH] for start in range(0, len(farm_ids), BATCH)]
    with ThreadPoolExecutor(WORKERS) as workers:
        list(workers.map(_rebuild, batches))


def _rebuild(farm_ids: Sequence[UUID]) -> None:
    try:
        rebuild_schedules(farm_ids, TODAY)
    finally:
        connection.close()


def insert() -> None:
    """The least code that writes as many rows of tasks."""
    with connection.cursor() as cursor:
        cursor.execute(f"INSERT INTO {TASKS} ({COLUMNS}) SELECT {COLUMNS} FROM bench_rows")


def loop(farm_id: UUID, blocks: int) -> None:
    """Block by block and task by task, as one writes it down with the ORM."""
    farm = Farm.objects.get(pk=farm_id)
    for block in facts_of_blocks([farm], TODAY)[:blocks]:
        plan = plan_of([farm], [block], planted_blocks([block], TODAY), TODAY, block.pk)
        (of_block,) = plan.blocks.values()
        found = next_tasks([of_block.block_year], today=TODAY).tasks
        for row in task_rows(plan, found, {}):
            values: dict[str, Any] = dict(zip(TASK_COLUMNS, row, strict=True))
            values |= {"hours": [], "assigned_to": [], "assigned_names": []}
            NextTask.objects.update_or_create(
                farm_id=values.pop("farm_id"), key=values.pop("key"), defaults=values
            )


def _by_turns(bench: Bench, farm_ids: Sequence[UUID]) -> dict[str, float]:
    took: dict[str, list[float]] = {"insert": [], "rebuild": []}
    for _ in range(RUNS if bench.is_full else 1):
        _empty()
        took["insert"].append(seconds(insert))
        _empty()
        took["rebuild"].append(seconds(lambda: rebuild(farm_ids)))
    return {name: median(times) for name, times in took.items()}


def _loop_seconds(farm_id: UUID, blocks: int) -> float:
    _empty()
    return seconds(lambda: loop(farm_id, blocks))


def _note_growth(bench: Bench, farm_ids: Sequence[UUID], whole: float) -> None:
    """A hundredth, a tenth and the whole, per block."""
    sizes = [len(farm_ids) // 100 or 1, len(farm_ids) // 10 or 1]
    a_block = []
    for size in sizes:
        _empty()
        a_block.append(seconds(lambda size=size: rebuild(farm_ids[:size])) / size)  # type: ignore[misc] # bound now
    a_block.append(whole / len(farm_ids))
    for small, large, size in zip(a_block, a_block[1:], (*sizes[1:], len(farm_ids)), strict=False):
        work = f"next tasks, time a block at {size:,} farms, to a tenth of them"
        bench.note_at_most(LINEAR, work, small, large)


def _keep_rows() -> int:
    """A copy of the tasks, for the bare INSERT."""
    _as_owner("DROP TABLE IF EXISTS bench_rows")
    _as_owner(f"CREATE UNLOGGED TABLE bench_rows AS SELECT {COLUMNS} FROM {TASKS}")
    _as_owner("GRANT SELECT ON bench_rows TO PUBLIC")
    return NextTask.objects.count()


def _empty() -> None:
    _as_owner(f"TRUNCATE {DERIVED}")


def _as_owner(statement: str) -> None:
    with owner_of(connection.settings_dict["NAME"]) as database:
        database.execute(statement)
