"""A digit too many or too few, or a decimal mark that was lost."""

from collections.abc import Iterator, Sequence

from planning.compute.findings.at_intake import Load
from planning.compute.findings.readings import of_other_place
from planning.compute.findings.slips import slips
from planning.compute.findings.values import Finding, FindingKind, Row

THRESHOLD = (
    "More than 5 spreads from the median of its like (a whole file: more than half as much again),"
    " and within 3 spreads, at most two fifths, of it at a tenth, tenfold, a hundredth or a"
    " hundredfold. At least 9 like rows, or 5 deliveries."
)


def tenfold_slips(rows: Sequence[Row], loads: Sequence[Load]) -> Iterator[Finding]:
    return slips(rows, loads, of_other_place, FindingKind.TENFOLD_SLIP, THRESHOLD)
