"""Kilos of whole seasons from stored roll-ups, where a table needs no more than these hold.

A roll-up has each member's season on the basis that it goes by. What the same members have on
another basis, for comparison, is read from the records.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, ClassVar
from uuid import UUID

from planning.compute.bases import Basis
from planning.compute.harvest_table import Asked, Filter, Key, Stand
from planning.models import DayRollUp, MemberRollUp
from planning.queries.fresh_roll_ups import days_are_fresh, members_are_fresh
from planning.queries.kilo_relations import BY_WEIGHINGS
from planning.queries.kilo_tables import KiloTable, LiveKilos, stands_of
from planning.queries.kilos import (
    MemberBases,
    Relation,
    Whose,
    Window,
    bases_of,
    kilos_of,
    whose_of,
)
from records.models import CoOp, Intake, Membership

DAYS = {Key.WEEK, Key.MONTH}
# What the co-op's days no longer tell.
OF_MEMBERS = {Key.MEMBER, Key.FARM_GRADE, Filter.MEMBER, Filter.FARM_GRADE}
SPECIES = "LEFT JOIN records_cultivar cultivar ON cultivar.id = r.cultivar_id"
EXPRESSIONS = {
    "farm_id": "r.member_id",
    "species_id": "cultivar.species_id",
    "member_basis": "r.basis",
}


@dataclass(frozen=True, kw_only=True)
class RolledUpKilos:
    """A co-op's kilos as last added up, by member or by day, of whole seasons and one basis."""

    source: ClassVar[str] = "stored roll-ups"
    co_op: CoOp
    stored: str

    @cached_property
    def whose(self) -> Whose:
        return whose_of(self.co_op)

    def bases(self, window: Window) -> MemberBases:
        """Without a look at each member, where none has delivered anything."""
        members = Membership.objects.filter(co_op=self.co_op).values("farm_id")
        delivers = Intake.objects.filter(farm_id__in=members).exists()
        return bases_of(self.whose, window) if delivers else BY_WEIGHINGS

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        return stands_of(self.co_op.pk, year, by=by)

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation:
        names, (basis,) = sorted(columns), window.bases
        own = self._own(window, basis, names)
        if bases is BY_WEIGHINGS:
            return own
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
                "co_op": self.co_op.pk,
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


def kilos_for(co_op: CoOp, asked: Asked) -> KiloTable:
    """Those of the roll-ups where they answer the question and are up to date; else the rows."""
    stored = _stored_for(co_op, asked)
    if stored is None:
        return LiveKilos(whose=whose_of(co_op))
    return RolledUpKilos(co_op=co_op, stored=stored._meta.db_table)


def _stored_for(co_op: CoOp, asked: Asked) -> Any:
    """The shortest roll-up that tells all that is asked and is up to date, or None."""
    names: set[Key | Filter] = {*asked.keys, *asked.filters}
    if asked.first_on or asked.last_on or asked.basis or {Key.BLOCK, Filter.BLOCK} & names:
        return None
    if DAYS & names and OF_MEMBERS & names:
        return None
    if not members_are_fresh(co_op.pk):
        return None
    if not OF_MEMBERS & names and days_are_fresh(co_op.pk, asked.year):
        return DayRollUp
    return None if DAYS & names else MemberRollUp
