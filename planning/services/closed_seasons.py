"""Closing a co-op's season: its kilos, trees and hectares are kept as they stand."""

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import asdict

from django.db import transaction

from planning.compute.harvest_table import Stand
from planning.models import ClosedSeason, ClosedStand
from planning.models.roll_ups import SUMS
from planning.queries.kilo_relations import MemberBases
from planning.queries.kilo_tables import LiveKilos
from planning.queries.kilos import Window, whose_of
from planning.services.closing_checks import Closing, Objection, objections
from records.services.saving.faults import fault

BY = ("member", "cultivar", "block")
KEYS = (
    "farm_id",
    "block_id",
    "cultivar_id",
    "species_id",
    "grade_id",
    "co_op_grade_id",
    "reject_reason",
    "marketable",
    "crop_name",
    "day",
    "basis",
    "member_basis",
)
FREEZE = f"""
INSERT INTO planning_closedkilos (closed_season_id, {", ".join(KEYS + SUMS)})
SELECT %(closed)s, {", ".join(KEYS)}, {", ".join(f"sum({name})" for name in SUMS)}
FROM {{kilos}} GROUP BY {", ".join(KEYS)}
"""


def speaks_against(season: ClosedSeason, today_in: Callable[[str], dt.date]) -> list[Objection]:
    """What should be settled before the season is closed."""
    return objections(
        Closing(
            co_op=season.co_op,
            year=season.season_year,
            whose=whose_of(season.co_op),
            today_in=today_in,
        )
    )


@transaction.atomic
def close_season(
    season: ClosedSeason, *, despite: bool, today_in: Callable[[str], dt.date]
) -> ClosedSeason:
    """Keep the season as it stands now; `despite` what speaks against it, which is kept too."""
    found = speaks_against(season, today_in)
    if found and not despite:
        text = " ".join(each.text for each in found)
        raise fault("despite", f"{text} Close it all the same with `despite`.", "objections")
    season.basis = season.co_op.basis
    season.objections = [asdict(each) for each in found]
    season.save(force_insert=True)
    if not _freeze(season):
        raise fault("season_year", "No member has any kilos in this season.", "no-kilos")
    return season


def _freeze(season: ClosedSeason) -> int:
    """How many rows of kilos are kept."""
    kilos, window = LiveKilos(whose=whose_of(season.co_op)), Window(years=(season.season_year,))
    bases = kilos.bases(window)
    kept = kilos.relation(window, (*KEYS, *SUMS), bases).write(FREEZE, closed=season.pk)
    for by in BY:
        stands = kilos.stands(season.season_year, by=by)
        if by == "member":
            stands = _with_all_members(season, stands)
        ClosedStand.objects.bulk_create(_closed(season, by, stands, bases), batch_size=5_000)
    return kept


def _with_all_members(season: ClosedSeason, stands: list[Stand]) -> list[Stand]:
    """Also members whose season has not been summed up yet, whose trees are not known so far."""
    known = {stand.member_id for stand in stands}
    others = season.kilos.exclude(farm_id__in=known).values_list("farm_id", flat=True).distinct()
    return [
        *stands,
        *(
            Stand(member_id=farm_id, year=season.season_year, bearing_trees=None, area_m2=None)
            for farm_id in others
        ),
    ]


def _closed(
    season: ClosedSeason, by: str, stands: Iterable[Stand], bases: MemberBases
) -> Iterable[ClosedStand]:
    return (
        ClosedStand(
            closed_season=season,
            by=by,
            farm_id=stand.member_id,
            block_id=stand.block_id,
            cultivar_id=stand.cultivar_id,
            species_id=stand.species_id,
            member_basis=bases.of(stand.member_id, stand.year),
            bearing_trees=stand.bearing_trees,
            area_m2=stand.area_m2,
        )
        for stand in stands
    )
