"""The plain values of a settlement. Grams are whole; amounts are whole minor units."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

# Keys of lines that are about no row of fruit.
DEDUCTION_KEY = "deduction:"  # with the deduction's own key behind it
VALUE = "value"  # what follows from a new worth of a kilo
CARRIED = "carried-forward"  # a balance that is brought forward


class SettlementError(ValueError):
    """What cannot be settled, as a sentence."""


class DeductionKind(StrEnum):
    """What a deduction is reckoned from, in the order in which statements list them."""

    PER_KILO = "per-kilo"
    PER_CONTAINER = "per-container"
    PER_CENT = "per-cent"  # of gross: what the kilos come to before any deduction
    FIXED = "fixed"


class LineKind(StrEnum):
    """What a line of a statement is, in the order in which they stand."""

    KILOS = "kilos"
    DEDUCTION = "deduction"
    ADJUSTMENT = "adjustment"  # of an earlier pool's statement
    CARRIED = "carried-forward"


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What a pool pays: a price per kilo in the currency's major unit, or an amount to share."""

    currency: str
    price_per_kg: Decimal | None = None
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fruit:
    """Which fruit a line is of, as words that stay as they were; all empty where it is of none.

    `day` is the day picked or received.
    """

    day: dt.date | None = None
    docket: str = ""
    block: str = ""
    cultivar: str = ""
    grade: str = ""
    basis: str = ""


NO_FRUIT = Fruit()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Payable grams of one weighing, intake or grade of a sorted intake.

    `key` tells it from every other row.
    """

    key: str
    grams: int
    containers: int | None = None
    fruit: Fruit = NO_FRUIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Deduction:
    """What is kept back of a member's payment, or of every member's where `member` is None.

    `rate` is in the currency's major unit per kilo or container, per cent, or a fixed amount.
    """

    key: str
    kind: DeductionKind
    rate: Decimal
    what_for: str
    member: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of a statement. Its amount is above nothing where it adds to the payment.

    `key` is that of the row or deduction it is about. An adjustment names the statement and
    the line that it adjusts, where there were any.
    """

    kind: LineKind
    key: str
    amount_minor: int
    grams: int | None = None
    containers: int | None = None
    rate: Decimal | None = None
    deduction: DeductionKind | None = None
    text: str = ""
    fruit: Fruit = NO_FRUIT
    pool: str = ""  # whose account it belongs to
    adjusts_statement: str | None = None
    adjusts_line: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What a member's statements hold so far of one row or deduction of a pool.

    `grams` and `amount_minor` are sums over the first line and all its adjustments; the rest is as
    on the first line. `line` and `statement` are its number and its statement's.
    """

    kind: LineKind
    key: str
    amount_minor: int
    grams: int | None
    rate: Decimal | None
    statement: str | None
    line: int | None
    text: str = ""
    fruit: Fruit = NO_FRUIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands at the head of a statement."""

    co_op: str
    member_code: str
    member_name: str
    number: int
    pool: str
    from_on: dt.date
    until_on: dt.date
    currency: str
    issued_on: dt.date | None
