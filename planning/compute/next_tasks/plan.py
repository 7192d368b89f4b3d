"""The next tasks of many blocks.

What a rule makes of a crop depends on few days: when it was set off and ended, and when its work
was done. Many blocks have those days in common, so that each such outcome is worked out once.
"""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from planning.compute.next_tasks.conditions import holds
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.lines import Started, end_of, rivals_of, started
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.series import Line, Outcome, outcomes
from planning.compute.next_tasks.starts import Known
from planning.compute.next_tasks.triggers import (
    AfterEvent,
    AfterHeat,
    AfterWork,
    BeforeStage,
    DateWindow,
)
from planning.compute.next_tasks.values import (
    BlockYear,
    Choice,
    Cycle,
    NextTask,
    Planned,
    Schedule,
    TaskState,
    Waiting,
    Work,
)
from planning.compute.next_tasks.waiting import waits_for

NO_CHOICE = Choice()


@dataclass(slots=True)
class _Memory:
    """What was worked out for blocks before; it keeps the rules whose ids are in its keys."""

    starts: Known = field(default_factory=dict)
    outcomes: dict[Hashable, tuple[Outcome, ...]] = field(default_factory=dict)
    turns: dict[int, tuple[Sequence[TaskRule], "list[_Turn]"]] = field(default_factory=dict)

    def by_turn(self, rules: Sequence[TaskRule]) -> "list[_Turn]":
        """Rules that count from work come after the rest, which take theirs first."""
        found = self.turns.get(id(rules))
        if found is None:
            after = [rule for rule in rules if _counts_from_work(rule)]
            first = [rule for rule in rules if not _counts_from_work(rule)]
            found = self.turns[id(rules)] = (rules, [_turn(first), _turn(after)])
        return found[1]


@dataclass(frozen=True, slots=True)
class _Turn:
    """Rules whose tasks are made together, and those of them that go by the calendar."""

    rules: Sequence[TaskRule]
    of_calendar: Sequence[TaskRule]


def _turn(rules: Sequence[TaskRule]) -> _Turn:
    return _Turn(rules, [rule for rule in rules if _goes_by_calendar(rule)])


def _goes_by_calendar(rule: TaskRule) -> bool:
    return isinstance(rule.trigger, DateWindow | BeforeStage | AfterEvent)


def next_tasks(blocks: Iterable[BlockYear], *, today: date) -> Schedule:
    """What is due in each block, and what waits, as `today` sees it; later records are ignored.

    `today` is the farms' local date: farms on either side of midnight are asked for apart.
    """
    memory, tasks, waiting = _Memory(), list[NextTask](), list[Waiting]()
    for block in blocks:
        ledger, dated = Ledger(block, today), set[tuple[int, str, str]]()
        for cycle in _in_order(block.cycles):
            for task in _of_cycle(cycle, ledger, memory, dated):
                if _is_wanted(task.planned, block):
                    tasks.append(task)
        waiting.extend(_waiting(ledger, dated))
    return Schedule(tasks=tuple(tasks), waiting=tuple(waiting))


def _in_order(cycles: Sequence[Cycle]) -> Sequence[Cycle]:
    """Earlier crops take their work first."""
    return sorted(cycles, key=lambda cycle: (cycle.starts_on, cycle.crop))


def _counts_from_work(rule: TaskRule) -> bool:
    return isinstance(rule.trigger, AfterWork | AfterEvent | AfterHeat)


def _of_cycle(
    cycle: Cycle, ledger: Ledger, memory: _Memory, dated: set[tuple[int, str, str]]
) -> Iterator[NextTask]:
    for turn in memory.by_turn(ledger.block.rules):
        rules = turn.of_calendar if ledger.is_bare(cycle) else turn.rules
        lines = started(cycle, rules, ledger, memory.starts) if rules else ()
        for line in lines:
            dated.add((cycle.season_year, cycle.crop, line.rule.code))
            yield from _of_line(line, lines, cycle, ledger, memory)


def _of_line(
    line: Started, others: Sequence[Started], cycle: Cycle, ledger: Ledger, memory: _Memory
) -> Iterator[NextTask]:
    """The tasks of a rule in a cycle; those still to be done only while its condition holds."""
    free = ledger.free(line.rule.kind, cycle)
    prefix = f"{ledger.block.block}:{cycle.season_year}:{cycle.crop}:{line.rule.code}:"
    found = _outcomes(line, others, cycle, ledger, memory, free, prefix)
    condition = line.rule.only_while
    because = holds(condition, cycle, ledger) if condition else ""
    for outcome in found:
        if outcome.taken:
            ledger.take([free[place] for place in outcome.taken], cycle)
        if because is not None or outcome.planned.state is TaskState.DONE:
            work = free[outcome.done_by] if outcome.done_by is not None else None
            yield _task(
                outcome.planned, f"{prefix}{outcome.planned.number}", cycle, ledger, work, because
            )


def _outcomes(
    line: Started,
    others: Sequence[Started],
    cycle: Cycle,
    ledger: Ledger,
    memory: _Memory,
    free: Sequence[Work],
    prefix: str,
) -> tuple[Outcome, ...]:
    end = end_of(line, cycle, ledger)
    rivals = rivals_of(line, others)
    done = tuple([(work.done_on, work.detail) for work in free])
    skipped = _skipped(ledger.block, prefix) if ledger.block.choices else ()
    key = (line.start, line.number, end, rivals, done, skipped, ledger.today)
    found = memory.outcomes.get(key)
    if found is None:
        whole = Line(
            rule=line.rule,
            start=line.start,
            end=end,
            number=line.number,
            rivals=rivals,
            skipped=skipped,
        )
        found = memory.outcomes[key] = tuple(outcomes(whole, done, ledger.today))
    return found


def _skipped(block: BlockYear, prefix: str) -> tuple[int, ...]:
    """The numbers of a line's tasks that people decided to skip."""
    return tuple(
        sorted(
            int(key.removeprefix(prefix))
            for key, choice in block.choices.items()
            if choice.skipped_because and key.startswith(prefix)
        )
    )


def _task(
    planned: Planned, key: str, cycle: Cycle, ledger: Ledger, work: Work | None, because: str | None
) -> NextTask:
    block = ledger.block
    return NextTask(
        key=key,
        block=block.block,
        cycle=cycle,
        planned=planned,
        done_by=work.record if work else None,
        choice=block.choices.get(key, NO_CHOICE),
        sentences=(because,) if because and planned.state.is_due else (),
    )


def _is_wanted(planned: Planned, block: BlockYear) -> bool:
    if planned.state is TaskState.DONE:
        return True
    is_kept = block.kept_from is None or planned.closes >= block.kept_from
    return is_kept and (block.retired_on is None or planned.closes < block.retired_on)


def _waiting(ledger: Ledger, dated: set[tuple[int, str, str]]) -> Iterator[Waiting]:
    """Rules without a date in a cycle that is running, and what they wait for."""
    block, today = ledger.block, ledger.today
    if block.retired_on is not None and today >= block.retired_on:
        return
    for cycle in block.cycles:
        if cycle.starts_on <= today <= cycle.ends_on:
            for rule in block.rules:
                if (cycle.season_year, cycle.crop, rule.code) not in dated:
                    yield from _waits(rule, cycle, ledger)


def _waits(rule: TaskRule, cycle: Cycle, ledger: Ledger) -> Iterator[Waiting]:
    reason = waits_for(rule, cycle, ledger)
    if reason:
        yield Waiting(
            block=ledger.block.block,
            season_year=cycle.season_year,
            crop=cycle.crop,
            rule=rule.code,
            reason=reason,
        )
