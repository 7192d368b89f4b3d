"""Why a figure is not known, in plain sentences."""

from collections.abc import Iterable

from planning.compute.bases import Basis
from planning.compute.season_summary.values import DayTotal, Group, Sums

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
    "first_on": "first {day}",
    "p10_on": "10 % {day}",
    "p50_on": "50 % {day}",
    "p90_on": "90 % {day}",
    "last_on": "last {day}",
    "spread": "spread between trees",
    "minutes": "minutes",
    "kg_per_picking_hour": "kg per hour of picking",
}
_DAYS = {
    Basis.PICKED: "picking date",
    Basis.RECEIVED: "intake date",
    Basis.PACKED: "intake date",
}
_NO_FRUIT = {
    Basis.PICKED: "nothing has been picked",
    Basis.RECEIVED: "nothing has been received",
    Basis.PACKED: "nothing has been sorted",
}
_NO_WEIGHT = {**_NO_FRUIT, Basis.PICKED: "nothing has been weighed"}
_NO_GRADE = {
    Basis.PICKED: "nothing weighed is graded",
    Basis.RECEIVED: "fruit is graded after it is received",
    Basis.PACKED: "nothing sorted is graded",
}
NOT_OF_INTAKES = "farm weighings alone tell, and this row is of intakes"


def reasons_of(group: Group) -> dict[str, str]:
    """A sentence for each figure that is None, and a caution where kilos are estimated."""
    area, trees = _why_no_area(group), _why_no_trees(group)
    no_fruit = _unless(any(day.has_fruit for day in group.days), _NO_FRUIT[group.basis])
    no_weight = _unless(group.net_g, _NO_WEIGHT[group.basis])
    why = {
        "marketable_share": no_weight or _unless(group.graded_g, _NO_GRADE[group.basis]),
        "ungraded_share": no_weight,
        "bearing_trees": trees if group.bearing_trees is None else None,
        "area_m2": area,
        "kg_per_tree": trees or no_weight,
        "t_per_ha": area or no_weight,
        "first_on": no_fruit,
        "p10_on": no_weight,
        "p50_on": no_weight,
        "p90_on": no_weight,
        "last_on": no_fruit,
        "estimated_g": _why_apart(group.days),
        "minutes": _why_no_minutes(group),
        **_of_weighings(group),
    }
    return {
        name: f"{_TITLES[name].format(day=_DAYS[group.basis])}: {reason}"
        for name, reason in why.items()
        if reason
    }


def _of_weighings(group: Group) -> dict[str, str | None]:
    """Figures that intakes cannot tell."""
    if group.basis is not Basis.PICKED:
        names = ("fruit_count", "mean_fruit_g", "spread", "kg_per_picking_hour")
        return dict.fromkeys(names, NOT_OF_INTAKES)
    counted = any(day.fruit_count for day in group.days)
    return {
        "fruit_count": _unless(counted, "no fruit has been counted"),
        "mean_fruit_g": _unless(group.mean_fruit_g, "no weighing has both a weight and a count"),
        "spread": _why_no_spread(group.sums),
        "kg_per_picking_hour": _why_untimed(group),
    }


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


def _why_no_spread(sums: Sums) -> str | None:
    if not sums.trees:
        return "no weighing is of exactly one tree"
    if sums.trees == 1:
        return "one tree alone shows no spread"
    return _unless(sums.trees_g, "the trees weighed by themselves bore nothing")


def _why_apart(days: Iterable[DayTotal]) -> str | None:
    if not any(day.estimated_g for day in days):
        return None
    return "they met no scale, and stand apart from every yield, share, curve and percentile date"


def _why_no_minutes(group: Group) -> str | None:
    if group.minutes is None:
        return group.reasons.get("minutes", f"the work of this {group.kind} is not known")
    return _unless(group.minutes, "no minutes of work are recorded")


def _why_untimed(group: Group) -> str | None:
    """Also a caution, where the kilos an hour are of a part of the group."""
    timed = group.kg_per_picking_hour is not None
    none = _unless(timed, "no weighing has both a weight and minutes")
    return group.reasons.get("kg_per_picking_hour", none)
