"""The next tasks of many blocks."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.lines import lines_of
from planning.compute.next_tasks.rules import AfterWork, TaskRule
from planning.compute.next_tasks.series import tasks_of
from planning.compute.next_tasks.values import BlockYear, Cycle, NextTask, Schedule, Waiting


def next_tasks(blocks: Iterable[BlockYear], *, today: date) -> Schedule:
    """What is due in each block, and what waits, as `today` sees it; later records are ignored.

    `today` is the farms' local date: farms on either side of midnight are asked for apart.
    """
    tasks: list[NextTask] = []
    waiting: list[Waiting] = []
    for block in blocks:
        dated = _dated(block, today)
        tasks.extend(task for task in dated if _is_wanted(task, block))
        waiting.extend(_waiting(block, dated, today))
    return Schedule(tasks=tuple(tasks), waiting=tuple(waiting))


def _dated(block: BlockYear, today: date) -> list[NextTask]:
    """Earlier crops take their work first; rules that count from work come after the rest."""
    ledger = Ledger(block, today)
    return [
        task
        for cycle in sorted(block.cycles, key=lambda cycle: (cycle.starts_on, cycle.crop))
        for rules in _by_turn(block.rules)
        for line in lines_of(block, cycle, rules, ledger)
        for task in tasks_of(line, ledger, today)
    ]


def _by_turn(rules: Sequence[TaskRule]) -> tuple[list[TaskRule], list[TaskRule]]:
    after_work = [rule for rule in rules if isinstance(rule.trigger, AfterWork)]
    return [rule for rule in rules if not isinstance(rule.trigger, AfterWork)], after_work


def _is_wanted(task: NextTask, block: BlockYear) -> bool:
    if task.state.is_done:
        return True
    is_kept = block.kept_from is None or task.closes >= block.kept_from
    return is_kept and (block.retired_on is None or task.closes < block.retired_on)


def _waiting(block: BlockYear, dated: Sequence[NextTask], today: date) -> Iterator[Waiting]:
    """Rules without a task in a cycle that is running, and what they wait for."""
    if block.retired_on is not None and today >= block.retired_on:
        return
    known = {(task.season_year, task.crop, task.rule) for task in dated}
    for cycle in block.cycles:
        if cycle.starts_on <= today <= cycle.ends_on:
            for rule in block.rules:
                if (cycle.season_year, cycle.crop, rule.code) not in known:
                    yield from _waits(block, cycle, rule)


def _waits(block: BlockYear, cycle: Cycle, rule: TaskRule) -> Iterator[Waiting]:
    reason = reasons.waits(rule)
    if reason is not None:
        yield Waiting(
            block=block.block,
            season_year=cycle.season_year,
            crop=cycle.crop,
            rule=rule.code,
            reason=reason,
        )
