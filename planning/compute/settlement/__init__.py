"""What a co-op's members are owed for their fruit: records and arithmetic only.

No money moves by any of this, and none of it is tax or legal advice.

A pool pays for the payable kilos of some fruit and days, at a price per kilo or by sharing an
amount. A member's part of it is its `account`: a line for each weighing or intake, and a line for
each deduction. What has been put on statements of a pool so far is its ledger. A statement holds
the account of its own pool and, for each earlier pool, the difference between the account as it
would be now and the ledger; so that what statements say in total always comes to what a fresh
computation says. A statement below nothing is carried forward to the member's next one.
"""

from planning.compute.settlement.accounts import account_of, gross_by_member, price_of
from planning.compute.settlement.adjustments import adjustments
from planning.compute.settlement.apportionment import apportion
from planning.compute.settlement.money import (
    CURRENCIES,
    decimals_of,
    in_minor_units,
    is_whole_minor,
    money,
)
from planning.compute.settlement.printed import printed
from planning.compute.settlement.statements import Totals, statement_lines, totals_of
from planning.compute.settlement.values import (
    CARRIED,
    DEDUCTION_KEY,
    VALUE,
    Deduction,
    DeductionKind,
    Fruit,
    Heading,
    Line,
    LineKind,
    Row,
    Settled,
    SettlementError,
    Terms,
)

__all__ = [
    "CARRIED",
    "CURRENCIES",
    "DEDUCTION_KEY",
    "VALUE",
    "Deduction",
    "DeductionKind",
    "Fruit",
    "Heading",
    "Line",
    "LineKind",
    "Row",
    "Settled",
    "SettlementError",
    "Terms",
    "Totals",
    "account_of",
    "adjustments",
    "apportion",
    "decimals_of",
    "gross_by_member",
    "in_minor_units",
    "is_whole_minor",
    "money",
    "price_of",
    "printed",
    "statement_lines",
    "totals_of",
]
