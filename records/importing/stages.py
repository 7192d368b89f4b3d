"""The columns of a file of growth stages: one line a stage of the BBCH scale."""

import re
from dataclasses import dataclass
from datetime import date

from records.importing.cells import Fault
from records.importing.columns import Column, FileKind, Kind
from records.importing.entries import Entry
from records.importing.fieldcolumns import (
    BLOCK,
    FARM,
    NOTE,
    PEOPLE,
    POSITION,
    ROW,
    TREE,
    TREES_LOOKED_AT,
    TREES_SEEN,
    day_column,
)
from records.importing.rows import RowKind

STAGE = FileKind(
    required=(("observed_on",), ("block",), ("bbch",)),
    noun="stage",
    needed={"observed_on": "date", "block": "block", "bbch": "stage"},
    carried=("observed_on", "block"),
    amounts=("bbch",),
    columns=(
        day_column("observed_on", "observed on", "date observed", "data da observação"),
        BLOCK,
        TREE,
        ROW,
        POSITION,
        Column(
            name="bbch",
            kind=Kind.TEXT,
            max_chars=20,
            synonyms=(
                *("stage", "bbch stage", "growth stage", "bbch code", "code"),
                *("estadio", "estado fenológico", "fase", "estádio", "estádio fenológico"),
            ),
        ),
        TREES_SEEN,
        TREES_LOOKED_AT,
        PEOPLE,
        NOTE,
        FARM,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthStageRow:
    """A stage seen on one tree, or on so many of the trees looked at."""

    row_number: int
    observed_on: date
    farm: str
    block: str
    tree: str
    row: int | None
    position: int | None
    bbch: str
    trees_seen: int | None
    trees_looked_at: int | None
    people: tuple[str, ...]
    note: str
    sheet: str = ""


def growth_stage(entry: Entry) -> GrowthStageRow | None:
    """The stage that an entry is; a stage is two digits, and is seen on trees looked at."""
    if entry.faults:
        return None
    row = _row(entry)
    if not re.fullmatch(r"[0-9]{2}", row.bbch):
        detail = "A stage of the BBCH scale is two digits, 00 to 99; each has a row of its own."
        entry.blame(Fault("not-a-stage", detail), "bbch")
    if (row.trees_seen or 0) > (row.trees_looked_at or 0):
        detail = "The stage was seen on more trees than were looked at."
        entry.blame(Fault("seen-above-looked-at", detail), "trees_seen")
    _check_trees(entry, row)
    return None if entry.faults else row


def _check_trees(entry: Entry, row: GrowthStageRow) -> None:
    has_tree = bool(row.tree or (row.row and row.position))
    counted = (row.trees_seen, row.trees_looked_at)
    if has_tree and any(counted):
        detail = "A stage is of the tree named or of so many trees, not of both."
        entry.blame(Fault("tree-and-trees", detail), "trees_seen", "trees_looked_at")
    if not has_tree and not all(counted):
        detail = "Name the tree; or, for a block, on how many of how many trees it was seen."
        entry.blame(Fault("trees-missing", detail), "trees_seen", "trees_looked_at", "tree", "bbch")


def _row(entry: Entry) -> GrowthStageRow:
    values = entry.values
    return GrowthStageRow(
        row_number=entry.row_number,
        observed_on=values.day("observed_on"),
        farm=values.text("farm"),
        block=values.text("block"),
        tree=values.text("tree"),
        row=values.count("row"),
        position=values.count("position"),
        bbch=_code(values.text("bbch")),
        trees_seen=values.count("trees_seen"),
        trees_looked_at=values.count("trees_looked_at"),
        people=values.people("people"),
        note=values.text("note"),
        sheet=entry.sheet,
    )


def _code(written: str) -> str:
    """ "BBCH 65" is 65, and "5" is 05."""
    code = re.sub(r"^bbch[ -]?", "", written, flags=re.IGNORECASE)
    return code.zfill(2) if code else ""


GROWTH_STAGES = RowKind(file=STAGE, build=growth_stage)
