"""Which tree and which crop of its block a staged row is about.

There may be thousands of trees, so the database finds them; only what it does not find is looked
at one by one, to say why.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator
from typing import NamedTuple
from uuid import UUID

from records.importing.cells import Fault
from records.importing.lookups import MAX_HINTS, nearest
from records.importing.staging import Finding, Place, Staged
from records.models import Block, Crop, Tree

# A label may be used again after a replanting: the tree of the day is meant, else the last one.
FIND_TREES = """
WITH found AS (
    SELECT s.entry, t.id, t.planted_on, t.removed_on,
           CASE WHEN t.removed_on <= s.picked_on THEN 1 WHEN t.planted_on > s.picked_on THEN 2
                ELSE 0 END AS absent
    FROM records_stagedweighing s JOIN records_tree t ON t.block_id = s.block_id AND {same}
    WHERE s.import_id = %(import)s AND {given}
),
ranked AS (
    SELECT entry, id,
           rank() OVER (PARTITION BY entry ORDER BY absent,
                        CASE absent WHEN 1 THEN removed_on END DESC,
                        CASE absent WHEN 2 THEN planted_on END) AS place
    FROM found
)
UPDATE records_stagedweighing s SET tree_ids = r.ids
FROM (SELECT entry, array_agg(id) AS ids FROM ranked WHERE place = 1 GROUP BY entry) r
WHERE s.import_id = %(import)s AND s.entry = r.entry
"""

ANY_TREES = """
SELECT EXISTS (SELECT FROM records_stagedweighing WHERE import_id = %(import)s
               AND (tree <> '' OR tree_row IS NOT NULL OR tree_position IS NOT NULL))
"""

ANY_CROPS = """
SELECT EXISTS (SELECT FROM records_stagedweighing WHERE import_id = %(import)s AND crop <> '')
"""

BY_LABEL = FIND_TREES.format(
    same="""lower(t.number) = lower(s.tree)
        AND (s.tree_row IS NULL OR s.tree_row = t.row)
        AND (s.tree_position IS NULL OR s.tree_position = t.position)""",
    given="s.tree <> ''",
)
BY_PLACE = FIND_TREES.format(
    same="t.row = s.tree_row AND t.position = s.tree_position",
    given="s.tree = ''",
)

WITHOUT_ONE_TREE = """
SELECT entry, sheet, row, "column", block_id, tree, tree_row, tree_position,
       cardinality(tree_ids) > 1
FROM records_stagedweighing
WHERE import_id = %(import)s AND block_id IS NOT NULL AND cardinality(tree_ids) <> 1
  AND (tree <> '' OR (tree_row IS NOT NULL AND tree_position IS NOT NULL))
ORDER BY entry
"""

ABSENT_TREES = """
SELECT s.entry, s.sheet, s.row, s."column", s.tree, t.row, t.position, s.picked_on,
       t.planted_on, t.removed_on
FROM records_stagedweighing s JOIN records_tree t ON t.id = s.tree_ids[1]
WHERE s.import_id = %(import)s AND cardinality(s.tree_ids) = 1
  AND (t.removed_on <= s.picked_on OR t.planted_on > s.picked_on)
ORDER BY s.entry
"""

HALF_PLACES = """
SELECT entry, sheet, row, "column", tree_row, tree_position FROM records_stagedweighing
WHERE import_id = %(import)s AND tree = '' AND (tree_row IS NULL) <> (tree_position IS NULL)
ORDER BY entry
"""

# Of the crops of that name, the one that was opened last before the picking.
FIND_CROPS = """
UPDATE records_stagedweighing s SET crop_id = f.id, crop_chosen_by = 'person'
FROM (
    SELECT DISTINCT ON (s.entry) s.entry, c.id
    FROM records_stagedweighing s
    JOIN records_crop c ON c.block_id = s.block_id AND lower(c.name) = lower(s.crop)
         AND c.opened_on <= s.picked_on
    WHERE s.import_id = %(import)s AND s.crop <> ''
    ORDER BY s.entry, c.opened_on DESC
) f
WHERE s.import_id = %(import)s AND s.entry = f.entry
"""

WITHOUT_CROP = """
SELECT entry, sheet, row, "column", block_id, crop, picked_on FROM records_stagedweighing
WHERE import_id = %(import)s AND block_id IS NOT NULL AND crop <> '' AND crop_id IS NULL
ORDER BY entry
"""


class Sought(NamedTuple):
    """An entry's tree that is not there, or there more than once."""

    place: Place
    block_id: UUID
    label: str
    tree_row: int | None
    position: int | None
    is_ambiguous: bool

    @property
    def written(self) -> str:
        return self.label or f"{self.tree_row}/{self.position}"


def find_trees(staged: Staged) -> None:
    """Set the tree of each row that names one; refuse what is no tree of the block."""
    if not staged.rows(ANY_TREES)[0][0]:
        return
    staged.run(BY_LABEL)
    staged.run(BY_PLACE)
    staged.refuse(_unfound_trees(staged))
    staged.warn(_absent_trees(staged))
    staged.warn(_half_places(staged))


def _unfound_trees(staged: Staged) -> Iterator[Finding]:
    unfound = [Sought(Place(*row[:4]), *row[4:]) for row in staged.rows(WITHOUT_ONE_TREE)]
    if not unfound:
        return
    blocks = Block.objects.filter(pk__in={sought.block_id for sought in unfound})
    labels = Labels(set(blocks.values_list("farm_id", flat=True)))
    for done, sought in enumerate(unfound):
        fault = labels.fault_of(sought, with_hint=done < MAX_HINTS)
        column = "tree" if sought.label else "position"
        yield Finding(sought.place, (column,), sought.written, fault)


class Labels:
    """How the trees of farms are labelled, block by block."""

    def __init__(self, farm_ids: Collection[UUID]) -> None:
        blocks = Block.objects.filter(farm__in=farm_ids)
        self.blocks = dict(blocks.values_list("pk", "code"))
        self.farms = dict(blocks.values_list("pk", "farm_id"))
        self.in_block: dict[UUID, dict[str, str]] = defaultdict(dict)
        trees = Tree.objects.filter(farm__in=farm_ids)
        labelled = trees.exclude(number="").order_by("row", "position")
        for block_id, number in labelled.values_list("block_id", "number"):
            self.in_block[block_id][number.casefold()] = number

    def fault_of(self, sought: Sought, *, with_hint: bool) -> Fault:
        here, folded = self.blocks[sought.block_id], sought.label.casefold()
        if sought.is_ambiguous:
            return Fault("ambiguous-tree", f"More than one tree of block {here} could be meant.")
        if folded in self.in_block[sought.block_id]:
            detail = f"The tree of block {here} called so stands at another row or position."
            return Fault("tree-at-another-place", detail)
        farm = self.farms[sought.block_id]
        elsewhere = (key for key, known in self.in_block.items() if folded in known)
        if others := [self.blocks[key] for key in elsewhere if self.farms[key] == farm]:
            detail = f"This tree stands in block {' and '.join(sorted(others))}, not in {here}."
            return Fault("tree-in-another-block", detail)
        known = self.in_block[sought.block_id]
        hint = nearest(sought.label, known) if sought.label and with_hint else ""
        return Fault("unknown-tree", f"There is no such tree in block {here}. {hint}".strip())


def _absent_trees(staged: Staged) -> Iterator[Finding]:
    absent = staged.rows(ABSENT_TREES)
    for *place, label, tree_row, position, picked_on, planted_on, removed_on in absent:
        fault = _absence(picked_on, planted_on, removed_on)
        column = "tree" if label else "position"
        yield Finding(Place(*place), (column,), label or f"{tree_row}/{position}", fault)


def _absence(picked_on: dt.date, planted_on: dt.date | None, removed_on: dt.date | None) -> Fault:
    if removed_on is not None and removed_on <= picked_on:
        detail = f"The tree was removed on {removed_on}, before this picking."
        return Fault("tree-was-removed", detail)
    detail = f"The tree was planted on {planted_on}, after this picking."
    return Fault("tree-not-yet-planted", detail)


def _half_places(staged: Staged) -> Iterator[Finding]:
    fault = Fault(
        "half-a-place", "A tree is found by row and position together; one alone is not kept."
    )
    for *place, tree_row, position in staged.rows(HALF_PLACES):
        column, value = ("row", tree_row) if position is None else ("position", position)
        yield Finding(Place(*place), (column,), str(value), fault)


def find_crops(staged: Staged) -> None:
    """Set the crop of each row that names one; refuse what is no crop of the block by then."""
    if not staged.rows(ANY_CROPS)[0][0]:
        return
    staged.run(FIND_CROPS)
    staged.refuse(_unfound_crops(staged))


def _unfound_crops(staged: Staged) -> Iterator[Finding]:
    unfound = staged.rows(WITHOUT_CROP)
    names: dict[UUID, dict[str, str]] = defaultdict(dict)
    for crop in Crop.objects.filter(block_id__in={block for *_, block, _, _ in unfound}):
        names[crop.block_id][crop.name.casefold()] = crop.name
    for *place, block_id, word, day in unfound:
        hint = nearest(word, names[block_id])
        detail = f"The block had no crop of this name by {day}. {hint}"
        yield Finding(Place(*place), ("crop",), word, Fault("unknown-crop", detail))
