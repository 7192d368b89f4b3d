"""The same fruit on the farm's scale and on the shed's.

What a farm weighed of a delivery, over what the shed received of it, is 1 but for the water that
fruit loses on the way. A load counts if all its weighings were weighed.

The thresholds, and why:

* `LEAST_LOADS` with both sides known, of which `LEAST_AGREEING` agree or are off by the same slip:
  otherwise the farm's dockets simply do not match its intakes
* `LOSS` 8 %: fruit that agrees. No published loss of weight of annonas between picking and
  intake was found: common practice, no source
* `GAIN` 4 %: a weighing may be left out, or a scale be off
* `WEIGHTY` a quarter of a load that agrees: read otherwise, so large a row would no longer let it
"""

import math
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from planning.compute.findings.likeness import Comparison, Suspect, Verdicts
from planning.compute.findings.readings import Reading, Readings, net_g
from planning.compute.findings.values import Row

LEAST_LOADS, LEAST_AGREEING = 5, 4
LOSS, GAIN = math.log(1.08), math.log(1.04)
WEIGHTY = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """The weighings and the intakes of one delivery."""

    picked: Sequence[Row]
    received: Sequence[Row]

    @property
    def is_known(self) -> bool:
        return bool(self.picked and self.received) and all(
            row.net_g for row in (*self.picked, *self.received)
        )

    @property
    def picked_g(self) -> int:
        return sum(row.net_g or 0 for row in self.picked)

    @property
    def received_g(self) -> int:
        return sum(row.net_g or 0 for row in self.received)


def compare_loads(
    loads: Sequence[Load], readings: Readings, ordinary: Collection[UUID] = ()
) -> Verdicts:
    """Loads whose two sides disagree, and agree by one reading of all rows of a side.

    A side most of whose rows are `ordinary` among their like is not the one that is wrong.
    """
    known = [load for load in loads if load.is_known]
    agreeing = [load for load in known if _agree(load.picked_g, load.received_g)]
    off = [load for load in known if not _agree(load.picked_g, load.received_g)]
    found = [(load, _acquitting(list(_sides(load, readings)), ordinary)) for load in off]
    names = Counter(name for _, sides in found for name in {each[0][1].name for each in sides})
    verdicts = Verdicts()
    if len(known) < LEAST_LOADS:
        return verdicts
    for load in agreeing:
        rows = (*load.picked, *load.received)
        verdicts.ordinary_elsewhere.update(row.id for row in rows)
        least_g = WEIGHTY * load.received_g
        verdicts.ordinary.update(row.id for row in rows if (row.net_g or 0) >= least_g)
    for load, sides in found:
        alike = max((names[each[0][1].name] for each in sides), default=0)
        if sides and max(alike, len(agreeing)) >= LEAST_AGREEING:
            verdicts.suspects += _suspects(load, sides, agreeing)
    return verdicts


Side = list[tuple[Row, Reading]]


def _sides(load: Load, readings: Readings) -> Iterator[Side]:
    """Each side and reading by which the two agree."""
    for rows, is_picked in ((load.picked, True), (load.received, False)):
        for name in {reading.name for row in rows for reading in readings(row)}:
            side = [
                (row, reading) for row in rows for reading in readings(row) if reading.name == name
            ]
            read_g = sum(net_g(row, reading) for row, reading in side)
            picked_g, received_g = (
                (read_g, load.received_g) if is_picked else (load.picked_g, read_g)
            )
            if len(side) == len(rows) and _agree(picked_g, received_g):
                yield side


def _acquitting(sides: Sequence[Side], ordinary: Collection[UUID]) -> list[Side]:
    return [side for side in sides if sum(row.id in ordinary for row, _ in side) <= len(side) / 2]


def _agree(picked_g: int, received_g: int) -> bool:
    return picked_g > 0 < received_g and -GAIN <= math.log(picked_g / received_g) <= LOSS


def _suspects(load: Load, sides: Sequence[Side], agreeing: Sequence[Load]) -> Iterator[Suspect]:
    """The side that another unit alone puts right; if both or neither, it may be either."""
    by_unit = [side for side in sides if all(row.unit != reading.unit for row, reading in side)]
    chosen = (by_unit or list(sides))[0]
    is_either = len(by_unit) != 1 and len(sides) > 1
    for row, reading in chosen:
        comparison = _comparison(load, chosen, agreeing)
        yield Suspect(row=row, reading=reading, comparison=comparison, is_either=is_either)


def _comparison(load: Load, side: Side, agreeing: Sequence[Load]) -> Comparison:
    ids: set[UUID] = {row.id for row, _ in side}
    is_picked = load.picked[0].id in ids
    found_g, other_g = (
        (load.picked_g, load.received_g) if is_picked else (load.received_g, load.picked_g)
    )
    other = load.received if is_picked else load.picked
    name = "the shed's scale" if is_picked else "the farm's scale"
    return Comparison(
        measure="weight of the same delivery",
        of=name,
        found_g=found_g,
        expected_g=other_g,
        corrected_g=sum(net_g(row, reading) for row, reading in side),
        spread=LOSS,
        others=[*other, *(row for each in agreeing for row in (*each.picked, *each.received))],
    )
