"""The columns of an intake file: one line of what a packing shed weighed, and what sorting found.

The kilos of each grade stand under a heading of their own, or a line has one grade.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, time
from decimal import Decimal

from records.importing.cells import Fault
from records.importing.columns import Column, FileKind, Kind
from records.importing.entries import Entry
from records.importing.harvest import HARVEST
from records.importing.rows import RowKind
from records.importing.scales import ScaleReading, Weight, WeightIs

# A shed's second scale never agrees to the gram. Common practice, no source.
SORTING_TOLERANCE = Decimal("0.005")

_SAME = ("block", "cultivar", "grade", "weight", "unit", "gross", "tare", "net", "total")
_SAME_BEHIND = ("containers", "container", "docket", "line", "note", "farm")

INTAKE = FileKind(
    required=(("received_on",), ("weight", "gross", "net")),
    exclusive=(("weight", "gross"),),
    noun="intake",
    needed={"received_on": "date received"},
    carried=("received_on",),
    amounts=("weight", "gross", "net"),
    added_up=("weight", "gross", "net", "tare", "containers", "sorted", "rejects"),
    spread=("grade",),
    spread_amounts=("sorted",),
    is_gathered=True,
    columns=(
        replace(
            HARVEST.by_name["picked_on"],
            name="received_on",
            synonyms=(
                *("date", "date received", "received on", "received", "intake date"),
                *("fecha", "fecha de recepción", "recibido", "fecha de entrada"),
                *("data", "data de receção", "data de recepção", "recebido", "data de entrada"),
            ),
        ),
        Column(
            name="received_at",
            kind=Kind.TIME,
            synonyms=("time", "time received", "hora", "hora de recepción", "hora de receção"),
        ),
        *(HARVEST.by_name[name] for name in _SAME),
        Column(
            name="sorted",
            kind=Kind.WEIGHT,
            synonyms=(
                *("sorted", "sorted weight", "graded", "graded weight", "weight of grade"),
                *("clasificado", "peso clasificado", "classificado", "peso classificado"),
            ),
        ),
        Column(
            name="rejects",
            kind=Kind.WEIGHT,
            synonyms=(
                *("rejects", "rejected", "reject weight", "waste"),
                *("rechazo", "rechazado", "rechazos", "descarte", "destrío"),
                *("rejeitado", "rejeição", "refugo", "rejeitados"),
            ),
        ),
        Column(
            name="reject_reason",
            kind=Kind.TEXT,
            max_chars=120,
            synonyms=(
                *("reject reason", "reason", "reason of rejects", "why rejected"),
                *("motivo", "motivo del rechazo", "motivo da rejeição", "motivo do refugo"),
            ),
        ),
        *(HARVEST.by_name[name] for name in _SAME_BEHIND),
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SortedRow:
    """Weight of a grade, or, without one, rejects for a reason; `weight` is in `unit`."""

    grade: str
    reject_reason: str
    weight: Decimal
    unit: str
    weight_g: int
    column: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeRow:
    """One line of an intake as its sender entered it; weights as in a weighing's row."""

    row_number: int
    received_on: date
    received_at: time | None
    farm: str
    docket: str
    line: str
    cultivar: str
    block: str
    weight: Decimal
    unit: str
    weight_is: WeightIs
    weight_g: int
    tare: Decimal | None
    tare_unit: str
    tare_total_g: int | None
    containers: int | None
    container: str
    sorted_weights: tuple[SortedRow, ...]
    note: str
    sheet: str = ""


def intake(entry: Entry) -> IntakeRow | None:
    """The intake that an entry is; what sorting found may not exceed what came in."""
    scale = entry.weights()
    parts = tuple(_parts(entry))
    if not entry.faults and scale.weight is None:
        detail = "Give what the shed weighed, gross or net."
        entry.blame(Fault("nothing-weighed", detail), *INTAKE.amounts)
    if scale.weight:
        _check_sum(entry, scale, parts)
    return None if entry.faults else _intake(entry, scale, parts)


def _parts(entry: Entry) -> Iterator[SortedRow]:
    """By grade from a wide row or from the row's own grade, then the rejects."""
    values = entry.values
    for value, amount, heading in entry.gathered:
        if weight := entry.weight(heading, amount):
            yield _part(weight, grade=str(value))
    if weight := _own(entry, "sorted"):
        if not values.text("grade"):
            entry.blame(Fault("missing", "Say of which grade this weight is."), "grade", "sorted")
        yield _part(weight, grade=values.text("grade"))
    if weight := _own(entry, "rejects"):
        yield _part(weight, reason=values.text("reject_reason") or "not stated")


def _own(entry: Entry, name: str) -> Weight | None:
    heading = entry.headings.get(name)
    return entry.weight(heading, entry.values.get(name)) if heading else None


def _part(weight: Weight, *, grade: str = "", reason: str = "") -> SortedRow:
    return SortedRow(
        grade=grade,
        reject_reason=reason,
        weight=weight.entered,
        unit=weight.unit,
        weight_g=weight.grams,
        column=weight.heading.text,
    )


def _check_sum(entry: Entry, scale: ScaleReading, parts: tuple[SortedRow, ...]) -> None:
    """Where containers' tares are known only to the records, the gross is the bound here."""
    if scale.weight is None:
        return
    bound_g = scale.weight.grams
    if scale.weight_is == "gross":
        bound_g -= scale.tare_total_g or 0
    sorted_g = sum(part.weight_g for part in parts)
    if sorted_g > bound_g * (1 + SORTING_TOLERANCE):
        detail = (
            f"Grades and rejects add up to {sorted_g / 1000:g} kg, more than the "
            f"{bound_g / 1000:g} kg that came in. Correct the one that is wrong."
        )
        entry.blame(Fault("grades-exceed-net", detail), "net", "weight", "gross")


def _intake(entry: Entry, scale: ScaleReading, parts: tuple[SortedRow, ...]) -> IntakeRow | None:
    values, weight, weight_is = entry.values, scale.weight, scale.weight_is
    if weight is None or weight_is is None:
        return None
    return IntakeRow(
        row_number=entry.row_number,
        received_on=values.day("received_on"),
        received_at=values.time("received_at"),
        farm=values.text("farm"),
        docket=values.text("docket"),
        line=values.text("line"),
        cultivar=values.text("cultivar"),
        block=values.text("block"),
        weight=weight.entered,
        unit=weight.unit,
        weight_is=weight_is,
        weight_g=weight.grams,
        tare=scale.tare.entered if scale.tare else None,
        tare_unit=scale.tare.unit if scale.tare else "",
        tare_total_g=scale.tare_total_g,
        containers=values.count("containers"),
        container=values.text("container"),
        sorted_weights=parts,
        note=values.text("note"),
        sheet=entry.sheet,
    )


INTAKES = RowKind(file=INTAKE, build=intake)
