"""Pounds entered as kilos, kilos as pounds, and figures converted once too often."""

from collections.abc import Iterator, Sequence

from planning.compute.findings.at_intake import Load
from planning.compute.findings.readings import of_other_unit
from planning.compute.findings.slips import slips
from planning.compute.findings.values import Finding, FindingKind, Row

THRESHOLD = (
    "More than 5 spreads from the median of its like (a whole file: more than half as much again),"
    " and within 3 spreads, at most two fifths, of it by the other unit. At least 9 like rows,"
    " or 5 deliveries."
)


def unit_slips(rows: Sequence[Row], loads: Sequence[Load]) -> Iterator[Finding]:
    return slips(rows, loads, of_other_unit, FindingKind.UNIT_SLIP, THRESHOLD)
