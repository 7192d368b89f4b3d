"""Many seasons of a block, cultivar or farm: year on year, alternate bearing, yield by trunk."""

from planning.compute.seasons_compared.bearing import alternate_bearing
from planning.compute.seasons_compared.trunks import (
    block_efficiency,
    sections,
    tree_efficiency,
    yield_efficiency,
)
from planning.compute.seasons_compared.values import (
    Bearing,
    Change,
    Compared,
    ComparisonError,
    Efficiency,
    Girth,
    SeasonRow,
    Section,
    TreeEfficiency,
)
from planning.compute.seasons_compared.years import compare, is_complete

__all__ = [
    "Bearing",
    "Change",
    "Compared",
    "ComparisonError",
    "Efficiency",
    "Girth",
    "SeasonRow",
    "Section",
    "TreeEfficiency",
    "alternate_bearing",
    "block_efficiency",
    "compare",
    "is_complete",
    "sections",
    "tree_efficiency",
    "yield_efficiency",
]
