"""A crop's rules, started: from which day on each is due, and when it ends."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import TaskRule, WorkKind
from planning.compute.next_tasks.starts import Start, starts_of
from planning.compute.next_tasks.values import BlockYear, Cycle


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """The last day on which a rule's work is due, and what ended it."""

    day: date
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another rule that asks for the same kind of work, later; `detail` as the rule has it."""

    opens: date
    detail: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A rule of a block, started in one of its cycles; its tasks are numbered from `number`."""

    block: BlockYear
    cycle: Cycle
    rule: TaskRule
    start: Start
    end: End | None
    number: int
    rivals: tuple[Rival, ...] = ()


def lines_of(
    block: BlockYear, cycle: Cycle, rules: Iterable[TaskRule], ledger: Ledger
) -> list[Line]:
    """The rules that have a date, in the order in which they open."""
    lines = [line for rule in rules for line in _started(block, cycle, rule, ledger)]
    lines.sort(key=lambda line: (line.start.window.opens, line.rule.code))
    return [replace(line, rivals=_rivals(line, lines)) for line in lines]


def _started(block: BlockYear, cycle: Cycle, rule: TaskRule, ledger: Ledger) -> Iterator[Line]:
    starts = starts_of(rule, cycle, ledger)
    for number, start in enumerate(starts[:1] if rule.repeat else starts, start=1):
        yield Line(
            block=block,
            cycle=cycle,
            rule=rule,
            start=start,
            end=_end(rule, cycle, start, ledger),
            number=number,
        )


def _end(rule: TaskRule, cycle: Cycle, start: Start, ledger: Ledger) -> End | None:
    ends = []
    if rule.kind is WorkKind.PICKING and cycle.picking_ends_on is not None:
        ends.append(End(day=cycle.picking_ends_on, what="end of picking"))
    if rule.until is not None:
        since = start.counted_from or start.earliest
        seen_on = ledger.first_seen_since(rule.until, cycle, since)
        if seen_on is not None:
            ends.append(End(day=seen_on, what=f"{rule.until.name} seen"))
    return min(ends, key=lambda end: end.day, default=None)


def _rivals(line: Line, lines: Sequence[Line]) -> tuple[Rival, ...]:
    return tuple(
        Rival(opens=other.start.window.opens, detail=other.rule.detail)
        for other in lines
        if other.rule.kind is line.rule.kind and other.start.window.opens > line.start.window.closes
    )
