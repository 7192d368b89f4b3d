"""The columns of a file of fruit counts: one line a count on marked flowers or whole trees."""

from dataclasses import dataclass
from datetime import date

from records.importing.cells import Fault
from records.importing.columns import Column, FileKind, Kind
from records.importing.entries import Entry
from records.importing.fieldcolumns import (
    BLOCK,
    CULTIVAR,
    FARM,
    MINUTES,
    NOTE,
    PEOPLE,
    POSITION,
    ROW,
    TREE,
    TREES_LOOKED_AT,
    day_column,
)
from records.importing.harvest import MAX_FRUIT
from records.importing.rounds import MAX_FLOWERS, METHOD, POLLEN_BATCH
from records.importing.rows import RowKind

MARKED, WHOLE = "marked-flowers", "whole-trees"

COUNT = FileKind(
    required=(("counted_on",), ("block",), ("fruit",)),
    noun="count",
    needed={"counted_on": "date", "block": "block", "fruit": "number of fruit"},
    carried=("counted_on", "block"),
    amounts=("fruit",),
    added_up=("flowers_looked_at", "fruit", "minutes"),
    columns=(
        day_column("counted_on", "counted on", "date counted", "data da contagem"),
        BLOCK,
        TREE,
        ROW,
        POSITION,
        Column(
            name="kind",
            kind=Kind.CHOICE,
            choices={
                "initial": "set,initial set,cuajado,cuajado inicial,vingados,vingamento",
                "retained": "kept,retenidos,retidos,still there",
                "thinned": "removed,aclareados,raleados,desbastados",
            },
            synonyms=("kind of count", "count", "tipo", "tipo de conteo", "tipo de contagem"),
        ),
        Column(
            name="pollinated_on",
            kind=Kind.DATE,
            synonyms=(
                *("round", "date of round", "pollinated on", "date pollinated"),
                *("fecha de polinización", "data da polinização", "ronda"),
            ),
        ),
        CULTIVAR,
        METHOD,
        POLLEN_BATCH,
        Column(
            name="flowers_looked_at",
            kind=Kind.COUNT,
            largest=MAX_FLOWERS,
            synonyms=(
                *("flowers", "marked flowers", "flowers looked at", "flowers checked"),
                *("flores", "flores marcadas", "flores observadas"),
            ),
        ),
        TREES_LOOKED_AT,
        Column(
            name="fruit",
            kind=Kind.COUNT,
            largest=MAX_FRUIT,
            synonyms=(
                *("fruits", "fruit count", "number of fruit", "fruit set"),
                *("frutos", "frutas", "número de frutos", "frutos cuajados", "frutos vingados"),
            ),
        ),
        Column(
            name="thinned_because",
            kind=Kind.TEXT,
            max_chars=120,
            synonyms=("reason", "why thinned", "motivo", "motivo del aclareo", "motivo da monda"),
        ),
        PEOPLE,
        MINUTES,
        NOTE,
        FARM,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FruitCountRow:
    """A count as its sender entered it.

    Flowers looked at make it one of marked flowers; without them it is of whole trees. Their
    rounds are those of `pollinated_on`, `cultivar`, `method` and `pollen_batch`, as far as known.
    """

    row_number: int
    counted_on: date
    farm: str
    block: str
    tree: str
    row: int | None
    position: int | None
    kind: str
    counted: str
    pollinated_on: date | None
    cultivar: str
    method: str
    pollen_batch: str
    flowers_looked_at: int | None
    trees_looked_at: int | None
    fruit: int
    thinned_because: str
    people: tuple[str, ...]
    minutes: int | None
    note: str
    sheet: str = ""


def fruit_count(entry: Entry) -> FruitCountRow | None:
    """The count that an entry is; more fruit than marked flowers looked at is refused."""
    if entry.faults:
        return None
    row = _row(entry)
    if row.flowers_looked_at is not None and row.fruit > row.flowers_looked_at:
        detail = f"More fruit than the {row.flowers_looked_at:,} marked flowers looked at."
        entry.blame(Fault("fruit-above-flowers", detail), "fruit")
    if row.counted == WHOLE and not row.trees_looked_at:
        detail = "Say how many marked flowers were looked at, or how many whole trees."
        entry.blame(Fault("missing", detail), "flowers_looked_at", "trees_looked_at", "fruit")
    elif row.counted == WHOLE and row.pollinated_on:
        detail = "Whole trees include natural fruit, so they count for no round."
        entry.blame(Fault("rounds-of-whole-trees", detail), "pollinated_on")
    if row.pollinated_on and row.pollinated_on > row.counted_on:
        detail = "The flowers were counted before they were pollinated."
        entry.blame(Fault("counted-before-round", detail), "pollinated_on")
    if (row.kind == "thinned") != bool(row.thinned_because):
        detail = "Thinned fruit has a reason, and only thinned fruit."
        entry.blame(Fault("thinned-reason", detail), "thinned_because", "kind")
    return None if entry.faults else row


def _row(entry: Entry) -> FruitCountRow:
    values = entry.values
    flowers = values.count("flowers_looked_at")
    has_tree = bool(values.text("tree") or values.count("position"))
    return FruitCountRow(
        row_number=entry.row_number,
        counted_on=values.day("counted_on"),
        farm=values.text("farm"),
        block=values.text("block"),
        tree=values.text("tree"),
        row=values.count("row"),
        position=values.count("position"),
        kind=values.text("kind") or "initial",
        counted=MARKED if flowers else WHOLE,
        pollinated_on=values.date("pollinated_on"),
        cultivar=values.text("cultivar"),
        method=values.text("method"),
        pollen_batch=values.text("pollen_batch"),
        flowers_looked_at=flowers,
        trees_looked_at=values.count("trees_looked_at") or (1 if has_tree else None),
        fruit=values.whole("fruit") or 0,
        thinned_because=values.text("thinned_because"),
        people=values.people("people"),
        minutes=values.count("minutes"),
        note=values.text("note"),
        sheet=entry.sheet,
    )


FRUIT_COUNTS = RowKind(file=COUNT, build=fruit_count)
