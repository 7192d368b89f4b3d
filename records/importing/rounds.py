"""The columns of a file of pollination rounds: one line a visit with one pollen and one method."""

import re
from dataclasses import dataclass
from datetime import date, time

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
    ROW,
    TREE,
    day_column,
)
from records.importing.rows import RowKind

MAX_FLOWERS = 1_000_000
BY_HAND = ("brush", "puffer")
_RANGE = re.compile(r"([1-9][0-9]{0,4})(?: ?(?:-|\N{EN DASH}|to|a) ?([1-9][0-9]{0,4}))?")
_SEVERAL = re.compile(r"[;,+&]| (?:and|y|e) ", re.IGNORECASE)

METHOD = Column(
    name="method",
    kind=Kind.CHOICE,
    choices={
        "brush": "by brush,paintbrush,pincel,pincéis",
        "puffer": "by puffer,bulb,pera,perilla,pulverizador,bomba",
        "natural": "marked and left alone,open,sin polinizar,natural marcada",
        "bagged": "bagged and left alone,embolsada,ensacada",
    },
    synonyms=(
        *("pollination method", "how", "método"),
        *("método de polinización", "método de polinização"),
    ),
)
POLLEN_BATCH = Column(
    name="pollen_batch",
    kind=Kind.TEXT,
    max_chars=60,
    synonyms=(
        *("pollen", "batch", "pollen batch", "jar"),
        *("polen", "lote de polen", "pólen", "lote de pólen"),
    ),
)

ROUND = FileKind(
    required=(("pollinated_on",), ("block",), ("cultivar",), ("method",), ("flowers",)),
    noun="round",
    needed={
        "pollinated_on": "date",
        "block": "block",
        "cultivar": "cultivar",
        "method": "method",
        "flowers": "number of flowers",
    },
    carried=("pollinated_on", "block"),
    amounts=("flowers",),
    added_up=("flowers", "minutes"),
    columns=(
        day_column("pollinated_on", "pollinated on", "date pollinated", "data da polinização"),
        Column(
            name="started_at",
            kind=Kind.TIME,
            synonyms=("time", "started", "start", "hora", "hora de inicio", "hora de início"),
        ),
        BLOCK,
        CULTIVAR,
        TREE,
        ROW,
        Column(
            name="positions",
            kind=Kind.TEXT,
            max_chars=20,
            synonyms=("position", "trees from to", "posición", "posiciones", "posição", "posições"),
        ),
        METHOD,
        POLLEN_BATCH,
        Column(
            name="is_bagged",
            kind=Kind.CHOICE,
            choices={"yes": "y,x,bagged,sí,sim,s", "no": "n,not bagged,não"},
            synonyms=("bagged", "bag", "bolsa", "embolsado", "saco", "ensacado"),
        ),
        Column(
            name="flowers",
            kind=Kind.COUNT,
            smallest=1,
            largest=MAX_FLOWERS,
            synonyms=("number of flowers", "flores", "número de flores", "flowers pollinated"),
        ),
        PEOPLE,
        MINUTES,
        NOTE,
        FARM,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PollinationRoundRow:
    """A round as its sender entered it; its trees are those of a row from first to last position.

    `pollen_batch` is the batch's name, "" for flowers that are left alone.
    """

    row_number: int
    pollinated_on: date
    started_at: time | None
    farm: str
    block: str
    cultivar: str
    tree: str
    row: int | None
    first_position: int | None
    last_position: int | None
    method: str
    pollen_batch: str
    is_bagged: bool
    flowers: int
    people: tuple[str, ...]
    minutes: int | None
    note: str
    sheet: str = ""


def pollination_round(entry: Entry) -> PollinationRoundRow | None:
    """The round that an entry is: one pollen batch if by hand, none if left alone."""
    if entry.faults:
        return None
    _check_pollen(entry)
    positions = _positions(entry)
    return None if entry.faults else _round(entry, positions)


def _check_pollen(entry: Entry) -> None:
    batch, method = entry.values.text("pollen_batch"), entry.values.text("method")
    if _SEVERAL.search(batch):
        detail = "A round has one pollen batch. Flowers that got another are a round of their own."
        entry.blame(Fault("several-batches", detail), "pollen_batch")
    if method in BY_HAND and not batch:
        entry.blame(Fault("missing", "Say which pollen the flowers got."), "pollen_batch", "method")
    if method not in BY_HAND and batch:
        detail = "Flowers that are left alone get no pollen from a batch."
        entry.blame(Fault("pollen-not-by-hand", detail), "pollen_batch")
    if (method, entry.values.text("is_bagged")) in (("natural", "yes"), ("bagged", "no")):
        detail = "Flowers left to nature have no bag, and those bagged and left alone have one."
        entry.blame(Fault("bagging-of-another-method", detail), "is_bagged")


def _positions(entry: Entry) -> tuple[int | None, int | None]:
    """ "1-24" is from the first to the last tree, "7" is one tree."""
    text = entry.values.text("positions")
    if not text:
        return None, None
    found = _RANGE.fullmatch(text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
    if last < first:
        detail = "A position is needed here, or the first and the last: 1-24."
        entry.blame(Fault("not-a-range", detail), "positions")
    elif not entry.values.count("row"):
        entry.blame(Fault("missing", "Say in which row of trees these are."), "row", "positions")
    return first, last


def _round(entry: Entry, positions: tuple[int | None, int | None]) -> PollinationRoundRow:
    values = entry.values
    return PollinationRoundRow(
        row_number=entry.row_number,
        pollinated_on=values.day("pollinated_on"),
        started_at=values.time("started_at"),
        farm=values.text("farm"),
        block=values.text("block"),
        cultivar=values.text("cultivar"),
        tree=values.text("tree"),
        row=values.count("row"),
        first_position=positions[0],
        last_position=positions[1],
        method=values.text("method"),
        pollen_batch=values.text("pollen_batch"),
        is_bagged=values.text("is_bagged") == "yes" or values.text("method") == "bagged",
        flowers=values.whole("flowers") or 0,
        people=values.people("people"),
        minutes=values.count("minutes"),
        note=values.text("note"),
        sheet=entry.sheet,
    )


POLLINATION_ROUNDS = RowKind(file=ROUND, build=pollination_round)
