"""Like held against like: what a container holds, and what a fruit weighs.

Rows are comparable when they are of one kind of container, or fruit of one cultivar and grade, on
one farm; what a block yields is compared with nothing, since doubling is ordinary there. All
comparisons are of logarithms, so that twice and half are equally far, and robust: the middle is
the median and the spread the median absolute deviation, as of a normal distribution
(`scipy.stats.median_abs_deviation`), so that slips do not hide each other.

Two looks are taken. First whole batches (a file's rows of one season): the median of each against
the median of the others' medians, since a file in the wrong unit is wrong throughout. Then single
rows of batches that are in order, against the median of their own batch where it is large enough,
else against that of all of them.

The thresholds, and why:

* `LEAST_ROWS`: a median absolute deviation of fewer rows is too rough to call five of it far
* `FAR` 5 spreads: about one in two million of normal rows, so that a farm's season of 420 has none
* `NEAR` 3 spreads, at most `NEAREST` two fifths: as read otherwise the row is an ordinary one, and
  nearer to its like than half way to the slip (a factor of 1.48)
* `LEAST_SPREAD`: scales show steps, and rows that agree to the gram are no proof of a small spread
* `BATCH_NEAR` a fifth: seasons differ in fruit size, and the nearest slip is a factor of 2.2 away
* `FULL_CONTAINERS`: of so many the last one, part filled, lowers the mean by a third at the most
"""

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import numpy as np
from scipy.stats import median_abs_deviation

from planning.compute.findings.readings import Reading, Readings, net_g
from planning.compute.findings.values import Row, shown

LEAST_ROWS = 9
LEAST_IN_BATCH = 5
FAR, NEAR = 5.0, 3.0
LEAST_SPREAD = 0.03
NEAREST = math.log(1.4)
BATCH_NEAR = math.log(1.2)
BATCH_FAR = math.log(1.5)
BATCH_SHARE = 0.8
FULL_CONTAINERS = 3
FEWEST_FRUIT = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """What is compared: net by `per`, among rows with the same `of` (None: not comparable).

    Of fewer than `least` the mean is too rough, unless it is too high: a container holds no more
    than it holds. `usual_g` is what it should be, where somebody says so.
    """

    name: str
    of: Callable[[Row], Hashable]
    per: Callable[[Row], int | None]
    least: int
    is_bounded: bool
    usual_g: Callable[[Row], float | None]
    called: Callable[[Row], str]


PER_CONTAINER = Measure(
    name="weight per container",
    of=lambda row: row.container or None,
    per=lambda row: row.containers,
    least=FULL_CONTAINERS,
    is_bounded=True,
    usual_g=lambda row: row.usual_net_g,
    called=lambda row: f"container {row.container}",
)
PER_FRUIT = Measure(
    name="weight per fruit",
    of=lambda row: (row.cultivar, row.grade) if row.cultivar else None,
    per=lambda row: row.fruit_count,
    least=FEWEST_FRUIT,
    is_bounded=False,
    usual_g=lambda row: None,
    called=lambda row: f"fruit of {row.cultivar_name}",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The numbers of one look; `spread` is a share (0.1: a tenth either way)."""

    measure: str
    of: str
    found_g: float
    expected_g: float
    corrected_g: float
    spread: float
    others: Sequence[Row]

    @property
    def ratio(self) -> float:
        return self.found_g / self.expected_g

    @property
    def evidence(self) -> dict[str, Any]:
        return {
            "measure": self.measure,
            "of": self.of,
            "found_kg": round(self.found_g / 1000, 4),
            "expected_kg": round(self.expected_g / 1000, 4),
            "ratio": round(self.ratio, 4),
            "as_fixed_kg": round(self.corrected_g / 1000, 4),
            "as_fixed_ratio": round(self.corrected_g / self.expected_g, 4),
            "spread": round(self.spread, 4),
            "n": len(self.others),
            "rows": shown(self.others),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A row that is far off as it stands, and ordinary by a reading."""

    row: Row
    reading: Reading
    comparison: Comparison
    is_batch: bool = False
    is_either: bool = False  # the others may be the wrong ones as well


@dataclass(slots=True, kw_only=True)
class Verdicts:
    """What one measure says: rows under suspicion, and the ids of ordinary ones.

    `ordinary_elsewhere` are those that are so among the rows of other batches too.
    """

    suspects: list[Suspect] = field(default_factory=list)
    ordinary: set[UUID] = field(default_factory=set)
    ordinary_elsewhere: set[UUID] = field(default_factory=set)


def compare(rows: Sequence[Row], measure: Measure, readings: Readings) -> Verdicts:
    """Every row that the measure can be taken of, against those like it."""
    groups: dict[Hashable, list[Row]] = defaultdict(list)
    for row in rows:
        key = measure.of(row)
        if key is not None and row.net_g and measure.per(row):
            groups[key].append(row)
    verdicts = Verdicts()
    for group in groups.values():
        _judge(group, measure, readings, verdicts)
    return verdicts


def _judge(group: Sequence[Row], measure: Measure, readings: Readings, verdicts: Verdicts) -> None:
    batches = list(_batches(group, measure, readings))
    verdicts.suspects += batches
    wrong = {suspect.row.batch for suspect in batches}
    rest = [row for row in group if row.batch not in wrong]
    full = [row for row in rest if _per(measure, row) >= measure.least]
    if len(full) < LEAST_ROWS:
        return
    middles = _middles(full, measure)
    middle = float(np.median(_logs(full, measure)))
    spread = _spread([_log(row, measure) - middles.get(row.batch, middle) for row in full])
    for row in rest:
        expected = middles.get(row.batch, middle)
        off = _log(row, measure) - expected
        if _per(measure, row) < measure.least and not (measure.is_bounded and off > 0):
            continue
        if abs(off) <= NEAR * spread:
            verdicts.ordinary.add(row.id)
            if len(middles) > 1:
                verdicts.ordinary_elsewhere.add(row.id)
        elif abs(off) > FAR * spread:
            nearness = min(NEAR * spread, NEAREST)
            found = _best(row, measure, readings, expected, nearness)
            if found is not None:
                comparison = _comparison([row], [found], measure, expected, spread, full)
                verdicts.suspects.append(Suspect(row=row, reading=found, comparison=comparison))


def _middles(rows: Sequence[Row], measure: Measure) -> dict[Hashable, float]:
    """Of batches with enough rows, their own: seasons differ in the size of their fruit."""
    logs: dict[Hashable, list[float]] = defaultdict(list)
    for row in rows:
        logs[row.batch].append(_log(row, measure))
    return {
        batch: float(np.median(found)) for batch, found in logs.items() if len(found) >= LEAST_ROWS
    }


def _best(
    row: Row, measure: Measure, readings: Readings, expected: float, nearness: float
) -> Reading | None:
    """The reading by which the row is most ordinary, if by any."""
    offs = [
        (abs(off), reading)
        for reading in readings(row)
        if (off := _off(row, reading, measure, expected)) is not None
    ]
    off, best = min(offs, key=lambda found: found[0], default=(math.inf, None))
    return best if off <= nearness else None


# Whole batches -----------------------------------------------------------------------------------


def _batches(group: Sequence[Row], measure: Measure, readings: Readings) -> Iterator[Suspect]:
    """Rows of batches whose median is off, and right by one reading of all their rows."""
    batches: dict[Hashable, list[Row]] = defaultdict(list)
    for row in group:
        if _per(measure, row) >= measure.least:
            batches[row.batch].append(row)
    medians = {
        batch: float(np.median(_logs(rows, measure)))
        for batch, rows in batches.items()
        if len(rows) >= LEAST_IN_BATCH
    }
    for batch in _in_question(medians, batches, measure):
        others = {key: median for key, median in medians.items() if key != batch}
        yield from _batch(batches, batch, others, measure, readings)


def _in_question(
    medians: Mapping[Hashable, float],
    batches: Mapping[Hashable, Sequence[Row]],
    measure: Measure,
) -> list[Hashable]:
    """All batches; of two that accuse each other only that which is less usual, or came later."""
    if len(medians) != 2:
        return list(medians) if len(medians) > 2 else []
    usual_g = measure.usual_g(next(iter(batches.values()))[0])
    if usual_g:
        off = {batch: abs(median - math.log(usual_g)) for batch, median in medians.items()}
        return [max(off, key=lambda batch: off[batch])]
    return [max(medians, key=lambda batch: max(row.number for row in batches[batch]))]


def _batch(
    batches: Mapping[Hashable, Sequence[Row]],
    batch: Hashable,
    others: Mapping[Hashable, float],
    measure: Measure,
    readings: Readings,
) -> Iterator[Suspect]:
    rows = batches[batch]
    compared = [row for key in others for row in batches[key]]
    expected = float(np.median(list(others.values())))
    logs = _logs(rows, measure)
    if len(compared) < LEAST_ROWS or abs(float(np.median(logs)) - expected) < BATCH_FAR:
        return
    near = min(NEAR * _spread(logs), NEAREST) + BATCH_NEAR
    fits: dict[str, list[tuple[Row, Reading, float]]] = defaultdict(list)
    for row in rows:
        for reading in readings(row):
            off = _off(row, reading, measure, expected)
            if off is not None and abs(off) <= near:
                fits[reading.name].append((row, reading, off))
    best = max(fits.values(), key=len, default=[])
    if len(best) < BATCH_SHARE * len(rows):
        return
    if abs(float(np.median([off for *_, off in best]))) > BATCH_NEAR:
        return
    found, read = [row for row, *_ in best], [reading for _, reading, _ in best]
    comparison = _comparison(found, read, measure, expected, _spread(logs), compared)
    is_either = len(others) == 1 and not measure.usual_g(rows[0])
    for row, reading, _ in best:
        yield Suspect(
            row=row, reading=reading, comparison=comparison, is_batch=True, is_either=is_either
        )


# Numbers -----------------------------------------------------------------------------------------


def _per(measure: Measure, row: Row) -> int:
    return measure.per(row) or 0


def _log(row: Row, measure: Measure) -> float:
    return math.log((row.net_g or 1) / _per(measure, row))


def _logs(rows: Sequence[Row], measure: Measure) -> list[float]:
    return [_log(row, measure) for row in rows]


def _off(row: Row, reading: Reading, measure: Measure, expected: float) -> float | None:
    """How far from the expected a row is by a reading, as a logarithm."""
    grams = net_g(row, reading)
    return math.log(grams / _per(measure, row)) - expected if grams > 0 else None


def _spread(logs: Sequence[float]) -> float:
    return max(LEAST_SPREAD, float(median_abs_deviation(logs, scale="normal")))


def _comparison(
    rows: Sequence[Row],
    readings: Sequence[Reading],
    measure: Measure,
    expected: float,
    spread: float,
    others: Sequence[Row],
) -> Comparison:
    """The medians of the rows as they stand and as read, beside what was expected."""
    corrected = [
        net_g(row, reading) / _per(measure, row)
        for row, reading in zip(rows, readings, strict=True)
    ]
    ids = {row.id for row in rows}
    return Comparison(
        measure=measure.name,
        of=measure.called(rows[0]),
        found_g=float(np.exp(np.median(_logs(rows, measure)))),
        expected_g=math.exp(expected),
        corrected_g=float(np.median(corrected)),
        spread=spread,
        others=[row for row in others if row.id not in ids],
    )
