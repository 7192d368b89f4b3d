"""The next tasks of many blocks."""

from collections.abc import Iterable
from datetime import date

from planning.compute.next_tasks.courses import Course, Due, Memory, course_of
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.values import BlockYear, Choice, NextTask, Schedule, Waiting

NO_CHOICE = Choice()


def next_tasks(blocks: Iterable[BlockYear], *, today: date) -> Schedule:
    """What is due in each block, and what waits, as `today` sees it; later records are ignored.

    `today` is the farms' local date: farms on either side of midnight are asked for apart.
    """
    memory, tasks, waiting = Memory(), list[NextTask](), list[Waiting]()
    for block in blocks:
        ledger = Ledger(block, today)
        course = course_of(ledger, memory)
        tasks += [_task(due, ledger) for due in course.tasks]
        waiting += _waiting(course, block)
    return Schedule(tasks=tuple(tasks), waiting=tuple(waiting))


def _task(due: Due, ledger: Ledger) -> NextTask:
    block, planned, cycle = ledger.block, due.planned, ledger.block.cycles[due.cycle]
    key = f"{block.block}:{cycle.season_year}:{cycle.crop}:{planned.rule}:{planned.number}"
    return NextTask(
        key=key,
        block=block.block,
        cycle=cycle,
        planned=planned,
        done_by=ledger.work[due.done_by].record if due.done_by is not None else None,
        choice=block.choices.get(key, NO_CHOICE),
        sentences=(due.because,) if due.because and planned.state.is_due else (),
    )


def _waiting(course: Course, block: BlockYear) -> list[Waiting]:
    return [
        Waiting(
            block=block.block,
            season_year=block.cycles[unmet.cycle].season_year,
            crop=block.cycles[unmet.cycle].crop,
            rule=unmet.rule,
            reason=unmet.reason,
        )
        for unmet in course.waiting
    ]
