"""Where a table's kilos, trees and hectares come from: the records now, or a closed season."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol
from uuid import UUID

from django.db.models import F, QuerySet
from django.db.models.functions import Coalesce

from planning.compute.bases import Basis
from planning.compute.harvest_table import Stand
from planning.models import ClosedSeason, ClosedStand, SeasonSummary, SummaryLevel
from planning.queries.kilo_relations import MemberBases
from planning.queries.kilos import Relation, Whose, Window, bases_of, kilos_of


class KiloTable(Protocol):
    """Kilos with the columns of `planning.queries.kilos`, and the ground that they grew on.

    `source` says in words what they are read from.
    """

    source: ClassVar[str]

    def bases(self, window: Window) -> MemberBases: ...

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation: ...

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        """By member; or by "block" or "cultivar" of each. Of a season, or of all."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveKilos:
    """A co-op's kilos as they are recorded now; trees and hectares as last summed up."""

    source: ClassVar[str] = "records"
    whose: Whose

    def bases(self, window: Window) -> MemberBases:
        return bases_of(self.whose, window)

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation:
        return kilos_of(self.whose, window, columns, bases)

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        if by != "block":
            return stands_of(self.whose.co_op_id, year, by=by)
        blocks = SeasonSummary.objects.filter(
            farm_id__in=self.whose.farm_ids, level=SummaryLevel.BLOCK, basis=Basis.PICKED
        )
        return _summed_up(blocks, year)


def stands_of(co_op_id: UUID | None, year: int | None, *, by: str) -> list[Stand]:
    """A co-op's, by member or by "cultivar" of each, as last summed up."""
    level = SummaryLevel.MEMBER_CULTIVAR if by == "cultivar" else SummaryLevel.MEMBER
    return _summed_up(SeasonSummary.objects.filter(co_op_id=co_op_id, level=level), year)


def _summed_up(rows: QuerySet[SeasonSummary], year: int | None) -> list[Stand]:
    found = rows if year is None else rows.filter(season_year=year)
    return _stands(
        found.annotate(of=Coalesce("member_id", "farm_id"), of_species=F("cultivar__species_id"))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedKilos:
    """A co-op's kilos, trees and hectares as they stood when a season was closed."""

    source: ClassVar[str] = "closed season"
    closed: ClosedSeason

    def bases(self, window: Window) -> MemberBases:
        rows = self._stands("member").values_list("farm_id", "member_basis")
        year = self.closed.season_year
        others = {(farm_id, year): Basis(name) for farm_id, name in rows}
        return MemberBases(default=Basis.PICKED, others=others)

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation:
        chosen = ", ".join(sorted(columns))
        limits = ["closed_season_id = %(closed)s", "basis = ANY(%(bases)s)"]
        limits += ["day >= %(first_on)s"] if window.first_on else []
        limits += ["day <= %(last_on)s"] if window.last_on else []
        return Relation(
            sql=f"SELECT {chosen} FROM {CLOSED} WHERE {' AND '.join(limits)}",
            params={
                "closed": self.closed.pk,
                "bases": [str(basis) for basis in window.bases],
                "first_on": window.first_on,
                "last_on": window.last_on,
            },
        )

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        rows = self._stands(by).annotate(
            of=F("farm_id"),
            of_species=F("species_id"),
            season_year=F("closed_season__season_year"),
        )
        return _stands(rows)

    def _stands(self, by: str) -> QuerySet[ClosedStand]:
        return ClosedStand.objects.filter(closed_season=self.closed, by=by)


CLOSED = """(
    SELECT kilos.*, closed.season_year
    FROM planning_closedkilos kilos
    JOIN planning_closedseason closed ON closed.id = kilos.closed_season_id
) closed_kilos"""


def _stands(rows: QuerySet[Any]) -> list[Stand]:
    """From rows that name the member `of` whom they are, and the `of_species` of a cultivar."""
    found = rows.values_list(
        "of", "season_year", "block_id", "cultivar_id", "of_species", "bearing_trees", "area_m2"
    )
    return [
        Stand(
            member_id=member_id,
            year=year,
            block_id=block_id,
            cultivar_id=cultivar_id,
            species_id=species_id,
            bearing_trees=trees,
            area_m2=area_m2,
        )
        for member_id, year, block_id, cultivar_id, species_id, trees, area_m2 in found
    ]
