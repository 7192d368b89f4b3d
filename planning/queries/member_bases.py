"""By which basis each member's season goes: the co-op's, or what stands in for it.

A basis is known in a season that has any row of it. Without any intake the farm's own weighings
count, even where there are none.
"""

from collections.abc import Collection
from uuid import UUID

from planning.compute.bases import Basis
from planning.queries.kilo_relations import BY_WEIGHINGS, MemberBases, Question, Whose, Window
from records.models import Intake

Season = tuple[UUID, int]  # a farm and the year in which its season starts


def member_bases(whose: Whose, years: Collection[int] | None = None) -> MemberBases:
    """Of all seasons, or of those of some years."""
    if not Intake.objects.filter(farm_id__in=whose.farm_ids).exists():
        return BY_WEIGHINGS
    window = Window(years=None if years is None else tuple(sorted(years)))
    received = _seasons_with(whose, window, Basis.RECEIVED)
    if whose.chosen is Basis.PICKED:
        others = dict.fromkeys(_without_weighings(whose, received), Basis.RECEIVED)
        return MemberBases(default=Basis.PICKED, others=others)
    others = dict.fromkeys(received, Basis.RECEIVED)
    if whose.chosen is Basis.PACKED:
        others |= dict.fromkeys(_seasons_with(whose, window, Basis.PACKED), Basis.PACKED)
    return MemberBases(default=Basis.PICKED, others=others)


def _seasons_with(whose: Whose, window: Window, basis: Basis) -> list[Season]:
    of_basis = Window(years=window.years, bases=(basis,))
    rows = Question(whose=whose, window=of_basis, columns=("farm_id", "season_year")).relation()
    return rows.rows("SELECT DISTINCT farm_id, season_year FROM {kilos}")


def _without_weighings(whose: Whose, seasons: Collection[Season]) -> list[Season]:
    """Those of the seasons in which the farm weighed nothing."""
    if not seasons:
        return []
    years = tuple(sorted({year for _, year in seasons}))
    weighings = Question(
        whose=whose,
        window=Window(years=years, bases=(Basis.PICKED,)),
        columns=("farm_id", "season_year"),
    ).relation()
    # The limit keeps each season a look-up of its own.
    return weighings.rows(
        """
        SELECT asked.farm_id, asked.year
        FROM unnest(%(asked_farms)s::uuid[], %(asked_years)s::int[]) AS asked (farm_id, year)
        LEFT JOIN LATERAL (
            SELECT true AS found FROM {kilos}
            WHERE kilos.farm_id = asked.farm_id AND kilos.season_year = asked.year
            LIMIT 1
        ) weighed ON true
        WHERE weighed.found IS NULL
        """,
        asked_farms=[farm_id for farm_id, _ in seasons],
        asked_years=[year for _, year in seasons],
    )
