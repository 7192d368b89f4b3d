"""What each tree of a block bore in a season, by its trunk."""

from collections import Counter
from dataclasses import dataclass

from orchard.access import Caller
from planning.compute.seasons_compared import TreeEfficiency, tree_efficiency
from planning.queries.compared_seasons import trunks_of
from planning.queries.grades import own_grades
from planning.queries.harvest import Picking, kept_weights, pickings
from planning.queries.memberships import OpenBooks
from planning.queries.years import Years
from records.calendars import Calendar
from records.models import Block, HarvestWeight, Tree
from records.seasons import Season


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeYield:
    """One tree in one season."""

    tree: Tree
    season: Season
    efficiency: TreeEfficiency


def tree_yields(block: Block, season: Season, seasons: Calendar, caller: Caller) -> list[TreeYield]:
    """Of the trees that stood on the first picking day, in the order of their rows.

    Kilos are those of weighings made of exactly one tree, as the caller may see them.
    """
    picked = _picked(block, season.year, seasons, caller)
    days = [day.day for picking in picked for day in picking.days]
    first_on = min(days, default=season.ends_on)
    measured = trunks_of([block.pk], caller)[block.pk].measured(first_on, season.ends_on)
    sections = {each.tree: each for each in measured}
    grams: Counter[str] = Counter()
    for picking in picked:
        for total in picking.trees:
            grams[total.tree] += total.net_g
    standing = Tree.objects.filter(block=block).standing_on(first_on)
    return [
        TreeYield(
            tree=tree,
            season=season,
            efficiency=tree_efficiency(
                grams[str(tree.pk)] / 1000 if str(tree.pk) in grams else None,
                sections.get(str(tree.pk)),
            ),
        )
        for tree in standing.order_by("row", "position", "pk")
    ]


def _picked(block: Block, year: int, seasons: Calendar, caller: Caller) -> list[Picking]:
    farms = [block.farm_id]
    seen = HarvestWeight.objects.all().visible_to(caller).filter(block=block)
    weights = kept_weights(farms).filter(block=block, pk__in=seen.values("pk"))
    books, years = OpenBooks(farms, None), Years(named=[year])
    return pickings(weights, seasons, own_grades(farms), books, years)
