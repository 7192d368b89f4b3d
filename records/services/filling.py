"""A block filled with trees from rows and positions."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from uuid import UUID, uuid5

from django.db import transaction

from records.models import Block, Cultivar, Tree
from records.services.saving import fault
from records.services.saving.links import check_same_farm
from records.services.saving.trees import Place, add_trees, taken_places

MAX_TREES_AT_ONCE = 5_000
NAMED = 10  # places that a refusal names


class FillingClashError(Exception):
    """The id of a filling is in use for another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planting:
    """The trees that a filling plants, each at a row and position."""

    rows: Sequence[int]
    positions: Sequence[int]
    cultivar: Cultivar | None = None
    rootstock: str = ""
    planted_on: dt.date | None = None

    @property
    def places(self) -> list[Place]:
        return list(product(self.rows, self.positions))


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What became of a filling. `is_repeated`: the same one was done before."""

    created: int
    kept: tuple[Place, ...] = ()
    is_repeated: bool = False


@transaction.atomic
def fill(
    block: Block,
    planting: Planting,
    *,
    keep_existing: bool = False,
    key: UUID | None = None,
    fingerprint: bytes | None = None,
) -> Filled:
    """Plant a tree at every place of rows x positions.

    Places where trees stand are left as they are if `keep_existing`, else refused. A filling with
    a `key` and `fingerprint` is done once, however often a phone sends it. ValidationError names
    what is wrong; FillingClashError says that the key was used for another filling.
    """
    _check(block, planting)
    Block.objects.select_for_update().get(pk=block.pk)  # one filling of a block at a time
    trees = {place: _tree(block, planting, place, key) for place in planting.places}
    if key is not None and (earlier := _earlier(trees, fingerprint)) is not None:
        return earlier
    taken = taken_places(block, planting.planted_on, planting.rows) & trees.keys()
    if taken and not keep_existing:
        raise fault("positions", _standing(sorted(taken)), "place-taken")
    planted = [tree for place, tree in trees.items() if place not in taken]
    for tree in planted:
        tree.fingerprint = fingerprint
    add_trees(planted)
    return Filled(created=len(planted), kept=tuple(sorted(taken)))


def _check(block: Block, planting: Planting) -> None:
    count = len(planting.rows) * len(planting.positions)
    if count > MAX_TREES_AT_ONCE:
        text = f"That is {count:,} trees; at most {MAX_TREES_AT_ONCE:,} are planted at once."
        raise fault("positions", text, "too-many-trees")
    if planting.cultivar:
        check_same_farm(block, {"cultivar": [planting.cultivar]})
    if block.retired_on:
        raise fault("block", "The block is retired.", "retired")


def _tree(block: Block, planting: Planting, place: Place, key: UUID | None) -> Tree:
    """Ids follow from the filling's, so that its repetition finds the trees."""
    tree = Tree(
        farm_id=block.farm_id,
        block=block,
        row=place[0],
        position=place[1],
        cultivar=planting.cultivar,
        rootstock=planting.rootstock,
        planted_on=planting.planted_on,
    )
    if key is not None:
        tree.pk = uuid5(key, f"{place[0]}/{place[1]}")
    return tree


def _earlier(trees: dict[Place, Tree], fingerprint: bytes | None) -> Filled | None:
    """What an earlier filling of this key planted, if there was one."""
    ids = [tree.pk for tree in trees.values()]
    stored = Tree.objects.filter(pk__in=ids).values_list("row", "position", "fingerprint")
    if not stored:
        return None
    if any(bytes(each or b"") != fingerprint for _, _, each in stored):
        raise FillingClashError
    kept = sorted(trees.keys() - {(row, position) for row, position, _ in stored})
    return Filled(created=len(stored), kept=tuple(kept), is_repeated=True)


def _standing(taken: Sequence[Place]) -> str:
    named = ", ".join(f"{row}/{position}" for row, position in taken[:NAMED])
    more = f" and {len(taken) - NAMED} more" if len(taken) > NAMED else ""
    return f"Trees stand at these places already (row/position): {named}{more}."
