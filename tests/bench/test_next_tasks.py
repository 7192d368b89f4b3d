"""Next tasks of 100,000 blocks, rebuilt set-based, against a loop over objects and bare SQL."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from itertools import pairwise
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
    took = _by_turns(bench, ids, sample=bench.size(60, 2))
    work = f"next tasks of {farms * blocks:,} blocks ({rows:,} rows)"
    bench.note_at_most(OF_ONE_INSERT, f"{work}, one INSERT..SELECT", took["insert"], took["whole"])
    bench.note_at_least(
        FASTER,
        f"{work}, a loop over objects, scaled",
        took["loop of a block"] * farms * blocks,
        took["whole"],
    )
    of_block = {size: took[size] / len(part) for size, part in _parts(ids).items()}
    for small, large in pairwise(of_block):
        bench.note_at_most(
            LINEAR,
            f"next tasks, time a block, {large} of {farms * blocks:,} to {small}",
            of_block[small],
            of_block[large],
        )


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
    found_blocks = facts_of_blocks([farm], TODAY)[:blocks]
    assert len(found_blocks) == blocks
    for block in found_blocks:
        plan = plan_of([farm], [block], planted_blocks([block], TODAY), TODAY, block.pk)
        (of_block,) = plan.blocks.values()
        found = next_tasks([of_block.block_year], today=TODAY).tasks
        for row in task_rows(plan, found, {}):
            values: dict[str, Any] = dict(zip(TASK_COLUMNS, row, strict=True))
            values |= {"hours": [], "assigned_to": [], "assigned_names": []}
            NextTask.objects.update_or_create(
                farm_id=values.pop("farm_id"), key=values.pop("key"), defaults=values
            )


def _parts(farm_ids: Sequence[UUID]) -> dict[str, Sequence[UUID]]:
    number = len(farm_ids)
    return {
        "a hundredth": farm_ids[: max(1, number // 100)],
        "a tenth": farm_ids[: max(1, number // 10)],
        "whole": farm_ids,
    }


def _by_turns(bench: Bench, farm_ids: Sequence[UUID], sample: int) -> dict[str, float]:
    """Seconds of each side, all in every run, from an empty table."""
    took: dict[str, list[float]] = defaultdict(list)
    for _ in range(RUNS if bench.is_full else 1):
        took["insert"].append(_from_empty(insert))
        for size, part in _parts(farm_ids).items():
            took[size].append(_from_empty(partial(rebuild, part)))
        looping = _from_empty(partial(loop, farm_ids[0], sample))
        took["loop of a block"].append(looping / sample)
    return {name: median(times) for name, times in took.items()}


def _from_empty(work: Callable[[], object]) -> float:
    _as_owner(f"TRUNCATE {DERIVED}")
    return seconds(work)


def _keep_rows() -> int:
    """A copy of the tasks, for the bare INSERT."""
    _as_owner("DROP TABLE IF EXISTS bench_rows")
    _as_owner(f"CREATE UNLOGGED TABLE bench_rows AS SELECT {COLUMNS} FROM {TASKS}")
    _as_owner("GRANT SELECT ON bench_rows TO PUBLIC")
    return NextTask.objects.count()


def _as_owner(statement: str) -> None:
    with owner_of(connection.settings_dict["NAME"]) as database:
        database.execute(statement)
