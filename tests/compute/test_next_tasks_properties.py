"""What holds for next tasks, whatever is recorded and in whatever order."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from planning.compute.next_tasks import (
    BlockYear,
    Choice,
    CropFacts,
    NextTask,
    SeasonDays,
    StageForecast,
    StageSeen,
    TaskState,
    Work,
    WorkKind,
    cycles_of,
    next_tasks,
)
from planning.compute.next_tasks.annona import Climate, annona_rules
from tests.compute.blocks import block_year

SEASONS = [
    SeasonDays(year=year, starts_on=date(year, 1, 1), ends_on=date(year, 12, 31))
    for year in (2027, 2028)
]
MAIN = CropFacts(crop="main crop", name="main", season_year=2027, opened_on=date(2027, 3, 4))
SECOND = CropFacts(crop="2nd crop", name="second", season_year=2027, opened_on=date(2027, 6, 15))

# Any day, and often one of a bloom, so that visits follow each other.
days = st.dates(date(2026, 11, 1), date(2029, 2, 1)) | st.dates(date(2027, 5, 1), date(2027, 5, 25))
crops = st.sampled_from([None, None, None, MAIN.crop, SECOND.crop])
work_done = st.builds(
    Work,
    record=st.uuids().map(str),
    kind=st.sampled_from(
        [WorkKind.PRUNING, WorkKind.POLLINATION, WorkKind.COUNTING, WorkKind.PICKING]
    ),
    done_on=days,
    detail=st.sampled_from([None, "initial", "retained", "thinned"]),
    crop=crops,
)
stages_seen = st.builds(
    StageSeen,
    record=st.uuids().map(str),
    bbch=st.sampled_from([7, 11, 60, 61, 65, 69, 87, 99]),
    seen_on=days,
    crop=crops,
)
Records = dict[str, Work | StageSeen]
KEYS = [
    f"N1:{year}:main:{rule}:{number}"
    for year in (2027, 2028)
    for rule in ("pruning", "pollination", "picking")
    for number in (1, 2, 3)
]


def unique(records: Iterable[Work | StageSeen]) -> Records:
    return {record.record: record for record in records}


all_records = st.lists(work_done | stages_seen, max_size=40).map(unique)
choices = st.dictionaries(
    st.sampled_from(KEYS), st.just(Choice(skipped_because="Hail.")), max_size=4
)
climates = st.sampled_from(Climate)
sets_of_rules = st.builds(
    annona_rules, st.sampled_from(["sugar-apple", "cherimoya", "soursop"]), climates
)


def block_of(records: Records) -> BlockYear:
    rules = annona_rules("sugar-apple", Climate.NORTHERN_SUBTROPICS).rules
    return block_year(rules, *records.values(), cycles=cycles_of(SEASONS, [SECOND, MAIN]))


ahead = st.integers(0, 20).flatmap(
    lambda width: st.builds(
        lambda crop, bbch, on: StageForecast(
            season_year=2027,
            crop=crop,
            bbch=bbch,
            on=on,
            low=on - timedelta(days=width),
            high=on + timedelta(days=width),
        ),
        st.sampled_from(["main", "second"]),
        st.sampled_from([10, 60, 65, 69, 87]),
        days,
    )
)
blocks = st.builds(
    lambda records, rules, choices, forecasts: replace(
        block_of(records),
        rules=[*rules.rules, *rules.options],
        choices=choices,
        forecasts=forecasts,
    ),
    all_records,
    sets_of_rules,
    choices,
    st.lists(ahead, max_size=3),
)


def tasks_of(block: BlockYear, today: date) -> tuple[NextTask, ...]:
    return next_tasks([block], today=today).tasks


@st.composite
def ways_to_enter(draw: st.DrawFn, final: Records) -> Records:
    """The same records, entered in random order, some wrong at first, with others removed again."""
    strays = draw(st.lists(work_done | stages_seen, max_size=6).map(unique))
    entered: Records = {}
    for key in draw(st.permutations([*final, *strays])):
        entered[key] = strays[key] if key in strays else _perhaps_wrong(draw, final[key])
    for key in draw(st.permutations(list(entered))):
        if key in final:
            entered[key] = final[key]
        else:
            del entered[key]
    return entered


def _perhaps_wrong(draw: st.DrawFn, record: Work | StageSeen) -> Work | StageSeen:
    shift = timedelta(days=draw(st.integers(-40, 40)))
    if isinstance(record, Work):
        return replace(record, done_on=record.done_on + shift)
    return replace(record, seen_on=record.seen_on + shift)


@given(data=st.data(), final=all_records, today=days)
def test_the_way_a_season_was_entered_does_not_matter(
    data: st.DataObject, final: Records, today: date
) -> None:
    entered = data.draw(ways_to_enter(final))
    assert next_tasks([block_of(entered)], today=today) == next_tasks(
        [block_of(final)], today=today
    )


@given(data=st.data(), block=blocks, today=days)
def test_the_order_of_rules_and_crops_does_not_matter(
    data: st.DataObject, block: BlockYear, today: date
) -> None:
    shuffled = replace(
        block,
        rules=data.draw(st.permutations(block.rules)),
        cycles=data.draw(st.permutations(block.cycles)),
    )
    assert set(tasks_of(shuffled, today)) == set(tasks_of(block, today))


def of_another_block(block: BlockYear, code: str) -> BlockYear:
    """The same days under other ids, as a neighbour has them."""
    cycles = [
        replace(cycle, crop_id=cycle.crop_id and f"{code} {cycle.crop_id}")
        for cycle in block.cycles
    ]
    return replace(
        block,
        block=code,
        cycles=cycles,
        choices={},
        work=[replace(each, **_renamed(each, code)) for each in block.work],
        stages=[replace(each, **_renamed(each, code)) for each in block.stages],
    )


def _renamed(each: Work | StageSeen, code: str) -> dict[str, Any]:
    return {"record": f"{code} {each.record}", "crop": each.crop and f"{code} {each.crop}"}


@given(block=blocks, other=all_records, today=days)
def test_each_block_is_planned_as_if_it_were_alone(
    block: BlockYear, other: Records, today: date
) -> None:
    rest = block_of(other)
    many = [
        block,
        of_another_block(block, "N2"),
        replace(rest, block="N3", rules=block.rules),
        of_another_block(replace(rest, rules=block.rules), "N4"),
    ]
    together = next_tasks(many, today=today)
    alone = [next_tasks([each], today=today) for each in many]
    assert list(together.tasks) == [task for each in alone for task in each.tasks]
    assert list(together.waiting) == [wait for each in alone for wait in each.waiting]


@given(block=blocks, today=days)
def test_keys_are_unique_and_numbers_run_from_one(block: BlockYear, today: date) -> None:
    tasks = tasks_of(block, today)
    assert len({task.key for task in tasks}) == len(tasks)
    for series in _series(tasks):
        assert [task.number for task in series] == list(range(1, len(series) + 1))


@given(block=blocks, today=days)
def test_no_record_does_two_tasks_and_each_is_of_the_tasks_kind(
    block: BlockYear, today: date
) -> None:
    kinds = {work.record: work.kind for work in block.work}
    done = [task for task in tasks_of(block, today) if task.done_by is not None]
    assert len({task.done_by for task in done}) == len(done)
    assert all(kinds[str(task.done_by)] is task.kind for task in done)


@given(block=blocks, today=days)
def test_states_agree_with_the_dates(block: BlockYear, today: date) -> None:
    for task in tasks_of(block, today):
        assert task.opens <= task.best <= task.closes
        assert task.state in _possible(task, today)
        assert task.done_on is None or task.done_on <= today
        assert (task.days_late is None) == (task.done_on is None)


def _possible(task: NextTask, today: date) -> set[TaskState]:
    if task.done_on is not None:
        return {TaskState.DONE}
    if task.skipped_because:
        return {TaskState.SKIPPED}
    by_date = [
        (task.opens, TaskState.COMING),
        (task.best + timedelta(days=1), TaskState.OPEN),
        (task.closes + timedelta(days=1), TaskState.OVERDUE),
    ]
    return {next((state for end, state in by_date if today < end), TaskState.MISSED)}


@given(block=blocks, today=days)
def test_a_series_is_settled_up_to_its_last_task_and_goes_forward(
    block: BlockYear, today: date
) -> None:
    for series in _series(tasks_of(block, today)):
        for earlier, later in pairwise(series):
            assert earlier.state.is_settled or earlier.state is TaskState.MISSED
            assert later.opens > (earlier.done_on or earlier.closes)


@given(records=all_records, today=days)
def test_recording_the_work_of_an_open_task_closes_it(records: Records, today: date) -> None:
    block = block_of(records)
    for task in tasks_of(block, today):
        if task.state in (TaskState.OPEN, TaskState.OVERDUE):
            work = Work(record="new", kind=task.kind, done_on=today, crop=task.crop_id)
            recorded = tasks_of(replace(block, work=[work, *block.work]), today)
            (done,) = [each for each in recorded if each.done_by == "new"]
            assert done.key == task.key


def _series(tasks: Iterable[NextTask]) -> list[list[NextTask]]:
    series: dict[tuple[int, str, str], list[NextTask]] = defaultdict(list)
    for task in tasks:
        series[task.season_year, task.crop, task.rule].append(task)
    return list(series.values())
