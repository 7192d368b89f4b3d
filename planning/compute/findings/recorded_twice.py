"""The same fruit recorded twice: a delivery under two dockets, or a weighing by two files.

Lines of one day are the same if they agree in block, cultivar, grade, grams, containers and fruit.
Lines that belong together (one docket of one source) are a sheet; two sheets of a day hold the
same fruit if the lines of the smaller one are in the larger one.

The thresholds, and why:

* at least `LEAST_LINES` such lines, and `SHARE` of the smaller sheet's: two weighings of a block on
  one day may well agree by chance, two pairs on two sheets hardly
* a single line counts only where a chance agreement is unlikely on that farm: as often as lines
  of different days agree, fewer than `CHANCE` of all the pairs compared would
* at least `LEAST_PAIRS` pairs of lines of different days, to know how often that is
"""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from planning.compute.findings.values import (
    Change,
    Finding,
    FindingKind,
    Fix,
    Row,
    RowKind,
    Sure,
    only,
    shown,
)
from planning.compute.findings.words import counted, day_of, kilos, sentence

LEAST_LINES, SHARE = 2, 0.75
CHANCE, LEAST_PAIRS = 0.02, 500
THRESHOLD = (
    "Lines that agree in block, cultivar, grade, grams, containers and fruit on one day: at least"
    " 2 and three quarters of the smaller sheet, or one where chance agreements are rare"
    " (fewer than 0.02 expected)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Twins:
    """Two sheets of one day, and their lines that agree: those recorded first, and again."""

    first: Sequence[Row]
    again: Sequence[Row]


def recorded_twice(rows: Sequence[Row]) -> Iterator[Finding]:
    """Weighings among weighings, and intakes among intakes."""
    for kind in RowKind:
        weighed = [row for row in rows if row.kind is kind and row.net_g]
        days: dict[Hashable, list[Row]] = defaultdict(list)
        for row in weighed:
            days[row.day].append(row)
        pairs = [pair for of_day in days.values() for pair in _sheet_pairs(of_day)]
        expected = _by_chance(weighed, sum(len(one) * len(other) for one, other in pairs))
        taken: set[Any] = set()
        for one, other in pairs:
            twins = _twins(one, other, taken)
            if twins and _is_enough(twins, min(len(one), len(other)), expected):
                taken.update(row.id for row in twins.again)
                yield _finding(twins, expected)


def _sheet_pairs(rows: Sequence[Row]) -> Iterator[tuple[list[Row], list[Row]]]:
    sheets: dict[Hashable, list[Row]] = defaultdict(list)
    for row in rows:
        sheets[row.source, row.docket].append(row)
    if len(sheets) > 1:
        yield from combinations(sheets.values(), 2)


def _line(row: Row) -> Hashable:
    return (
        *(row.block, row.cultivar, row.grade),
        *(row.net_g, row.containers, row.container, row.fruit_count),
    )


def _by_chance(rows: Sequence[Row], compared: int) -> float:
    """How many of the pairs compared would agree as often as lines of different days do."""
    total, same_day = len(rows), Counter(row.day for row in rows)
    pairs = _choose(total) - sum(map(_choose, same_day.values()))
    if pairs < LEAST_PAIRS:
        return 1.0
    alike = Counter(_line(row) for row in rows)
    alike_on_a_day = Counter((_line(row), row.day) for row in rows)
    agree = sum(map(_choose, alike.values())) - sum(map(_choose, alike_on_a_day.values()))
    return (agree + 1) / pairs * compared


def _choose(number: int) -> int:
    return number * (number - 1) // 2


def _twins(one: Sequence[Row], other: Sequence[Row], taken: set[Any]) -> _Twins | None:
    """The lines that agree; as the second counts the sheet that was recorded later."""
    first, again = sorted((one, other), key=lambda sheet: min(row.number for row in sheet))
    left: dict[Hashable, list[Row]] = defaultdict(list)
    for row in first:
        if row.id not in taken:
            left[_line(row)].append(row)
    found = [
        (left[_line(row)].pop(0), row)
        for row in again
        if row.id not in taken and left.get(_line(row))
    ]
    return _Twins(first=[a for a, _ in found], again=[b for _, b in found]) if found else None


def _is_enough(twins: _Twins, lines: int, expected: float) -> bool:
    if len(twins.again) < SHARE * lines:
        return False
    return len(twins.again) >= LEAST_LINES or expected < CHANCE


def _finding(twins: _Twins, expected: float) -> Finding:
    first, again = twins.first, twins.again
    net_g = sum(row.net_g or 0 for row in again)
    evidence = {
        "threshold": THRESHOLD,
        "net_kg": round(net_g / 1000, 3),
        "n": len(first),
        "rows": shown(first),
        "dockets": [only([row.docket for row in side]) or "" for side in (first, again)],
        "files": [only([row.source_name for row in side]) or "" for side in (first, again)],
        "expected_by_chance": round(expected, 4),
    }
    text = (
        f"{counted(again)} of {day_of(again[0].day)} ({kilos(net_g)}, {_name(again)}) are the same"
        f" to the gram as under {_name(first)}."
    )
    text = text.replace(" are the", " is the") if len(again) == 1 else text
    return Finding(
        kind=FindingKind.RECORDED_TWICE,
        about=again,
        sentence=sentence(text),
        sure=Sure.HIGH if len(again) > LEAST_LINES else Sure.MEDIUM,
        evidence=evidence,
        fix=Fix(
            sentence=f"Retire the later one: {kilos(net_g)} less.",
            changes=[
                Change(kind=row.kind, id=row.id, version=row.version, retires=True) for row in again
            ],
            effect_g=-net_g,
        ),
    )


def _name(rows: Sequence[Row]) -> str:
    docket, file = only([row.docket for row in rows]), only([row.source_name for row in rows])
    named = f"docket {docket}" if docket else "no docket"
    return f"{named}, {file}" if file else f"{named}, entered by hand or app"
