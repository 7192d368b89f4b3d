"""A statement as lines of text, as it would be printed for its member.

Columns are as wide as what stands in them: nothing is cut off.
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from planning.compute.settlement.money import money
from planning.compute.settlement.statements import Totals, totals_of
from planning.compute.settlement.values import DeductionKind, Heading, Line, LineKind

NOTICE = "A record and its arithmetic: no money has moved by it, and it is no tax or legal advice."
BASES = {"picked": "farm weighings", "received": "intakes", "packed": "sorted intakes"}
HEADINGS = (
    *("Line", "Day", "Docket", "Block", "Cultivar", "Grade", "Containers", "Kilos", "Price"),
    "Amount",
)
NUMBERS = {"Line", "Containers", "Kilos", "Price", "Amount"}  # stand to the right
NARROWEST = 90

Numbered = tuple[int, Line]


def printed(heading: Heading, lines: Sequence[Line]) -> list[str]:
    """The whole statement; its lines are numbered from 1 in the order given."""
    currency = heading.currency
    numbered = list(enumerate(lines, start=1))
    kilos = [each for each in numbered if each[1].kind is LineKind.KILOS]
    table = _table(kilos, currency)
    width = max(NARROWEST, len(table[0]))
    rule = "-" * width
    others = (each for each in numbered if each[1].kind is not LineKind.KILOS)
    totals = totals_of(lines)
    return [
        *_head(heading, lines, width),
        "",
        *(table[:1] if kilos else ["No kilos."]),
        rule,
        *table[1:],
        *([rule] if kilos else []),
        _sum("Gross", totals.gross_minor, currency, width),
        *(text for each in others for text in _other(each, currency, width)),
        rule,
        *_foot(totals, currency, width),
        "",
        NOTICE,
    ]


def _head(heading: Heading, lines: Iterable[Line], width: int) -> Iterator[str]:
    issued = f"issued {heading.issued_on}" if heading.issued_on else "draft, not issued"
    title = f"Statement {heading.member_code} {heading.number}"
    yield _between(heading.co_op, f"{title}, {issued}", width)
    span = f"{heading.pool}, {heading.from_on} to {heading.until_on}"
    yield _between(f"{heading.member_code} {heading.member_name}", span, width)
    bases = sorted({BASES[line.fruit.basis] for line in lines if line.fruit.basis})
    yield _between(f"Kilos by {' and '.join(bases)}" if bases else "", heading.currency, width)


# Docket lines ------------------------------------------------------------------------------------


def _table(kilos: Iterable[Numbered], currency: str) -> list[str]:
    rows = [HEADINGS, *(_cells(number, line, currency) for number, line in kilos)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    spare = NARROWEST - sum(widths) - len(widths) + 1
    widths[-1] += max(spare, 0)
    return [_row(cells, widths) for cells in rows]


def _cells(number: int, line: Line, currency: str) -> tuple[str, ...]:
    fruit = line.fruit
    return (
        str(number),
        str(fruit.day or ""),
        fruit.docket,
        fruit.block,
        fruit.cultivar,
        fruit.grade,
        "" if line.containers is None else str(line.containers),
        _kg(line.grams or 0),
        _rate(line.rate),
        _amount(line.amount_minor, currency),
    )


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    return " ".join(
        cell.rjust(width) if name in NUMBERS else cell.ljust(width)
        for name, cell, width in zip(HEADINGS, cells, widths, strict=True)
    )


# The other lines, in words -----------------------------------------------------------------------


def _other(numbered: Numbered, currency: str, width: int) -> Iterator[str]:
    number, line = numbered
    amount = _amount(line.amount_minor, currency)
    first, *more = textwrap.wrap(" ".join(_told(line)), width - len(amount) - 6) or [""]
    yield _between(f"{number:>4} {first}", amount, width)
    yield from (f"{'':4} {text}" for text in more)


def _told(line: Line) -> Iterator[str]:
    if line.kind is LineKind.DEDUCTION:
        yield line.text
        yield from _reckoned(line)
        return
    if line.adjusts_statement:
        of_line = f", line {line.adjusts_line}" if line.adjusts_line else ""
        yield f"Statement {line.adjusts_statement}{of_line}:"
    elif line.pool:
        yield f"{line.pool}:"
    yield line.text
    if line.fruit.docket:
        yield f"(docket {line.fruit.docket})"


def _reckoned(line: Line) -> Iterator[str]:
    """From what a deduction was reckoned; a fixed one is what it is."""
    if line.deduction is DeductionKind.PER_KILO:
        yield f"({_kg(line.grams or 0)} kg at {_rate(line.rate)})"
    elif line.deduction is DeductionKind.PER_CONTAINER:
        yield f"({line.containers or 0} containers at {_rate(line.rate)})"
    elif line.deduction is DeductionKind.PER_CENT:
        yield f"({_rate(line.rate)} % of gross)"


def _foot(totals: Totals, currency: str, width: int) -> Iterator[str]:
    yield _sum("Net", totals.net_minor, currency, width)
    yield _sum("To pay", totals.to_pay_minor, currency, width)
    if totals.carried_out_minor:
        words = "Carried forward to the next statement"
        yield _sum(words, totals.carried_out_minor, currency, width)


def _sum(words: str, minor: int, currency: str, width: int) -> str:
    return _between(words, _amount(minor, currency), width)


def _between(left: str, right: str, width: int) -> str:
    return f"{left}{right:>{max(width - len(left), len(right) + 2)}}"


def _amount(minor: int, currency: str) -> str:
    return f"{money(minor, currency):,f}"


def _kg(grams: int) -> str:
    return f"{Decimal(grams) / 1000:,.3f}"


def _rate(rate: Decimal | None) -> str:
    return "" if rate is None else f"{rate.normalize():f}"
