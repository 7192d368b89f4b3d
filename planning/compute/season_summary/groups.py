"""Several groups as one: blocks as a farm, farms as a co-op."""

from collections.abc import Mapping, Sequence
from math import fsum

from planning.compute.season_summary.values import Group, SummaryError


def roll_up(parts: Sequence[Group], *, kind: str) -> Group:
    """One group of `kind` out of parts that share no ground: blocks of a farm, farms of a co-op.

    Bearing trees and area are known only where every part knows its own. The season is closed
    when it is closed for every part.
    """
    if not parts:
        raise SummaryError("there is nothing to roll up")
    if len({part.basis for part in parts}) > 1:
        raise SummaryError("kilos of different bases are never added together")
    if len({part.kind for part in parts}) > 1:
        raise SummaryError("groups of different kinds may share ground and cannot be rolled up")
    areas = [part.area_m2 for part in parts if part.area_m2 is not None]
    bearing = [part.bearing_trees for part in parts if part.bearing_trees is not None]
    return Group(
        kind=kind,
        basis=parts[0].basis,
        days=tuple(day for part in parts for day in part.days),
        trees=tuple(tree for part in parts for tree in part.trees),
        bearing_trees=sum(bearing) if len(bearing) == len(parts) else None,
        area_m2=fsum(areas) if len(areas) == len(parts) else None,
        is_closed=all(part.is_closed for part in parts),
        reasons=_gaps(parts, known={"bearing_trees": len(bearing), "area_m2": len(areas)}),
    )


def _gaps(parts: Sequence[Group], *, known: Mapping[str, int]) -> dict[str, str]:
    """How many of the parts lack a value that all of them must have."""
    nouns = {"bearing_trees": "the number of bearing trees", "area_m2": "the area"}
    return {
        name: f"{nouns[name]} is not known for {len(parts) - n} of {len(parts)} {parts[0].kind}s"
        for name, n in known.items()
        if n < len(parts)
    }
