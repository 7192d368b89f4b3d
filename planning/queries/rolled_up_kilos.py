"""Kilos of whole seasons from stored roll-ups, where a table needs no more than these hold.

A roll-up has each member's season on the basis that it goes by. What the same members have on
another basis, for comparison, is read from the records.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar
from uuid import UUID

from planning.compute.bases import Basis
from planning.compute.harvest_table import Asked, Filter, Key
from planning.models import DayRollUp, MemberRollUp
from planning.queries.fresh_roll_ups import days_are_fresh, members_are_fresh
from planning.queries.kilo_tables import KiloTable, LiveKilos
from planning.queries.kilos import MemberBases, Relation, Whose, Window, kilos_of

DAYS = {Key.WEEK, Key.MONTH}
# What the co-op's days no longer tell.
OF_MEMBERS = {Key.MEMBER, Key.FARM_GRADE, Filter.MEMBER, Filter.FARM_GRADE}
SPECIES = "LEFT JOIN records_cultivar cultivar ON cultivar.id = r.cultivar_id"
EXPRESSIONS = {
    "farm_id": "r.member_id",
    "species_id": "cultivar.species_id",
    "member_basis": "r.basis",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RolledUpKilos(LiveKilos):
    """A co-op's kilos as last added up, by member or by day, of whole seasons and one basis."""

    source: ClassVar[str] = "stored roll-ups"
    stored: str

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation:
        names, (basis,) = sorted(columns), window.bases
        own = self._own(window, basis, names)
        farm_ids = _by_others(self.whose, window.years, basis, bases)
        if not farm_ids:
            return own
        rest = self._rest(farm_ids, window, names, bases)
        return Relation(
            sql=f"{own.sql}\nUNION ALL\n{rest.sql}", params={**rest.params, **own.params}
        )

    def _own(self, window: Window, basis: Basis, names: Sequence[str]) -> Relation:
        chosen = ", ".join(f"{EXPRESSIONS.get(name, f'r.{name}')} AS {name}" for name in names)
        years = " AND r.season_year = ANY(%(rolled_years)s)" if window.years is not None else ""
        return Relation(
            sql=f"""SELECT {chosen} FROM {self.stored} r
                {SPECIES if "species_id" in names else ""}
                WHERE r.co_op_id = %(co_op)s AND r.basis = %(rolled_basis)s{years}""",
            params={
                "co_op": self.whose.co_op_id,
                "rolled_basis": str(basis),
                "rolled_years": list(window.years or ()),
            },
        )

    def _rest(
        self,
        farm_ids: Sequence[UUID],
        window: Window,
        names: Sequence[str],
        bases: MemberBases,
    ) -> Relation:
        """Kilos of those seasons of some members that go by another basis."""
        whose = replace(self.whose, farm_ids=farm_ids)
        found = kilos_of(whose, window, {*names, "basis", "member_basis"}, bases)
        return Relation(
            sql=f"""SELECT {", ".join(names)} FROM ({found.sql}) other
                WHERE member_basis <> basis""",
            params=found.params,
        )


def _by_others(
    whose: Whose, years: Sequence[int] | None, basis: Basis, bases: MemberBases
) -> tuple[UUID, ...]:
    """Members of whom any season asked for goes by another basis."""
    if years is None and bases.default is not basis:
        return tuple(whose.farm_ids)
    if years is None:
        others = {farm_id for (farm_id, _), own in bases.others.items() if own is not basis}
        return tuple(farm_id for farm_id in whose.farm_ids if farm_id in others)
    return tuple(
        farm_id
        for farm_id in whose.farm_ids
        if any(bases.of(farm_id, year) is not basis for year in years)
    )


def kilos_for(whose: Whose, asked: Asked) -> KiloTable:
    """Those of the roll-ups where they answer the question and are up to date; else the rows."""
    stored = _stored_for(asked)
    if stored is None or whose.co_op_id is None or not members_are_fresh(whose.co_op_id):
        return LiveKilos(whose=whose)
    if stored is DayRollUp and not days_are_fresh(whose.co_op_id, asked.year):
        return LiveKilos(whose=whose)
    return RolledUpKilos(whose=whose, stored=stored._meta.db_table)


def _stored_for(asked: Asked) -> Any:
    """The roll-up that tells all that is asked, or None."""
    names: set[Key | Filter] = {*asked.keys, *asked.filters}
    if asked.first_on or asked.last_on or asked.basis or {Key.BLOCK, Filter.BLOCK} & names:
        return None
    if not DAYS & names:
        return MemberRollUp
    return None if OF_MEMBERS & names else DayRollUp
