"""The tables of the members' files: weighings as rows of cells, in each member's own layout.

A list has a row a weighing. A wide table has a column for each grade, and in one row the weighings
that differ in nothing else. Either may leave a repeated date or block blank, and add up each day
and everything.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import groupby, zip_longest

from orchard.demo.cast import Farm
from orchard.demo.harvest import GRAMS, Weighing

Cell = str | int | Decimal | date | None
Row = Sequence[Cell]

BY_GRADE = "net_by_grade"
LEFT_BLANK = ("picked_on", "block")
ADDED_UP = frozenset({"net", "gross", "tare", "containers", "fruit_count", "minutes", BY_GRADE})


def tables(farm: Farm, picked: Iterable[Weighing]) -> dict[str, list[Row]]:
    """Each sheet's table by the sheet's name, which is "" for the only one."""
    found = list(picked)
    if not farm.sheet.sheet_per_block:
        return {"": table(farm, found)}
    by_block = {
        block.code: [one for one in found if one.block == block.code] for block in farm.blocks
    }
    sheets = {code: table(farm, of_block) for code, of_block in by_block.items() if of_block}
    return {farm.sheet.summary: _summary(farm, by_block), **sheets}


def table(farm: Farm, picked: Sequence[Weighing]) -> list[Row]:
    """Headings, entries day by day, and whatever sums the member writes."""
    entries = _entries(farm, picked)
    rows: list[Row] = [headings(farm)]
    for _, day in groupby(entries, key=lambda entry: entry[_columns(farm).index("picked_on")]):
        of_day = list(day)
        rows += _without_repeats(farm, of_day) if farm.sheet.leaves_repeats_blank else of_day
        if farm.sheet.day_total:
            rows.append(_sums(farm, farm.sheet.day_total, of_day))
    if farm.sheet.total:
        rows.append(_sums(farm, farm.sheet.total, entries))
    return rows


def headings(farm: Farm) -> list[str]:
    """As the member writes them; the one of grades once for each."""
    return [
        heading.format(grade=grade)
        for heading, field in farm.sheet.columns
        for grade in (_grades(farm) if field == BY_GRADE else [""])
    ]


def _columns(farm: Farm) -> list[str]:
    """The field under each heading."""
    return [
        field
        for _, field in farm.sheet.columns
        for _ in (_grades(farm) if field == BY_GRADE else [""])
    ]


def _grades(farm: Farm) -> list[str]:
    return [grade.code for grade in farm.grades]


def _entries(farm: Farm, picked: Iterable[Weighing]) -> list[Row]:
    fields = [field for _, field in farm.sheet.columns]
    if BY_GRADE in fields:
        return list(_wide_entries(farm, picked))
    return [[CELLS[field](farm, weighing) for field in fields] for weighing in picked]


def _wide_entries(farm: Farm, picked: Iterable[Weighing]) -> Iterator[Row]:
    """A row for the first weighing of every grade, another for the second, and so on."""
    fields = [field for _, field in farm.sheet.columns]
    plain = [field for field in fields if field != BY_GRADE]
    behind = len(fields) - 1 - fields.index(BY_GRADE)
    groups: dict[tuple[Cell, ...], dict[str | None, list[Weighing]]] = {}
    for weighing in picked:
        said = tuple(CELLS[field](farm, weighing) for field in plain)
        groups.setdefault(said, {}).setdefault(weighing.grade, []).append(weighing)
    cut = len(plain) - behind
    for said, by_grade in groups.items():
        for abreast in zip_longest(*(by_grade.get(grade, []) for grade in _grades(farm))):
            weights = [_net(farm, one) if one else None for one in abreast]
            yield [*said[:cut], *weights, *said[cut:]]


def _without_repeats(farm: Farm, entries: Sequence[Row]) -> list[Row]:
    """A block is left blank only beside a date that is."""
    places = [_columns(farm).index(field) for field in LEFT_BLANK if field in _columns(farm)]
    rows: list[Row] = []
    above: Row | None = None
    for entry in entries:
        written = list(entry)
        for place in places:
            if above is None or above[place] != entry[place]:
                break
            written[place] = None
        rows.append(written)
        above = entry
    return rows


def _sums(farm: Farm, label: str, entries: Sequence[Row]) -> Row:
    """The label in the first column, and what the others add up to."""
    row: list[Cell] = [label]
    for place, field in enumerate(_columns(farm)[1:], start=1):
        cells = [entry[place] for entry in entries]
        numbers = [cell for cell in cells if isinstance(cell, int | Decimal)]
        row.append(sum(numbers) if field in ADDED_UP else None)
    return row


def _summary(farm: Farm, by_block: dict[str, list[Weighing]]) -> list[Row]:
    """Kilos a block: a sheet that no import takes for weighings, since it has no dates."""
    heading = {field: heading for heading, field in farm.sheet.columns}["net"]
    weights = {
        code: sum((_net(farm, one) or Decimal(0) for one in picked), Decimal(0))
        for code, picked in by_block.items()
    }
    return [
        [farm.sheet.block_heading, heading],
        *([code, kilos] for code, kilos in weights.items()),
    ]


def _plain(name: str) -> Callable[[Farm, Weighing], Cell]:
    def read(_farm: Farm, weighing: Weighing) -> Cell:
        cell: Cell = getattr(weighing, name)
        return cell

    return read


def _net(farm: Farm, weighing: Weighing) -> Cell:
    return _in_unit(farm, weighing.net_g)


def _gross(farm: Farm, weighing: Weighing) -> Cell:
    return _in_unit(farm, weighing.gross_g)


def _tare(farm: Farm, weighing: Weighing) -> Cell:
    """Of all containers together."""
    if weighing.gross_g is None or weighing.net_g is None:
        return None
    return _in_unit(farm, weighing.gross_g - weighing.net_g)


def _unit(farm: Farm, _weighing: Weighing) -> Cell:
    return farm.sheet.weight_unit


def _pickers(_farm: Farm, weighing: Weighing) -> Cell:
    return ", ".join(weighing.pickers)


def _in_unit(farm: Farm, weight_g: int | None) -> Decimal | None:
    """The scale's reading again: whole grams are finer than any scale here."""
    if weight_g is None:
        return None
    return (weight_g / GRAMS[farm.sheet.weight_unit]).quantize(farm.picking.scale_step)


CELLS: dict[str, Callable[[Farm, Weighing], Cell]] = {
    "net": _net,
    "gross": _gross,
    "tare": _tare,
    "unit": _unit,
    "pickers": _pickers,
    **{
        name: _plain(name)
        for name in (
            "picked_on",
            "block",
            "row",
            "position",
            "cultivar",
            "grade",
            "containers",
            "container",
            "fruit_count",
            "minutes",
            "docket",
            "line",
            "note",
        )
    },
}
