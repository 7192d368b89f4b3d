"""Kilos of fruit that met no scale."""

from math import isfinite

from planning.compute.season_summary.values import SummaryError


def estimated_g(
    *,
    containers: float | None,
    usual_net_g: int | None,
    fruit_count: int | None,
    mean_fruit_g: float | None,
) -> int | None:
    """Whole grams of fruit that met no scale (half to even), or None when nothing tells.

    Containers x their usual net weight; else fruit x the farm's own mean fruit weight.
    """
    values = (containers, usual_net_g, fruit_count, mean_fruit_g)
    if any(value is not None and not (isfinite(value) and value >= 0) for value in values):
        raise SummaryError("containers, fruit and their weights are numbers from nought up")
    if containers and usual_net_g:
        return round(containers * usual_net_g)
    if fruit_count and mean_fruit_g:
        return round(fruit_count * mean_fruit_g)
    return None
