"""The consolidated table: kilos of a co-op grouped as asked, summed up by the database.

Each basis is summed up by itself, with no column that tells one from another, and at most a season
and a member's basis beside the groups: a million weighings are read once.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from planning.compute.bases import Basis
from planning.compute.harvest_table import (
    Asked,
    Filter,
    Ground,
    Key,
    Stand,
    Sums,
    TableError,
    TableRow,
    by_cultivar,
    grounds,
    table_rows,
    totals,
    why_no_ground,
)
from planning.queries.kilo_relations import MemberBases
from planning.queries.kilo_tables import KiloTable
from planning.queries.kilos import Window

MAX_ROWS = 50_000

# A Monday; weeks and months are counted from there in whole numbers.
FIRST_MONDAY = dt.date(1, 1, 1)
# What a key is grouped by, and the columns that this takes. A grade that is not mapped is the
# farm's own, and rejects go by their reason.
KEYS: Mapping[Key, tuple[tuple[str, ...], tuple[str, ...]]] = {
    Key.MEMBER: (("farm_id",), ("farm_id",)),
    Key.BLOCK: (("block_id",), ("block_id",)),
    Key.CULTIVAR: (("cultivar_id",), ("cultivar_id",)),
    Key.SPECIES: (("species_id",), ("species_id",)),
    Key.GRADE: (
        (
            "co_op_grade_id",
            "CASE WHEN co_op_grade_id IS NULL THEN grade_id END",
            "reject_reason",
        ),
        ("co_op_grade_id", "grade_id", "reject_reason"),
    ),
    Key.FARM_GRADE: (
        ("CASE WHEN grade_id IS NULL THEN co_op_grade_id END", "grade_id", "reject_reason"),
        ("co_op_grade_id", "grade_id", "reject_reason"),
    ),
    Key.WEEK: (("(day - date '0001-01-01') / 7",), ("day",)),
    Key.MONTH: (
        ("date_part('year', day)::int * 12 + date_part('month', day)::int - 1",),
        ("day",),
    ),
    Key.SEASON: (("season_year",), ("season_year",)),
    Key.CROP: (("crop_name",), ("crop_name",)),
}
FILTERS: Mapping[Filter, str] = {
    Filter.MEMBER: "farm_id",
    Filter.BLOCK: "block_id",
    Filter.CULTIVAR: "cultivar_id",
    Filter.SPECIES: "species_id",
    Filter.GRADE: "co_op_grade_id",
    Filter.FARM_GRADE: "grade_id",
}
SUMS = """sum(net_g)::bigint, sum(estimated_g)::bigint,
    coalesce(sum(net_g) FILTER (WHERE marketable), 0)::bigint,
    coalesce(sum(net_g) FILTER (WHERE NOT marketable), 0)::bigint,
    sum(fruit_count)::bigint, sum(counted_g)::bigint, sum(counted_fruit)::bigint,
    sum(records)::bigint"""
SUMMED = frozenset(
    {
        "net_g",
        "estimated_g",
        "marketable",
        "fruit_count",
        "counted_g",
        "counted_fruit",
        "records",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HarvestTable:
    """Rows, one total a basis, and why trees and hectares are not known, if they are not.

    `records` says on how many weighings, intakes and sorted lines the table rests, and `source`
    what they were read from.
    """

    asked: Asked
    rows: Sequence[TableRow]
    totals: Sequence[TableRow]
    records: Mapping[Basis, int]
    source: str
    why_no_ground: str | None


def harvest_table(kilos: KiloTable, asked: Asked) -> HarvestTable:
    """The table; TableError where it would have too many rows."""
    window = _window(asked)
    bases = _bases(kilos, asked, window)
    sums = [part for basis in _read(asked) for part in _sums(kilos, asked, window, basis, bases)]
    whole_g = _whole_g(kilos, asked, window, bases, sums)
    rows = table_rows(sums, grounds=_grounds(kilos, asked, bases), whole_g=whole_g)
    whole = replace(asked, keys=())
    of_all = {basis: ground for (_, basis), ground in _grounds(kilos, whole, bases).items()}
    return HarvestTable(
        asked=asked,
        rows=rows,
        totals=totals(rows, grounds=of_all, whole_g=whole_g),
        records=_records(sums),
        source=kilos.source,
        why_no_ground=why_no_ground(asked),
    )


def _records(sums: Sequence[Sums]) -> dict[Basis, int]:
    found: Counter[Basis] = Counter()
    for part in sums:
        found[part.basis] += part.records
    return {basis: found[basis] for basis in Basis if basis in found}


def _window(asked: Asked) -> Window:
    years = None if asked.year is None else (asked.year,)
    return Window(years=years, first_on=asked.first_on, last_on=asked.last_on)


def _bases(kilos: KiloTable, asked: Asked, window: Window) -> MemberBases:
    """Each member's own, unless all are to go by one."""
    if asked.basis:
        return MemberBases(default=asked.basis, others={})
    return kilos.bases(window)


def _read(asked: Asked) -> tuple[Basis, ...]:
    return (asked.basis,) if asked.basis else tuple(Basis)


def _sums(
    kilos: KiloTable, asked: Asked, window: Window, basis: Basis, bases: MemberBases
) -> Iterator[Sums]:
    """A basis by group, and by the basis of the members where they differ."""
    parts = [part for key in asked.keys for part in KEYS[key][0]]
    columns = {column for key in asked.keys for column in KEYS[key][1]} | SUMMED
    columns |= {FILTERS[name] for name in asked.filters}
    if bases.others:
        parts, columns = [*parts, "member_basis"], columns | {"member_basis"}
    relation = kilos.relation(replace(window, bases=(basis,)), columns, bases)
    found = relation.rows(_statement(parts, asked), **_values(asked))
    if len(found) > MAX_ROWS:
        raise TableError(f"there are more than {MAX_ROWS:,} rows: ask for fewer, or group by less")
    own = len(parts) - 1 if bases.others else len(parts)
    for row in found:
        member_basis = Basis(row[own]) if bases.others else bases.default
        yield Sums(row[:own], basis, member_basis, *row[len(parts) :])


def _statement(parts: Sequence[str], asked: Asked) -> str:
    limits = " AND ".join(f"{FILTERS[name]} = %({FILTERS[name]}_is)s" for name in asked.filters)
    chosen = "".join(f"{part}, " for part in parts)
    groups = ", ".join(str(number + 1) for number in range(len(parts)))
    where = f" WHERE {limits}" if limits else ""
    grouped = f" GROUP BY {groups}" if groups else " HAVING count(*) > 0"
    return f"SELECT {chosen}{SUMS} FROM {{kilos}}{where}{grouped} LIMIT {MAX_ROWS + 1}"


def _values(asked: Asked) -> dict[str, Any]:
    return {f"{FILTERS[name]}_is": value for name, value in asked.filters.items()}


def _whole_g(
    kilos: KiloTable, asked: Asked, window: Window, bases: MemberBases, sums: Sequence[Sums]
) -> dict[Basis, int]:
    """Grams of all members on each basis, of the same season or days."""
    if asked.filters:
        whole = replace(asked, keys=(), filters={})
        sums = [each for one in _read(asked) for each in _sums(kilos, whole, window, one, bases)]
    return {
        basis: sum(part.net_g for part in sums if part.basis is part.member_basis is basis)
        for basis in Basis
    }


def _grounds(
    kilos: KiloTable, asked: Asked, bases: MemberBases
) -> dict[tuple[tuple[Any, ...], Basis], Ground]:
    if why_no_ground(asked):
        return {}
    by = "cultivar" if by_cultivar(asked) else "member"
    if Key.BLOCK in asked.keys or Filter.BLOCK in asked.filters:
        by = "block"
    stands = [each for each in kilos.stands(asked.year, by=by) if _is_asked(each, asked)]
    return grounds(stands, asked.keys, bases.of)


def _is_asked(stand: Stand, asked: Asked) -> bool:
    own = {
        Filter.MEMBER: stand.member_id,
        Filter.BLOCK: stand.block_id,
        Filter.CULTIVAR: stand.cultivar_id,
        Filter.SPECIES: stand.species_id,
    }
    return all(own[name] == value for name, value in asked.filters.items())
