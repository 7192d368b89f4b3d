"""A block's year, worked out: its tasks, and what waits, as every block alike has them.

What a rule makes of a crop depends on few days: when it was set off and ended, and when its work
was done. Blocks on which the same was done and seen on the same days are alike, and have one
course; others have many such outcomes in common, each of which is worked out once.
"""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field

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
from planning.compute.next_tasks.values import BlockYear, Cycle, Planned, TaskState, Work
from planning.compute.next_tasks.waiting import waits_for


@dataclass(frozen=True, slots=True)
class Due:
    """A task: the place of its crop among the block's, and of the work that did it in its work.

    `because` is the sentence of the condition that holds.
    """

    planned: Planned
    cycle: int
    done_by: int | None
    because: str


@dataclass(frozen=True, slots=True)
class Unmet:
    """A rule without a date, the place of the crop, and what it waits for."""

    rule: str
    cycle: int
    reason: str


@dataclass(frozen=True, slots=True)
class Course:
    tasks: tuple[Due, ...]
    waiting: tuple[Unmet, ...]


@dataclass(slots=True)
class Memory:
    """What was worked out for blocks before; it keeps the rules and heat whose ids it knows."""

    courses: dict[Hashable, Course] = field(default_factory=dict)
    starts: Known = field(default_factory=dict)
    outcomes: dict[Hashable, tuple[Outcome, ...]] = field(default_factory=dict)
    turns: dict[int, "tuple[_Turn, _Turn]"] = field(default_factory=dict)
    kept: list[object] = field(default_factory=list)

    def turns_of(self, rules: Sequence[TaskRule]) -> "tuple[_Turn, _Turn]":
        """Rules that count from work come after the rest, which take theirs first."""
        found = self.turns.get(id(rules))
        if found is None:
            first = [rule for rule in rules if not _counts_from_work(rule)]
            after = [rule for rule in rules if _counts_from_work(rule)]
            found = self.turns[id(rules)] = (_turn(first), _turn(after))
            self.kept.append(rules)
        return found


@dataclass(frozen=True, slots=True)
class _Turn:
    """Rules whose tasks are made together, and those of them that go by the calendar."""

    rules: Sequence[TaskRule]
    of_calendar: Sequence[TaskRule]


def _turn(rules: Sequence[TaskRule]) -> _Turn:
    return _Turn(rules, [rule for rule in rules if _goes_by_calendar(rule)])


def _goes_by_calendar(rule: TaskRule) -> bool:
    return isinstance(rule.trigger, DateWindow | BeforeStage | AfterEvent)


def _counts_from_work(rule: TaskRule) -> bool:
    return isinstance(rule.trigger, AfterWork | AfterEvent | AfterHeat)


def course_of(ledger: Ledger, memory: Memory) -> Course:
    """The course of the ledger's block, or of one that is alike."""
    block = ledger.block
    if block.choices:
        return _course(ledger, memory)
    key = _likeness(ledger)
    found = memory.courses.get(key)
    if found is None:
        memory.kept += [block.rules, block.heat]
        found = memory.courses[key] = _course(ledger, memory)
    return found


def _likeness(ledger: Ledger) -> Hashable:
    """Equal for blocks that are alike: crops go by their place instead of their id."""
    block = ledger.block
    crops = {cycle.crop_id: place for place, cycle in enumerate(block.cycles) if cycle.crop_id}
    return (
        id(block.rules),
        id(block.heat) if block.heat else None,
        tuple(block.forecasts),
        block.kept_from,
        block.retired_on,
        tuple([_without_id(cycle) for cycle in block.cycles]),
        tuple(
            [
                (work.done_on, work.kind, work.detail, work.counted, _place(work.crop, crops))
                for work in ledger.work
            ]
        ),
        tuple([(stage.seen_on, stage.bbch, _place(stage.crop, crops)) for stage in ledger.stages]),
    )


def _without_id(cycle: Cycle) -> Hashable:
    return (
        *(cycle.season_year, cycle.crop, cycle.starts_on, cycle.ends_on),
        *(cycle.windows_until, cycle.picking_ends_on, cycle.crop_id is None),
    )


def _place(crop: str | None, crops: dict[str, int]) -> int | None:
    """None where a record names no crop; below nought where it names none of these."""
    return crops.get(crop, -1) if crop else None


def _course(ledger: Ledger, memory: Memory) -> Course:
    """Earlier crops take their work first."""
    block = ledger.block
    places = sorted(
        range(len(block.cycles)),
        key=lambda place: (block.cycles[place].starts_on, block.cycles[place].crop),
    )
    dated: set[tuple[int, str]] = set()
    tasks = [due for place in places for due in _of_cycle(place, ledger, memory, dated)]
    return Course(tuple(tasks), tuple(_unmet(ledger, dated)))


def _of_cycle(
    place: int, ledger: Ledger, memory: Memory, dated: set[tuple[int, str]]
) -> Iterator[Due]:
    cycle = ledger.block.cycles[place]
    for turn in memory.turns_of(ledger.block.rules):
        rules = turn.of_calendar if ledger.is_bare(cycle) else turn.rules
        lines = started(cycle, rules, ledger, memory.starts) if rules else ()
        for line in lines:
            dated.add((place, line.rule.code))
            yield from _of_line(line, lines, place, ledger, memory)


def _of_line(
    line: Started, others: Sequence[Started], place: int, ledger: Ledger, memory: Memory
) -> Iterator[Due]:
    """The tasks of a rule in a cycle; those still to be done only while its condition holds."""
    cycle = ledger.block.cycles[place]
    free = ledger.free(line.rule.kind, cycle)
    found = _outcomes(line, others, cycle, ledger, memory, free)
    condition = line.rule.only_while
    because = holds(condition, cycle, ledger) if condition else ""
    for outcome in found:
        done_by = None
        if outcome.done_by is not None:
            done_by = ledger.place_of(free[outcome.done_by])
            ledger.take([free[each] for each in outcome.taken], cycle)
        is_asked_for = because is not None or done_by is not None
        if is_asked_for and _is_wanted(outcome.planned, ledger.block):
            yield Due(outcome.planned, place, done_by, because or "")


def _outcomes(
    line: Started,
    others: Sequence[Started],
    cycle: Cycle,
    ledger: Ledger,
    memory: Memory,
    free: Sequence[Work],
) -> tuple[Outcome, ...]:
    end = end_of(line, cycle, ledger)
    rivals = rivals_of(line, others)
    done = tuple([(work.done_on, work.detail) for work in free])
    skipped = _skipped(line, cycle, ledger.block) if ledger.block.choices else ()
    key = (line.start, line.number, end, rivals, done, skipped)
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


def _skipped(line: Started, cycle: Cycle, block: BlockYear) -> tuple[int, ...]:
    """The numbers of a line's tasks that people decided to skip."""
    prefix = f"{block.block}:{cycle.season_year}:{cycle.crop}:{line.rule.code}:"
    return tuple(
        sorted(
            int(key.removeprefix(prefix))
            for key, choice in block.choices.items()
            if choice.skipped_because and key.startswith(prefix)
        )
    )


def _is_wanted(planned: Planned, block: BlockYear) -> bool:
    if planned.state is TaskState.DONE:
        return True
    is_kept = block.kept_from is None or planned.closes >= block.kept_from
    return is_kept and (block.retired_on is None or planned.closes < block.retired_on)


def _unmet(ledger: Ledger, dated: set[tuple[int, str]]) -> Iterator[Unmet]:
    """Rules without a date in a cycle that is running, and what they wait for."""
    block, today = ledger.block, ledger.today
    if block.retired_on is not None and today >= block.retired_on:
        return
    for place, cycle in enumerate(block.cycles):
        if cycle.starts_on <= today <= cycle.ends_on:
            for rule in block.rules:
                reason = None
                if (place, rule.code) not in dated:
                    reason = waits_for(rule, cycle, ledger)
                if reason:
                    yield Unmet(rule.code, place, reason)
