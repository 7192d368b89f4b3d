"""Numbers, days and rows as a grower would say them."""

import datetime as dt
from collections.abc import Sequence

from planning.compute.findings.values import Row, RowKind, only

MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
NAMES = {RowKind.WEIGHING: ("weighing", "weighings"), RowKind.INTAKE: ("intake", "intakes")}


def kilos(grams: float) -> str:
    return f"{grams / 1000:,.1f} kg" if abs(grams) < 100_000 else f"{grams / 1000:,.0f} kg"


def day_of(day: dt.date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def days_of(rows: Sequence[Row]) -> str:
    """One day, or from when to when."""
    first, last = min(row.day for row in rows), max(row.day for row in rows)
    return f"of {day_of(first)}" if first == last else f"of {day_of(first)} to {day_of(last)}"


def counted(rows: Sequence[Row]) -> str:
    """A weighing; 12 weighings; 3 intakes."""
    one, many = NAMES[rows[0].kind]
    article = "an" if one[0] in "aeiou" else "a"
    return f"{article} {one}" if len(rows) == 1 else f"{len(rows)} {many}"


def where(rows: Sequence[Row]) -> str:
    """The block and file that the rows have in common, if any: " on block N1, in harvest.csv"."""
    block, file = only([row.block_code for row in rows]), only([row.source_name for row in rows])
    return (f" on block {block}" if block else "") + (f", in {file}" if file else "")


def sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
