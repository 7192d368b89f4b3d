"""Many trees at once: the rules of single ones, with a few statements for all of them."""

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.db.models import Q, QuerySet

from records.models import Block, Tree
from records.services.attribution import attribute_block
from records.services.saving.pollination import settle_rounds_of_trees

BATCH = 1_000

Place = tuple[int, int]


def trees_in_the_way(block: Block, planted_on: dt.date | None) -> QuerySet[Tree]:
    """The block's trees that stand on any day from a planting on; without a date, on any day."""
    if planted_on is None:
        return block.trees.all()
    return block.trees.filter(Q(removed_on__isnull=True) | Q(removed_on__gt=planted_on))


def taken_places(block: Block, planted_on: dt.date | None, rows: Iterable[int]) -> set[Place]:
    """Where no tree can be planted then, by row and position."""
    in_the_way = trees_in_the_way(block, planted_on).filter(row__in=rows)
    return set(in_the_way.values_list("row", "position"))


@transaction.atomic
def add_trees(trees: Sequence[Tree]) -> None:
    """Store trees whose values were checked; the database still refuses two at one place."""
    Tree.objects.bulk_create(trees, batch_size=BATCH)
    _follow(trees)


@transaction.atomic
def change_trees(trees: Sequence[Tree], fields: Iterable[str]) -> None:
    """Store what was changed in trees, and settle what rests on it."""
    Tree.objects.bulk_update(trees, list(fields), batch_size=BATCH)
    settle_rounds_of_trees(trees)
    _follow(trees)


def _follow(trees: Iterable[Tree]) -> None:
    for block_id in {tree.block_id for tree in trees}:
        attribute_block(block_id)
