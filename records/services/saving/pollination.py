"""Rules of pollen batches and pollination rounds."""

import datetime as dt
import zoneinfo
from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet, Sum

from records.choices import PollinationMethod
from records.models import Graft, PollenBatch, PollinationRound, Tree
from records.services.saving.dates import check_not_in_future
from records.services.saving.faults import fault
from records.services.saving.links import Given, check_in_block, linked

Clone = tuple[str, UUID]


def prepare_pollen_batch(batch: PollenBatch, given: Given) -> None:
    zone = zoneinfo.ZoneInfo(batch.farm.time_zone)
    batch.collected_on = batch.collected_at.astimezone(zone).date()
    check_not_in_future(batch, told_at="collected_at")
    trees = linked(batch, given, "donor_trees")
    if not trees and not linked(batch, given, "donor_cultivars"):
        raise fault("donor_trees", "Name the trees or cultivars it came from.", "no-donors")
    if not batch._state.adding:
        for round_ in batch.rounds.select_related("farm"):
            round_.pollen_batch = batch
            _check_pollen_was_there(round_, field="collected_at")


def settle_rounds_of(batch: PollenBatch) -> None:
    """Own pollen or not, anew, after the donors of a batch changed."""
    _settle(batch.rounds.all())


def settle_rounds_of_tree(tree: Tree) -> None:
    """Own pollen or not, anew, after a tree became another clone."""
    settle_rounds_of_trees([tree])


def settle_rounds_of_trees(trees: Sequence[Tree]) -> None:
    """The same after many trees changed."""
    touched = Q(trees__in=trees) | Q(pollen_batch__donor_trees__in=trees)
    _settle(PollinationRound.objects.filter(touched).distinct())


def _settle(rounds: QuerySet[PollinationRound]) -> None:
    for round_ in rounds.select_related("pollen_batch").prefetch_related("trees"):
        is_self = own_pollen(round_, list(round_.trees.all()))
        stored = PollinationRound.objects.filter(pk=round_.pk)
        stored.exclude(is_self=is_self).update(is_self=is_self)


def prepare_round(round_: PollinationRound, given: Given) -> None:
    trees = linked(round_, given, "trees")
    given["tree_links"] = _tree_links(round_, trees, given)
    given.pop("trees", None)
    check_not_in_future(round_)
    check_in_block(round_, trees)
    _check_pollen_was_there(round_)
    _check_mothers(round_, trees)
    _check_counts(round_)
    round_.is_self = own_pollen(round_, trees)


def _tree_links(round_: PollinationRound, trees: list[Tree], given: Given) -> list[dict[str, Any]]:
    """A row a tree; the flowers counted by tree add up to all of the round's."""
    counted = _flowers_by_tree(round_, given)
    strangers = set(counted) - {tree.pk for tree in trees}
    if strangers:
        raise fault("flowers_by_tree", "Flowers of a tree that is not of the round.", "other-tree")
    total = sum(counted.values())
    if counted and total != round_.flowers:
        text = f"The flowers by tree add up to {total}, not to {round_.flowers}."
        raise fault("flowers_by_tree", text, "sum-differs")
    return [{"tree": tree, "flowers": counted.get(tree.pk)} for tree in trees]


def _flowers_by_tree(round_: PollinationRound, given: Given) -> dict[UUID, int]:
    if "flowers_by_tree" in given:
        return dict(given.pop("flowers_by_tree"))
    if round_._state.adding:
        return {}
    return {
        link.tree_id: link.flowers for link in round_.tree_links.all() if link.flowers is not None
    }


def _check_pollen_was_there(round_: PollinationRound, field: str = "pollen_batch") -> None:
    """Pollen is collected before it is used; without an hour, by the end of the day."""
    batch = round_.pollen_batch
    if batch is None:
        return
    zone = zoneinfo.ZoneInfo(round_.farm.time_zone)
    end_of_day = dt.datetime.combine(round_.pollinated_on, dt.time.max, tzinfo=zone)
    if batch.collected_at > (round_.starts or end_of_day):
        raise fault(field, "The pollen was collected after the round.", "pollen-of-the-future")


def _check_mothers(round_: PollinationRound, trees: list[Tree]) -> None:
    """One mother cultivar: every tree carries it that day, as far as its cultivar is known."""
    carried = cultivars_on(trees, round_.pollinated_on)
    for tree in trees:
        if carried[tree.pk] and round_.cultivar_id not in carried[tree.pk]:
            text = f"Tree {tree} is not of this cultivar; another cultivar is another round."
            raise fault("trees", text, "other-cultivar")


def _check_counts(round_: PollinationRound) -> None:
    """No fewer flowers than a count has looked at."""
    if round_._state.adding:
        return
    for count in round_.fruit_counts.filter(flowers_looked_at__isnull=False):
        others = count.rounds.exclude(pk=round_.pk).aggregate(total=Sum("flowers"))["total"] or 0
        if (count.flowers_looked_at or 0) > others + round_.flowers:
            text = f"The count of {count.counted_on} looked at {count.flowers_looked_at} flowers."
            raise fault("flowers", text, "below-counted")


def cultivars_on(trees: Iterable[Tree], day: dt.date) -> dict[UUID, set[UUID]]:
    """The cultivars that each tree carried on a day: grafts, and the planted one beside them."""
    found: dict[UUID, set[UUID]] = {}
    grafts = Graft.objects.filter(
        Q(removed_on__isnull=True) | Q(removed_on__gt=day), tree__in=trees, grafted_on__lte=day
    )
    grafted: dict[UUID, list[Graft]] = {}
    for graft in grafts:
        grafted.setdefault(graft.tree_id, []).append(graft)
    for tree in trees:
        here = grafted.get(tree.pk, [])
        found[tree.pk] = {graft.cultivar_id for graft in here}
        if tree.cultivar_id and sum(graft.share_percent for graft in here) < 100:
            found[tree.pk].add(tree.cultivar_id)
    return found


def own_pollen(round_: PollinationRound, trees: list[Tree]) -> bool | None:
    """Whether the pollen was the mother's own: the same clone; for seedlings, the same tree.

    Bagged and left alone, a flower has no other pollen. None where it cannot be said: left to
    nature, a mixture of own and other pollen, mothers of several clones.
    """
    batch = round_.pollen_batch
    if batch is None:
        return True if round_.method == PollinationMethod.BAGGED else None
    mothers = clones_of(trees, round_.pollinated_on) or {("cultivar", round_.cultivar_id)}
    donors = clones_of(list(batch.donor_trees.all()), batch.collected_on)
    donors |= {("cultivar", cultivar.pk) for cultivar in batch.donor_cultivars.all()}
    if not mothers & donors:
        return False
    return True if mothers == donors and len(mothers) == 1 else None


def clones_of(trees: list[Tree], day: dt.date) -> set[Clone]:
    """A seedling, or a tree of no known cultivar, is a clone of its own."""
    carried = cultivars_on(trees, day)
    clones: set[Clone] = set()
    for tree in trees:
        own = tree.mother_id is not None or not carried[tree.pk]
        clones |= {("tree", tree.pk)} if own else {("cultivar", c) for c in carried[tree.pk]}
    return clones


def trees_at(block_id: UUID, day: dt.date, places: Iterable[dict[str, int]]) -> list[Tree]:
    """The trees standing at ranges of positions in rows of a block."""
    found: dict[UUID, Tree] = {}
    for place in places:
        first, last = place["from_position"], place["to_position"]
        here = Tree.objects.filter(
            block_id=block_id, row=place["row"], position__range=(first, last)
        ).standing_on(day)
        if not here:
            text = f"No tree stood in row {place['row']}, positions {first} to {last}."
            raise fault("places", text, "no-tree-there")
        found |= {tree.pk: tree for tree in here}
    return list(found.values())
