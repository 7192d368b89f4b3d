"""Several groups as one: blocks as a farm, farms as a co-op."""

from collections import Counter
from collections.abc import Mapping, Sequence
from math import fsum

from planning.compute.season_summary.values import Group, SummaryError, Sums

# What every part has to know for the whole to know it.
NOUNS = {
    "bearing_trees": "the number of bearing trees",
    "area_m2": "the area",
    "minutes": "the work",
}


def roll_up(parts: Sequence[Group], *, kind: str) -> Group:
    """One group of `kind` out of parts that share no ground: blocks of a farm, farms of a co-op.

    Bearing trees, area and minutes are known only where every part knows its own. The season is
    closed when it is closed for every part.
    """
    if not parts:
        raise SummaryError("there is nothing to roll up")
    if len({part.basis for part in parts}) > 1:
        raise SummaryError("kilos of different bases are never added together")
    if len({part.kind for part in parts}) > 1:
        raise SummaryError("groups of different kinds may share ground and cannot be rolled up")
    areas = [part.area_m2 for part in parts if part.area_m2 is not None]
    bearing = [part.bearing_trees for part in parts if part.bearing_trees is not None]
    worked = [part.minutes for part in parts if part.minutes is not None]
    known = {"bearing_trees": len(bearing), "area_m2": len(areas), "minutes": len(worked)}
    return Group(
        kind=kind,
        basis=parts[0].basis,
        days=tuple(day for part in parts for day in part.days),
        trees=tuple(tree for part in parts for tree in part.trees),
        bearing_trees=sum(bearing) if len(bearing) == len(parts) else None,
        area_m2=fsum(areas) if len(areas) == len(parts) else None,
        is_closed=all(part.is_closed for part in parts),
        minutes=_added(worked) if len(worked) == len(parts) else None,
        reasons={**_gaps(parts, known), **_untimed(parts)},
        added=sum((part.added for part in parts), Sums()),
    )


def _added(work: Sequence[Mapping[str, int]]) -> dict[str, int]:
    minutes: Counter[str] = Counter()
    for by_kind in work:
        minutes.update(by_kind)
    return dict(minutes)


def _gaps(parts: Sequence[Group], known: Mapping[str, int]) -> dict[str, str]:
    """How many of the parts lack a value that all must have, or why they all do."""
    return {
        name: _one_reason(parts, name)
        or f"{NOUNS[name]} is not known for {len(parts) - n} of {len(parts)} {parts[0].kind}s"
        for name, n in known.items()
        if n < len(parts)
    }


def _one_reason(parts: Sequence[Group], name: str) -> str | None:
    reasons = {part.reasons.get(name) for part in parts}
    return reasons.pop() if len(reasons) == 1 else None


def _untimed(parts: Sequence[Group]) -> dict[str, str]:
    """Why none of the parts may tell its kilos an hour; else how many of them do not."""
    name = "kg_per_picking_hour"
    told = [part for part in parts if name not in part.reasons]
    if not told and (reason := _one_reason(parts, name)):
        return {name: reason}
    if len(told) == len(parts) or all(part.kg_per_picking_hour is None for part in told):
        return {}
    return {name: f"known for {len(told)} of {len(parts)} {parts[0].kind}s, and theirs alone"}
