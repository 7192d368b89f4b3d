"""The consolidated table equals a pandas group-by over the same rows, whatever it is read from."""

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from uuid import UUID

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planning.compute.bases import Basis
from planning.compute.harvest_table import Asked, Filter, Key, TableRow
from planning.queries.harvest_table import harvest_table
from planning.queries.kilo_tables import LiveKilos
from planning.queries.kilos import whose_of
from planning.queries.rolled_up_kilos import RolledUpKilos, kilos_for
from planning.services.season_summaries import rebuild_co_op, rebuild_farms
from tests.planning.frames import frame_of
from tests.planning.ground import TODAY, stamp_all
from tests.planning.mixed_co_op import DAYS, FIRST_ON, Mixed, make_mixed

pytestmark = pytest.mark.django_db

COLUMNS = {
    Key.MEMBER: ["member"],
    Key.BLOCK: ["block"],
    Key.CULTIVAR: ["cultivar"],
    Key.SPECIES: ["species"],
    Key.GRADE: ["co_op_grade", "unmapped", "reason"],
    Key.FARM_GRADE: ["unowned", "own_grade", "reason"],
    Key.WEEK: ["week"],
    Key.MONTH: ["month"],
    Key.SEASON: ["season"],
    Key.CROP: ["crop"],
}
FILTERED = {
    Filter.MEMBER: "member",
    Filter.BLOCK: "block",
    Filter.CULTIVAR: "cultivar",
    Filter.SPECIES: "species",
    Filter.GRADE: "co_op_grade",
    Filter.FARM_GRADE: "own_grade",
}
days = st.integers(0, DAYS).map(lambda number: FIRST_ON + dt.timedelta(days=number))


@st.composite
def questions(draw: st.DrawFn, frame: pd.DataFrame) -> Asked:
    first, last = sorted((draw(days), draw(days)))
    filters: dict[Filter, UUID] = {}
    for name in draw(st.sets(st.sampled_from(Filter), max_size=1)):
        filters[name] = draw(st.sampled_from(sorted(frame[FILTERED[name]].dropna().unique())))
    return Asked(
        keys=tuple(draw(st.lists(st.sampled_from(Key), max_size=3, unique=True))),
        year=draw(st.none() | st.sampled_from([2023, 2024, 2025, 2026])),
        first_on=draw(st.sampled_from([None, first])),
        last_on=draw(st.sampled_from([None, last])),
        basis=draw(st.none() | st.sampled_from(Basis)),
        filters=filters,
    )


@pytest.fixture(params=Basis)
def mixed(request: pytest.FixtureRequest) -> Mixed:
    return make_mixed(20260712, basis=request.param)


def test_a_table_is_a_pandas_group_by(mixed: Mixed) -> None:
    frame = frame_of(mixed.co_op)
    kilos = LiveKilos(whose=whose_of(mixed.co_op))
    asked_for = 0

    @settings(
        max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
    )
    @given(st.data())
    def holds(data: st.DataObject) -> None:
        nonlocal asked_for
        asked = data.draw(questions(frame))
        table = harvest_table(kilos, asked)
        expected = grouped(frame, asked)
        assert {_place(row, asked.keys): _figures(row) for row in table.rows} == expected
        asked_for += len(expected)
        _check_shares(frame, asked, table.rows)
        _check_totals(table.rows, table.totals)

    holds()
    assert asked_for > 100


def test_a_table_of_roll_ups_is_that_of_the_rows(mixed: Mixed) -> None:
    rebuild_farms([farm.pk for farm in mixed.farms], lambda _: TODAY)
    rebuild_co_op(mixed.co_op.pk, lambda _: TODAY)
    stamp_all()
    frame, whose, read = frame_of(mixed.co_op), whose_of(mixed.co_op), Counter[str]()

    @settings(
        max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
    )
    @given(st.data())
    def holds(data: st.DataObject) -> None:
        asked = replace(data.draw(questions(frame)), first_on=None, last_on=None)
        kilos = kilos_for(mixed.co_op, asked)
        table, of_rows = harvest_table(kilos, asked), harvest_table(LiveKilos(whose=whose), asked)
        assert isinstance(kilos, RolledUpKilos) is _is_of_roll_ups(asked)
        assert _by_place(table.rows) == _by_place(of_rows.rows)
        assert _by_place(table.totals) == _by_place(of_rows.totals)
        assert table.records == of_rows.records
        found = {_place(row, asked.keys): _figures(row) for row in table.rows}
        assert found == grouped(frame, asked)
        read[table.source] += len(found)

    holds()
    assert read["stored roll-ups"] > 100
    assert read["records"] > 100


def _is_of_roll_ups(asked: Asked) -> bool:
    """Above the block, each by its own basis; members and their grades not week by week."""
    names: set[str] = {*asked.keys, *asked.filters}
    by_day = bool({"week", "month"} & names)
    by_member = bool({"member", "farm-grade"} & names)
    return asked.basis is None and "block" not in names and not (by_day and by_member)


def _by_place(rows: Sequence[TableRow]) -> dict[Any, TableRow]:
    return {(row.key, row.basis): row for row in rows}


def grouped(frame: pd.DataFrame, asked: Asked) -> dict[tuple[str, ...], tuple[int, ...]]:
    """By pandas, one group after the other."""
    rows = _limited(frame, asked)
    for name, value in asked.filters.items():
        rows = rows[rows[FILTERED[name]] == value]
    if rows.empty:
        return {}
    by = [rows[name].map(str) for key in asked.keys for name in COLUMNS[key]]
    found = rows.groupby([*by, rows["member_basis"].map(str)], sort=False)
    return {tuple(place): _summed(group) for place, group in found}


def _limited(frame: pd.DataFrame, asked: Asked) -> pd.DataFrame:
    """Of the season and days; by one basis, or by each member's own."""
    rows = frame
    if asked.year is not None:
        rows = rows[rows["season"] == asked.year]
    if asked.first_on:
        rows = rows[rows["day"] >= asked.first_on]
    if asked.last_on:
        rows = rows[rows["day"] <= asked.last_on]
    if asked.basis:
        rows = rows[rows["basis"] == asked.basis].assign(member_basis=asked.basis)
    return rows


def _summed(group: pd.DataFrame) -> tuple[int, ...]:
    own = group[group["basis"] == group["member_basis"]]
    net = own["net_g"]
    of_each = [int(group["net_g"][group["basis"] == basis].sum()) for basis in Basis]
    return (
        int(net.sum()),
        int(own["estimated_g"].sum()),
        int(net[own["marketable"].eq(True)].sum()),
        int(net[~own["marketable"].eq(False)].sum()),
        *of_each,
        int(own["fruit"].sum()),
        int(own["counted_g"].sum()),
        int(own["counted_fruit"].sum()),
        len(own),
    )


def _figures(row: TableRow) -> tuple[int, ...]:
    return (
        row.net_g,
        row.estimated_g,
        row.marketable_g,
        row.payable_g,
        row.picked_g,
        row.received_g,
        row.packed_g,
        row.fruit_count,
        row.counted_g,
        row.counted_fruit,
        row.records,
    )


def _place(row: TableRow, keys: tuple[Key, ...]) -> tuple[str, ...]:
    columns = [name for key in keys for name in COLUMNS[key]]
    named = zip(columns, row.key, strict=True)
    return (*(_text(name, value) for name, value in named), str(row.basis))


def _text(name: str, value: Any) -> str:
    if name == "week":
        return str(dt.date(1, 1, 1) + dt.timedelta(weeks=value))
    return f"{value // 12:04}-{value % 12 + 1:02}" if name == "month" else str(value)


def _check_shares(frame: pd.DataFrame, asked: Asked, rows: Any) -> None:
    """Of all members' kilos on the basis, whatever the table is limited to besides its days."""
    limited = _limited(frame, asked)
    own = limited[limited["basis"] == limited["member_basis"]]
    whole = {basis: int(own["net_g"][own["basis"] == basis].sum()) for basis in Basis}
    for row in rows:
        share = row.net_g / whole[row.basis] if whole[row.basis] else None
        assert row.share == share


def _check_totals(rows: Any, totals: Any) -> None:
    for total in totals:
        own = [row for row in rows if row.basis is total.basis]
        assert _figures(total) == tuple(map(sum, zip(*map(_figures, own), strict=True)))
    assert {total.basis for total in totals} == {row.basis for row in rows}
