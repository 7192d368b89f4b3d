"""Whether a rule's condition on the records of a crop holds."""

from datetime import timedelta

from planning.compute.next_tasks import reasons
from planning.compute.next_tasks.ledger import Ledger
from planning.compute.next_tasks.rules import Condition, NoneYet, UncountedRound
from planning.compute.next_tasks.terms import WorkKind
from planning.compute.next_tasks.values import Cycle


def holds(condition: Condition, cycle: Cycle, ledger: Ledger) -> str | None:
    """The sentence that says so; None where the condition does not hold."""
    match condition:
        case NoneYet():
            return _none_yet(condition, cycle, ledger)
        case UncountedRound():
            return _uncounted_round(condition, cycle, ledger)


def _none_yet(condition: NoneYet, cycle: Cycle, ledger: Ledger) -> str | None:
    for work in ledger.work_of(condition.kind, cycle):
        if condition.detail is None or work.detail == condition.detail:
            return None
    return reasons.none_yet(condition.kind, condition.detail)


def _uncounted_round(condition: UncountedRound, cycle: Cycle, ledger: Ledger) -> str | None:
    """The oldest round without such a count is named, if it is old enough."""
    last = ledger.today - timedelta(days=condition.days)
    for work in ledger.work_of(WorkKind.POLLINATION, cycle):
        is_counted = condition.detail in work.counted if condition.detail else work.counted
        if work.done_on <= last and not is_counted:
            return reasons.uncounted(work.done_on)
    return None
