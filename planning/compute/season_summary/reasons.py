"""Why a figure is not known, in plain sentences."""

from collections.abc import Iterable, Sequence

from planning.compute.season_summary.values import DayTotal, Group, TreeTotal

_TITLES = {
    "estimated_g": "estimated kilos",
    "marketable_share": "marketable share",
    "ungraded_share": "ungraded share",
    "fruit_count": "fruit count",
    "mean_fruit_g": "mean fruit weight",
    "bearing_trees": "bearing trees",
    "area_m2": "area",
    "kg_per_tree": "kg per tree",
    "t_per_ha": "t/ha",
    "first_on": "first picking date",
    "p10_on": "10 % picking date",
    "p50_on": "50 % picking date",
    "p90_on": "90 % picking date",
    "last_on": "last picking date",
    "spread": "spread between trees",
}


def reasons_of(group: Group) -> dict[str, str]:
    """A sentence for each figure that is None, and a caution where kilos are estimated."""
    area, trees = _why_no_area(group), _why_no_trees(group)
    unpicked = _unless(any(day.is_picking for day in group.days), "nothing has been picked")
    unweighed = _unless(group.net_g, "nothing has been weighed")
    counted = any(day.fruit_count for day in group.days)
    why = {
        "marketable_share": unweighed or _unless(group.graded_g, "nothing weighed is graded"),
        "ungraded_share": unweighed,
        "fruit_count": _unless(counted, "no fruit has been counted"),
        "mean_fruit_g": _unless(group.mean_fruit_g, "no weighing has both a weight and a count"),
        "bearing_trees": trees if group.bearing_trees is None else None,
        "area_m2": area,
        "kg_per_tree": trees or unweighed,
        "t_per_ha": area or unweighed,
        "first_on": unpicked,
        "p10_on": unweighed,
        "p50_on": unweighed,
        "p90_on": unweighed,
        "last_on": unpicked,
        "spread": _why_no_spread(group.trees),
        "estimated_g": _why_apart(group.days),
    }
    return {name: f"{_TITLES[name]}: {reason}" for name, reason in why.items() if reason}


def _unless(known: object, reason: str) -> str | None:
    return None if known else reason


def _why_no_area(group: Group) -> str | None:
    if group.area_m2 is not None:
        return None
    return group.reasons.get("area_m2", f"the area of this {group.kind} is not recorded")


def _why_no_trees(group: Group) -> str | None:
    if group.bearing_trees is None:
        default = f"the number of bearing trees of this {group.kind} is not recorded"
        return group.reasons.get("bearing_trees", default)
    return _unless(group.bearing_trees, f"no tree of this {group.kind} is bearing")


def _why_no_spread(totals: Sequence[TreeTotal]) -> str | None:
    if not totals:
        return "no weighing is of exactly one tree"
    if len({total.tree for total in totals}) == 1:
        return "one tree alone shows no spread"
    return _unless(
        any(total.net_g for total in totals), "the trees weighed by themselves bore nothing"
    )


def _why_apart(days: Iterable[DayTotal]) -> str | None:
    if not any(day.estimated_g for day in days):
        return None
    return "they met no scale, and stand apart from every yield, share, curve and percentile date"
