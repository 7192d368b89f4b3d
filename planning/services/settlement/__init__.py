"""Paying members: pools, drafts of their statements, and issuing them.

Records and arithmetic only: no money moves.

A row of fruit is a weighing, an intake, or a grade of a sorted intake. At most one pool of a co-op
takes it: a pool is not issued while an issued one takes one of its rows. A row that has left an
issued pool (graded anew, say) may be paid by another: the same issue takes back what the first one
paid or, where the currencies differ, the next issue in the first one's.
"""

from planning.services.settlement.drafts import Draft, DraftStatement, draft
from planning.services.settlement.issuing import issue
from planning.services.settlement.locking import lock_settlement
from planning.services.settlement.printing import named, printed_draft, printed_statement
from planning.services.settlement.problems import Problem
from planning.services.settlement.saving import KEPT, save_deduction, save_pool

__all__ = [
    "KEPT",
    "Draft",
    "DraftStatement",
    "Problem",
    "draft",
    "issue",
    "lock_settlement",
    "named",
    "printed_draft",
    "printed_statement",
    "save_deduction",
    "save_pool",
]
