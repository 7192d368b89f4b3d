"""What has changed in a table since it was closed."""

from collections.abc import Iterable
from dataclasses import dataclass

from planning.compute.bases import Basis
from planning.compute.harvest_table.values import GroupKey, TableRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A group on one basis as it was closed and as it is now; nought where it is not there."""

    key: GroupKey
    basis: Basis
    closed: TableRow
    now: TableRow


def differences(closed: Iterable[TableRow], now: Iterable[TableRow]) -> list[Difference]:
    """The groups whose kilos or fruit differ, those that are gone or came among them."""
    before = {(row.key, row.basis): row for row in closed}
    after = {(row.key, row.basis): row for row in now}
    found = []
    for key, basis in before | after:
        nothing = TableRow(key=key, basis=basis)
        pair = before.get((key, basis), nothing), after.get((key, basis), nothing)
        if _figures(pair[0]) != _figures(pair[1]):
            found.append(Difference(key=key, basis=basis, closed=pair[0], now=pair[1]))
    return found


def _figures(row: TableRow) -> tuple[int, ...]:
    return row.net_g, row.estimated_g, row.marketable_g, row.cull_g, row.fruit_count
