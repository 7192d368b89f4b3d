"""The columns of a file of work done: one line a piece of work.

Hours are how long it ran where that is a detail of the work, as of irrigation; elsewhere they are
the work of all people together, as minutes are.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from records.details import DETAILS, DetailsError, check
from records.importing.cells import Fault
from records.importing.columns import Column, FileKind, Kind
from records.importing.entries import Entry
from records.importing.fieldcolumns import (
    BLOCK,
    FARM,
    MAX_TASK_MINUTES,
    MINUTES,
    NOTE,
    PEOPLE,
    POSITION,
    ROW,
    TREE,
    day_column,
)
from records.importing.rows import RowKind
from records.importing.totals import plain
from records.importing.written import parse_number

KINDS = {
    "pruning": "prune,poda,podar",
    "leaf-stripping": "leaf stripping,defoliation,defoliación,deshoje,desfolha,defolha",
    "bagging": "bagging fruit,embolsado,ensacado,ensacamento",
    "thinning": "thinning fruit,fruit thinning,aclareo,raleo,monda,raleio,desbaste",
    "spraying": "spray,tratamiento,fumigación,pulverización,pulverização,tratamento",
    "irrigation": "watering,riego,rega,irrigação",
    "fertilising": "fertilizing,fertiliser,abonado,fertilización,adubação,fertilização",
    "weeding": "mowing,desbroce,deshierbe,monda de hierbas,capina,monda de ervas",
    "counting": "count,conteo,contagem",
    "training": "training shoots,formación,condução",
    "other": "other work,otro,otros,outro,outros",
}
METHODS = {
    "heading": "shoots cut back,despunte,desponta,encurtamento",
    "thinning": "whole shoots taken out,aclareo,desbaste",
    "heading-and-thinning": "both,ambos",
    "renewal": "renovación,renovação",
    "tipping": "tips taken off,pinzado",
    "by-hand": "hand,by hand,a mano,à mão",
    "defoliant": "defoliante,desfolhante",
}


def _detail(name: str, kind: Kind, *synonyms: str, largest: int = 0) -> Column:
    return Column(name=name, kind=kind, synonyms=synonyms, largest=largest, max_chars=500)


DETAIL_COLUMNS = (
    Column(
        name="method",
        kind=Kind.CHOICE,
        choices=METHODS,
        synonyms=("pruning method", "método", "método de poda"),
    ),
    _detail(
        "shoots_before_cm", Kind.TEXT, "shoot lengths before", "shoots before", "shoots before cm"
    ),
    _detail("shoots_removed_cm", Kind.TEXT, "removed", "shoots removed", "cut off", "cut off cm"),
    _detail("share_percent", Kind.NUMBER, "share of leaves", "leaves %", largest=100),
    _detail(
        "fruit", Kind.COUNT, "fruits", "number of fruit", "frutos", "frutas", largest=1_000_000
    ),
    _detail("product", Kind.TEXT, "producto", "produto"),
    _detail("active_ingredient", Kind.TEXT, "ingrediente activo", "ingrediente ativo"),
    _detail(
        "litres", Kind.NUMBER, "liters", "litros", "water", "agua", "água", largest=1_000_000_000
    ),
    _detail("hours", Kind.NUMBER, "horas", "hrs", largest=MAX_TASK_MINUTES // 60),
    _detail("kilograms", Kind.NUMBER, "kg", "kilos", "quilos", largest=100_000),
    _detail("reentry_hours", Kind.NUMBER, "re-entry", "reentry", largest=8_760),
    _detail("preharvest_days", Kind.COUNT, "pre-harvest interval", "days to harvest", largest=366),
)

TASK_LOG = FileKind(
    required=(("done_on",), ("block",), ("kind",)),
    noun="piece of work",
    needed={"done_on": "date", "block": "block", "kind": "kind of work"},
    carried=("done_on", "block"),
    amounts=("kind",),
    added_up=("minutes",),
    columns=(
        day_column("done_on", "done on", "date done", "fecha de la labor", "data do trabalho"),
        BLOCK,
        TREE,
        ROW,
        POSITION,
        Column(
            name="kind",
            kind=Kind.CHOICE,
            choices=KINDS,
            synonyms=(
                *("task", "work", "kind of work", "activity", "job"),
                *("labor", "tarea", "trabajo", "actividad"),
                *("tarefa", "trabalho", "atividade"),
            ),
        ),
        PEOPLE,
        MINUTES,
        NOTE,
        FARM,
        *DETAIL_COLUMNS,
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskLogRow:
    """A piece of work as its sender entered it; `details` are those of its kind."""

    row_number: int
    done_on: date
    farm: str
    block: str
    tree: str
    row: int | None
    position: int | None
    kind: str
    people: tuple[str, ...]
    minutes: int | None
    details: dict[str, Any]
    note: str
    sheet: str = ""


def task_log(entry: Entry) -> TaskLogRow | None:
    """The work that an entry is; details that its kind does not carry are refused."""
    if entry.faults:
        return None
    details = _details(entry)
    minutes = _minutes(entry)
    if entry.faults:
        return None
    values = entry.values
    return TaskLogRow(
        row_number=entry.row_number,
        done_on=values.day("done_on"),
        farm=values.text("farm"),
        block=values.text("block"),
        tree=values.text("tree"),
        row=values.count("row"),
        position=values.count("position"),
        kind=values.text("kind"),
        people=values.people("people"),
        minutes=minutes,
        details=details,
        note=values.text("note"),
        sheet=entry.sheet,
    )


def _is_worked(entry: Entry, name: str) -> bool:
    """Whether hours are those that people worked, and no detail of the work."""
    return name == "hours" and name not in DETAILS.get(entry.values.text("kind"), {})


def _minutes(entry: Entry) -> int | None:
    minutes, hours = entry.values.count("minutes"), entry.values.number("hours")
    if not hours or not _is_worked(entry, "hours"):
        return minutes
    if minutes is None or minutes == round(hours * 60):
        return round(hours * 60)
    detail = f"{plain(hours)} hours are not {minutes} minutes. Correct the one that is wrong."
    entry.blame(Fault("hours-differ", detail), "hours")
    return None


def _details(entry: Entry) -> dict[str, Any]:
    details: dict[str, Any] = {}
    for column in DETAIL_COLUMNS:
        value = entry.values.get(column.name)
        if value not in (None, "") and not _is_worked(entry, column.name):
            details[column.name] = _READ.get(column.name, _plain)(entry, column.name)
    try:
        check(entry.values.text("kind"), details)
    except DetailsError as error:
        entry.blame(Fault(error.code, str(error)), error.name or "kind")
    return details


def _plain(entry: Entry, name: str) -> Any:
    value = entry.values[name]
    return float(value) if isinstance(value, Decimal) else value


def _lengths(entry: Entry, name: str) -> list[float]:
    """Lengths parted by semicolons or spaces, with a decimal comma or point."""
    parts = re.split(r"[;\s/]+", entry.values.text(name).strip("; "))
    numbers = [parse_number(part.replace(",", "."), ".") for part in parts]
    if None in numbers:
        detail = "Lengths in cm are needed here, parted by semicolons: 45; 52,5; 60."
        entry.blame(Fault("not-a-number", detail), name)
    return [float(number) for number in numbers if number is not None]


_READ: dict[str, Callable[[Entry, str], Any]] = {
    "shoots_before_cm": _lengths,
    "shoots_removed_cm": _lengths,
}
TASK_LOGS = RowKind(file=TASK_LOG, build=task_log)
