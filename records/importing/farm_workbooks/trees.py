"""The sheet of trees: rows x positions, stored with a few statements for all of them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from records.importing.farm_workbooks.places import flag
from records.importing.farm_workbooks.reading import Entry
from records.importing.farm_workbooks.run import Run, set_differing
from records.models import Block, Farm, Tree
from records.services.saving.trees import Place, add_trees, change_trees
from records.spans import SpanError, parse_spans

MAX_TREES = 20_000  # a workbook
FIELDS = ("number", "cultivar", "rootstock", "planted_on", "non_bearing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the sheet: trees that differ by their place alone."""

    entry: Entry
    block: Block
    places: list[Place]
    values: dict[str, Any]

    @property
    def planted_on(self) -> dt.date | None:
        day: dt.date | None = self.values["planted_on"]
        return day


def load_trees(run: Run, entries: Iterable[Entry]) -> None:
    lines = [line for entry in entries if (line := _line(run, entry))]
    count = sum(len(line.places) for line in lines)
    if count > MAX_TREES:
        text = f"That is {count:,} trees; a workbook holds at most {MAX_TREES:,}. Split it."
        run.refuse(lines[-1].entry, "positions", "too-many-trees", text)
        return
    by_block: dict[Block, list[Line]] = defaultdict(list)
    for line in lines:
        by_block[line.block].append(line)
    for block, of_block in by_block.items():
        _load_block(run, block, of_block)


def _line(run: Run, entry: Entry) -> Line | None:
    farm = run.farm_of(entry)
    if farm is None or not run.has_all(entry, "block", "rows", "positions"):
        return None
    block = run.block_of(entry, farm)
    rows, positions = _spans(run, entry, "rows"), _spans(run, entry, "positions")
    cultivar = run.cultivar_of(entry, farm) if entry.text("cultivar") else None
    if block is None or not rows or not positions or (entry.text("cultivar") and not cultivar):
        return None
    values = {
        "number": entry.values.get("number"),
        "cultivar": cultivar,
        "rootstock": entry.values.get("rootstock"),
        "planted_on": entry.values.get("planted on"),
        "non_bearing": flag(entry, "non-bearing"),
    }
    if values["number"] and len(rows) * len(positions) > 1:
        text = "A number is of one tree: give it on a line of its own."
        run.refuse(entry, "number", "number-of-many", text)
        return None
    if not _holds(run, entry, farm, values):
        return None
    return Line(entry=entry, block=block, places=list(product(rows, positions)), values=values)


def _spans(run: Run, entry: Entry, column: str) -> list[int]:
    try:
        return parse_spans(entry.text(column))
    except SpanError as error:
        run.refuse(entry, column, "invalid", str(error))
        return []


def _holds(run: Run, entry: Entry, farm: Farm, values: dict[str, Any]) -> bool:
    """Check a line's values once, not for each of its trees."""
    tree = Tree(farm=farm)
    set_differing(tree, values)
    try:
        tree.clean_fields(exclude={"farm", "block", "cultivar", "row", "position"})
    except ValidationError as error:
        run.refuse_all(entry, error, {"planted_on": "planted on", "non_bearing": "non-bearing"})
        return False
    return True


def _load_block(run: Run, block: Block, lines: list[Line]) -> None:
    """Match a block's lines with the trees that stand there, then store what is new or differs."""
    stored: dict[Place, list[Tree]] = defaultdict(list)
    for tree in block.trees.select_related("cultivar"):
        stored[tree.row, tree.position].append(tree)
    added, changed = [], []
    for line in lines:
        taken = [place for place in line.places if not _is_first(run, line, place)]
        if taken:
            continue
        for place in line.places:
            tree = _tree_at(run, line, place, stored[place])
            if tree is None:
                break
            differing = set_differing(tree, line.values)
            if tree._state.adding:
                added.append(tree)
            elif differing:
                changed.append(tree)
            else:
                run.made["trees"]["unchanged"] += 1
    _store(run, lines[0].entry, added, changed)


def _is_first(run: Run, line: Line, place: Place) -> bool:
    """Whether no other line has a tree at this place; else both rows are named, once."""
    earlier = run.said.setdefault(("trees", line.block.pk, *place), line.entry)
    if earlier is line.entry:
        return True
    rows = ("both", earlier.row, line.entry.row)
    if rows not in run.said:
        run.said[rows] = line.entry
        text = (
            f"Rows {earlier.row} and {line.entry.row} both have a tree"
            f" at row {place[0]}, position {place[1]} of block {line.block.code}."
        )
        run.refuse(line.entry, "positions", "place-taken", text)
    return False


def _tree_at(run: Run, line: Line, place: Place, there: list[Tree]) -> Tree | None:
    """The tree that stands at a place, or a new one; None where another's days are in the way."""
    standing = next((tree for tree in there if tree.removed_on is None), None)
    gone = [tree.removed_on for tree in there if tree.removed_on is not None]
    planted_on = line.planted_on
    if standing is not None and planted_on is None:
        planted_on = standing.planted_on
    if gone and (planted_on is None or planted_on < max(gone)):
        text = (
            f"At row {place[0]}, position {place[1]} another tree stood until {max(gone)}:"
            " give the day of planting from then on."
        )
        run.refuse(line.entry, "planted on", "place-taken", text)
        return None
    return standing or Tree(
        farm_id=line.block.farm_id, block=line.block, row=place[0], position=place[1]
    )


def _store(run: Run, entry: Entry, added: list[Tree], changed: list[Tree]) -> None:
    try:
        with transaction.atomic():
            add_trees(added)
            if changed:
                change_trees(changed, FIELDS)
    except IntegrityError as error:
        run.refuse_all(entry, error, {})
        return
    run.made["trees"].update(created=len(added), changed=len(changed))
