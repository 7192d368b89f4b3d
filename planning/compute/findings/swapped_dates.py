"""The day and the month of a date swapped: 4 September entered as 9 April.

A block is picked in runs. A date that could be read both ways (its day is 12 or less, and not its
month) is suspicious if nothing was picked on the block near it, while the swapped date lies among
its pickings. Only dates that cannot be swapped count as pickings, since a file in the wrong order
of day and month has many of the others wrong. A block with too few of them is held against the
other rows of the row's own file.

The thresholds, and why:

* `LEAST_CERTAIN` pickings on dates that cannot be read otherwise: fewer show no run
* `ALONE_DAYS` 21 from the nearest of them: blocks are picked at least every week or two in their
  season (common practice, no source), so that three weeks are a gap, even at the ends of a run
* `AMONG_DAYS` 14, with at least `LEAST_NEAR` certain pickings so near the swapped date: from the
  first to the twelfth of a month nearly none is certain
"""

import datetime as dt
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

from planning.compute.findings.values import (
    Change,
    Finding,
    FindingKind,
    Fix,
    Row,
    RowKind,
    Sure,
    shown,
)
from planning.compute.findings.words import counted, day_of, sentence, where

LEAST_CERTAIN = 5
ALONE_DAYS, AMONG_DAYS, LEAST_NEAR = 21, 14, 2
THRESHOLD = (
    "No certain picking within 21 days of the date as entered, at least 2 within 14 days of the"
    " swapped one. Certain are dates that cannot be swapped; at least 5 of them."
)


def swapped_dates(rows: Sequence[Row], today: dt.date) -> Iterator[Finding]:
    """Weighings of one source and date together, as they are put right together."""
    weighings = [row for row in rows if row.kind is RowKind.WEIGHING]
    of_blocks = _pickings(weighings, lambda row: row.block)
    of_files = _pickings(weighings, lambda row: row.source)
    found: dict[Hashable, list[tuple[Row, Sequence[Row]]]] = defaultdict(list)
    for row in weighings:
        other = swapped(row.day)
        if other is None or other > today:
            continue
        known = of_blocks.get(row.block, [])
        if len(known) < LEAST_CERTAIN and row.source:
            known = of_files.get(row.source, [])
        if len(known) >= LEAST_CERTAIN and _is_alone(row.day, known):
            near = _near(other, known, AMONG_DAYS)
            if len(near) >= LEAST_NEAR:
                found[row.source, row.day].append((row, near))
    for group in found.values():
        yield _finding([row for row, _ in group], group[0][1])


def swapped(day: dt.date) -> dt.date | None:
    """The date with day and month swapped, if that is another date."""
    if day.day > 12 or day.day == day.month:
        return None
    return dt.date(day.year, day.day, day.month)


def _pickings(rows: Sequence[Row], of: Any) -> Mapping[Hashable, Sequence[Row]]:
    """Rows on dates that cannot be swapped, in order, by block or file."""
    found: dict[Hashable, list[Row]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (row.day, row.number)):
        if swapped(row.day) is None and of(row) is not None:
            found[of(row)].append(row)
    return found


def _near(day: dt.date, pickings: Sequence[Row], days: int) -> Sequence[Row]:
    span = dt.timedelta(days=days)
    first = bisect_left(pickings, day - span, key=lambda row: row.day)
    return pickings[first : bisect_right(pickings, day + span, key=lambda row: row.day)]


def _is_alone(day: dt.date, pickings: Sequence[Row]) -> bool:
    return not _near(day, pickings, ALONE_DAYS)


def _finding(rows: Sequence[Row], near: Sequence[Row]) -> Finding:
    day = rows[0].day
    other = swapped(day) or day
    evidence = {
        "threshold": THRESHOLD,
        "entered_on": day.isoformat(),
        "swapped_on": other.isoformat(),
        "days_alone": ALONE_DAYS,
        "n": len(near),
        "rows": shown(near),
    }
    text = (
        f"{counted(rows)} of {day_of(day)}{where(rows)}: nothing else was picked there near that"
        f" day. With day and month swapped it is {day_of(other)}, among other pickings."
    )
    return Finding(
        kind=FindingKind.SWAPPED_DATE,
        about=rows,
        sentence=sentence(text),
        sure=Sure.HIGH if len(near) >= LEAST_CERTAIN else Sure.MEDIUM,
        evidence=evidence,
        fix=Fix(
            sentence=f"Date as {day_of(other)}.",
            changes=[
                Change(
                    kind=row.kind,
                    id=row.id,
                    version=row.version,
                    fields={"picked_on": other.isoformat()},
                    was={"picked_on": day.isoformat()},
                )
                for row in rows
            ],
        ),
    )
