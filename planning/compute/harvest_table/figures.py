"""From sums by group and basis to the rows of a table."""

from collections.abc import Iterable, Mapping

from planning.compute.bases import Basis
from planning.compute.harvest_table.ground import Ground
from planning.compute.harvest_table.values import GroupKey, Sums, TableRow

RowKey = tuple[GroupKey, Basis]
ADDED = (
    "net_g",
    "estimated_g",
    "marketable_g",
    "cull_g",
    "picked_g",
    "received_g",
    "packed_g",
    "fruit_count",
    "counted_g",
    "counted_fruit",
    "records",
)
NO_GROUND = Ground()


def table_rows(
    sums: Iterable[Sums], *, grounds: Mapping[RowKey, Ground], whole_g: Mapping[Basis, int]
) -> list[TableRow]:
    """A row a group and basis; `whole_g` is what all members have on each basis."""
    found: dict[RowKey, TableRow] = {}
    for part in sums:
        place = part.key, part.member_basis
        row = found.get(place)
        if row is None:
            row = found[place] = TableRow(key=part.key, basis=part.member_basis)
        _add(row, part)
    for place, row in found.items():
        _stand_on(row, grounds.get(place, NO_GROUND))
        row.share = share_of(row.net_g, whole_g.get(row.basis, 0))
    return list(found.values())


def totals(
    rows: Iterable[TableRow], *, grounds: Mapping[Basis, Ground], whole_g: Mapping[Basis, int]
) -> list[TableRow]:
    """One row a basis, of all rows on it."""
    sums: dict[Basis, TableRow] = {}
    for row in rows:
        total = sums.setdefault(row.basis, TableRow(key=(), basis=row.basis))
        for name in ADDED:
            setattr(total, name, getattr(total, name) + getattr(row, name))
    found = [sums[basis] for basis in Basis if basis in sums]
    for row in found:
        _stand_on(row, grounds.get(row.basis, NO_GROUND))
        row.share = share_of(row.net_g, whole_g.get(row.basis, 0))
    return found


def share_of(part_g: int, whole_g: int) -> float | None:
    return part_g / whole_g if whole_g else None


def _add(row: TableRow, part: Sums) -> None:
    """A basis is added to its own column, and to the row's kilos where the row goes by it."""
    if part.basis is Basis.PICKED:
        row.picked_g += part.net_g
    elif part.basis is Basis.RECEIVED:
        row.received_g += part.net_g
    else:
        row.packed_g += part.net_g
    if part.basis is row.basis:
        row.net_g += part.net_g
        row.estimated_g += part.estimated_g
        row.marketable_g += part.marketable_g
        row.cull_g += part.cull_g
        row.fruit_count += part.fruit_count
        row.counted_g += part.counted_g
        row.counted_fruit += part.counted_fruit
        row.records += part.records


def _stand_on(row: TableRow, ground: Ground) -> None:
    row.bearing_trees, row.area_m2 = ground.bearing_trees, ground.area_m2
    row.reasons = ground.reasons
