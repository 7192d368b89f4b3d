"""A crop's rules, started: from which day on each is due, and when it ends."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import TaskRule
from planning.compute.next_tasks.series import End, Rival
from planning.compute.next_tasks.starts import Known, Start, starts_of
from planning.compute.next_tasks.terms import WorkKind
from planning.compute.next_tasks.values import Cycle


@dataclass(frozen=True, slots=True)
class Started:
    """A rule with a start in a cycle; its tasks are numbered from `number`."""

    rule: TaskRule
    start: Start
    number: int


def started(cycle: Cycle, rules: Iterable[TaskRule], ledger: Ledger, known: Known) -> list[Started]:
    """The rules that have a date, in the order in which they open."""
    found = []
    for rule in rules:
        starts = starts_of(rule, cycle, ledger, known)
        for number, start in enumerate(starts[:1] if rule.repeat else starts, start=1):
            found.append(Started(rule, start, number))
    if len(found) > 1:
        found.sort(key=lambda each: (each.start.window.opens, each.rule.code))
    return found


def end_of(each: Started, cycle: Cycle, ledger: Ledger) -> End | None:
    """The earliest of what ends a rule."""
    rule, start, ends = each.rule, each.start, []
    if rule.kind is WorkKind.PICKING and cycle.picking_ends_on is not None:
        ends.append(End(cycle.picking_ends_on, "end of picking"))
    if rule.until is not None:
        since = start.counted_from or start.earliest
        seen_on = ledger.first_seen_since(rule.until, cycle, since)
        if seen_on is not None:
            ends.append(End(seen_on, f"{rule.until.name} seen"))
    return min(ends, key=lambda end: end.day) if ends else None


def rivals_of(each: Started, others: Sequence[Started]) -> tuple[Rival, ...]:
    """Rules that ask for the same kind of work once this one has closed."""
    if len(others) == 1:
        return ()
    kind, closes = each.rule.kind, each.start.window.closes
    return tuple(
        (other.start.window.opens, other.rule.detail)
        for other in others
        if other.rule.kind is kind and other.start.window.opens > closes
    )
