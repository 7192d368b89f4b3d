"""Digests of what a farm's summaries rest on, to tell which seasons have moved.

A digest adds up hashes of rows and versions, so that whatever is added, changed, retired, moved to
another season or deleted shows, by whatever way it came. What belongs to a day (weighings, intakes
with what sorting found, timed work) is digested by season, the rest for the farm as a whole: trees
and blocks, crops, grades, memberships, season starts. Where fruit was only counted, its kilos may
rest on the mean of all seasons, and the weighings behind that mean count among the rest.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection

from records.calendars import calendar
from records.models import Farm


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Digests of one farm: of the whole, and by the year in which a season starts."""

    of_farm: str
    of_seasons: Mapping[int, str]

    def moved_since(self, earlier: "Seen | None") -> set[int] | None:
        """The years of the seasons that are to be built anew; None for all of them."""
        if earlier is None or earlier.of_farm != self.of_farm:
            return None
        years = {*self.of_seasons, *earlier.of_seasons}
        return {year for year in years if self.of_seasons.get(year) != earlier.of_seasons.get(year)}


def _hash(*values: str) -> str:
    return f"hashtextextended(concat_ws('/', {', '.join(values)}), 0)"


def _versioned(table: str) -> str:
    return f"""SELECT farm_id, {_hash("id", "version")} AS hash
    FROM {table} WHERE farm_id = ANY(%(farms)s)"""


def _work(table: str, day: str) -> str:
    return f"""SELECT farm_id, block_id, {day} AS day, {_hash("id", "version")} AS hash
    FROM {table} WHERE farm_id = ANY(%(farms)s) AND minutes > 0"""


SEASON_DAY = "coalesce(crop.bloom_began_on, crop.opened_on, w.picked_on)"
DAYS = f"""
SELECT farm_id, block_id, day, sum(hash) FROM (
    SELECT w.farm_id, w.block_id, {SEASON_DAY} AS day, {_hash("w.id", "w.version")} AS hash
    FROM records_harvestweight w LEFT JOIN records_crop crop ON crop.id = w.crop_id
    WHERE w.farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT w.farm_id, w.block_id, {SEASON_DAY}, {_hash("w.id", "link.tree_id")}
    FROM records_harvestweighttree link
    JOIN records_harvestweight w ON w.id = link.weight_id
    LEFT JOIN records_crop crop ON crop.id = w.crop_id
    WHERE link.farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT farm_id, block_id, received_on, {_hash("id", "version")}
    FROM records_intake WHERE farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT i.farm_id, i.block_id, i.received_on, {_hash("s.id", "s.*::text")}
    FROM records_sortedweight s JOIN records_intake i ON i.id = s.intake_id
    WHERE s.farm_id = ANY(%(farms)s)
    UNION ALL {_work("records_tasklog", "done_on")}
    UNION ALL {_work("records_pollinationround", "pollinated_on")}
    UNION ALL {_work("records_fruitcount", "counted_on")}
) records
GROUP BY farm_id, block_id, day
"""
OF_FARMS = (
    "records_block",
    "records_tree",
    "records_graft",
    "records_plantingline",
    "records_crop",
    "records_grade",
    "records_grademapping",
    "records_membership",
    "records_seasonstart",
)
PLANTED = " UNION ".join(
    f"SELECT farm_id, cultivar_id FROM {table} WHERE farm_id = ANY(%(farms)s)"
    for table in ("records_tree", "records_graft", "records_plantingline")
)
WHOLE = f"""
SELECT farm_id, sum(hash) FROM (
    {" UNION ALL ".join(map(_versioned, OF_FARMS))}
    UNION ALL
    SELECT id, {_hash("id", "version")} FROM records_farm WHERE id = ANY(%(farms)s)
    UNION ALL
    SELECT farm.id, {_hash("grade.id", "grade.version")}
    FROM records_coopgrade grade, unnest(%(farms)s::uuid[]) AS farm (id)
    UNION ALL
    SELECT member.farm_id, {_hash("co_op.id", "co_op.version")}
    FROM records_coop co_op JOIN records_membership member ON member.co_op_id = co_op.id
    WHERE member.farm_id = ANY(%(farms)s)
    UNION ALL
    SELECT planted.farm_id, {_hash("cultivar.id", "cultivar.version", "species.version")}
    FROM ({PLANTED}) planted
    JOIN records_cultivar cultivar ON cultivar.id = planted.cultivar_id
    JOIN records_species species ON species.id = cultivar.species_id
    UNION ALL
    SELECT w.farm_id, {_hash("'mean'", "w.id", "w.version")}
    FROM (
        SELECT DISTINCT farm_id FROM records_harvestweight
        WHERE farm_id = ANY(%(farms)s) AND retired_on IS NULL AND fruit_count IS NOT NULL
          AND net_g IS NULL AND estimated_from_containers_g IS NULL
    ) bare
    JOIN records_harvestweight w USING (farm_id)
    WHERE w.net_g IS NOT NULL AND w.fruit_count IS NOT NULL
) records
GROUP BY farm_id
"""


def seen_now(farms: Sequence[Farm]) -> dict[UUID, Seen]:
    """Of each farm, in three queries."""
    ids = [farm.pk for farm in farms]
    of_seasons, of_farms = _by_season(farms, ids), dict(_rows(WHOLE, ids))
    return {
        farm_id: Seen(
            of_farm=str(of_farms[farm_id]),
            of_seasons={year: str(total) for year, total in of_seasons[farm_id].items()},
        )
        for farm_id in ids
    }


def _by_season(farms: Sequence[Farm], ids: Collection[UUID]) -> dict[UUID, Counter[int]]:
    seasons = calendar(farms)
    totals: dict[UUID, Counter[int]] = defaultdict(Counter)
    for farm_id, block_id, day, total in _rows(DAYS, ids):
        totals[farm_id][seasons.season_of(farm_id, block_id, day).year] += int(total)
    return totals


def _rows(statement: str, farm_ids: Collection[UUID]) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(statement, {"farms": list(farm_ids)})
        return cursor.fetchall()
