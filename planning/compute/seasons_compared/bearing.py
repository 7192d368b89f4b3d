"""How strongly a planting bears in one year and rests in the next.

Alternate-bearing intensity, I = 1/(n - 1) sum |a(i) - a(i-1)| / (a(i) + a(i-1)): the mean of the
pairs' ratios, and not the ratio of their sums (Hoblyn, Grubb, Painter & Wates 1936, Journal of
Pomology and Horticultural Science 14: 39-76; Monselise & Goldschmidt 1982, Horticultural Reviews
4: 128-173; both from memory). 0 is even bearing, 1 a crop every other year only. Two years without
a crop have no ratio and are passed over; a year that is missing breaks its pairs, and is not
bridged.
"""

from collections.abc import Mapping

from planning.compute.seasons_compared.values import Bearing, ComparisonError


def alternate_bearing(kilos: Mapping[int, float]) -> Bearing:
    """The intensity over all pairs of years that follow each other."""
    if any(value < 0 for value in kilos.values()):
        raise ComparisonError("a year cannot bear less than nothing")
    pairs = [(kilos[year], kilos[year - 1]) for year in sorted(kilos) if year - 1 in kilos]
    ratios = [abs(this - last) / (this + last) for this, last in pairs if this + last]
    mean = sum(ratios) / len(ratios) if ratios else None
    return Bearing(intensity=mean, pairs=len(ratios))
