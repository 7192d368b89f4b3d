"""The rows of a harvest file: each one a weighing, or what is wrong with it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Generic, TypeVar

from records.importing.cells import Fault
from records.importing.columns import FileKind
from records.importing.entries import Entry
from records.importing.harvest import HARVEST
from records.importing.scales import ScaleReading, WeightIs

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class RowKind(Generic[Row]):
    """A kind of file: its columns, and what a row of it becomes.

    `build` may find more wrong with an entry; its result counts only if there is nothing.
    """

    file: FileKind
    build: Callable[[Entry], Row | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighingRow:
    """One weighing as its sender entered it.

    `row_number` is the sender's own. Texts are tidy, "" where nothing was given; a number that was
    not given is None, and a count of 0 counts as not given. `weight` is in `unit`, `tare` in
    `tare_unit`, both as entered to four decimals; `weight_g` and `tare_total_g` are whole grams.
    `weight_is` says whether the containers are in `weight`; a tare beside a net weight is for
    information. `row` and `position` are the tree's place in the block. `column` is the heading of
    a wide sheet under which the weighing stands, `sheet` the name of a workbook's.
    """

    row_number: int
    picked_on: date
    block: str
    tree: str
    row: int | None
    position: int | None
    cultivar: str
    grade: str
    crop: str
    weight: Decimal | None
    unit: str
    weight_is: WeightIs | None
    weight_g: int | None
    tare: Decimal | None
    tare_unit: str
    tare_total_g: int | None
    containers: int | None
    container: str
    fruit_count: int | None
    docket: str
    ticket: str
    line: str
    pickers: tuple[str, ...]
    minutes: int | None
    note: str
    farm: str
    column: str = ""
    sheet: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowProblem:
    """Why a row is not taken: where, what is written there, and what would be right."""

    row: int
    column: str
    code: str
    value: str
    detail: str
    sheet: str = ""


def weighing(entry: Entry) -> WeighingRow | None:
    """The weighing that an entry is; at least one of weight, containers and fruit is needed."""
    scale = entry.weights()
    counted = any(entry.values.count(name) for name in ("containers", "fruit_count"))
    if not entry.faults and not scale.weight and not counted:
        detail = "Give a weight, a number of containers or a number of fruit."
        amounts = [name for name in entry.headings if name in HARVEST.amounts]
        entry.blame(Fault("nothing-weighed", detail), *amounts)
    return None if entry.faults else _weighing(entry, scale)


def _weighing(entry: Entry, scale: ScaleReading) -> WeighingRow:
    values = entry.values
    return WeighingRow(
        row_number=entry.row_number,
        picked_on=values.day("picked_on"),
        block=values.text("block"),
        tree=values.text("tree"),
        row=values.count("row"),
        position=values.count("position"),
        cultivar=values.text("cultivar"),
        grade=values.text("grade"),
        crop=values.text("crop"),
        weight=scale.weight.entered if scale.weight else None,
        unit=scale.weight.unit if scale.weight else "",
        weight_is=scale.weight_is,
        weight_g=scale.weight.grams if scale.weight else None,
        tare=scale.tare.entered if scale.tare else None,
        tare_unit=scale.tare.unit if scale.tare else "",
        tare_total_g=scale.tare_total_g,
        containers=values.count("containers"),
        container=values.text("container"),
        fruit_count=values.count("fruit_count"),
        docket=values.text("docket"),
        ticket=values.text("ticket"),
        line=values.text("line"),
        pickers=values.people("pickers"),
        minutes=values.count("minutes"),
        note=values.text("note"),
        farm=values.text("farm"),
        column=entry.column,
        sheet=entry.sheet,
    )


WEIGHINGS = RowKind(file=HARVEST, build=weighing)
