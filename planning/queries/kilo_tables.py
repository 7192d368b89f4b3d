"""Where a table's kilos, trees and hectares come from: the rows as they are now."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from django.db.models import QuerySet
from django.db.models.functions import Coalesce

from planning.compute.bases import Basis
from planning.compute.harvest_table import Stand
from planning.models import SeasonSummary, SummaryLevel
from planning.queries.kilo_relations import MemberBases
from planning.queries.kilos import Relation, Whose, Window, bases_of, kilos_of


class KiloTable(Protocol):
    """Kilos with the columns of `planning.queries.kilos`, and the ground that they grew on."""

    def bases(self, window: Window) -> MemberBases: ...

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation: ...

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        """By member; or by "block" or "cultivar" of each. Of a season, or of all."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveKilos:
    """A co-op's kilos as they are recorded now; trees and hectares as last summed up."""

    whose: Whose

    def bases(self, window: Window) -> MemberBases:
        return bases_of(self.whose, window)

    def relation(self, window: Window, columns: Iterable[str], bases: MemberBases) -> Relation:
        return kilos_of(self.whose, window, columns, bases)

    def stands(self, year: int | None, *, by: str) -> list[Stand]:
        rows = self._summaries(by) if year is None else self._summaries(by).filter(season_year=year)
        return stands_of(rows.annotate(of=Coalesce("member_id", "farm_id")))

    def _summaries(self, by: str) -> QuerySet[SeasonSummary]:
        if by == "block":
            return SeasonSummary.objects.filter(
                farm_id__in=self.whose.farm_ids, level=SummaryLevel.BLOCK, basis=Basis.PICKED
            )
        return SeasonSummary.objects.filter(
            co_op_id=self.whose.co_op_id,
            level=SummaryLevel.MEMBER_CULTIVAR if by == "cultivar" else SummaryLevel.MEMBER,
        )


def stands_of(rows: QuerySet[Any]) -> list[Stand]:
    """From rows that name the member `of` whom they are."""
    names = ("of", "season_year", "block_id", "cultivar_id", "cultivar__species_id")
    found = rows.values_list(*names, "bearing_trees", "area_m2")
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
