"""What stood on a block on a day: trees by cultivar, those that bear, and the area they cover.

A tree bears when it stands on the day, is not marked non-bearing, and its full years since
planting reach the bearing age of its cultivar, else of its species. Without a planting date or
a known age nothing speaks against it, and it counts as bearing. Planting lines know only the
year of planting.

A block's numbers come from its listed trees where there are any, else from its planting lines.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.db import connection

from records.models import PlantingLine, Tree

Place = tuple[UUID, int]  # a block and the year its season starts in


class Source(StrEnum):
    """Where the numbers of a stand come from."""

    TREES = "trees"
    PLANTING_LINES = "planting lines"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class StandKey:
    """A block on the day at which a season's stand is taken."""

    block_id: UUID
    season_year: int
    day: dt.date

    @property
    def place(self) -> Place:
        return self.block_id, self.season_year


@dataclass(frozen=True, slots=True, kw_only=True)
class CultivarStand:
    """Trees of one cultivar on a block; `area_m2` as its planting lines say."""

    standing: int
    bearing: int
    area_m2: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A block's trees on one day; those of mixed or unknown cultivar stand under None."""

    source: Source
    by_cultivar: Mapping[UUID | None, CultivarStand] = field(default_factory=dict)

    @property
    def bearing_trees(self) -> int | None:
        """None when neither trees nor planting lines are recorded."""
        if self.source is Source.NOTHING:
            return None
        return sum(stand.bearing for stand in self.by_cultivar.values())

    def bearing_trees_of(self, cultivar_id: UUID | None) -> int | None:
        """None when no tree of the cultivar is recorded, or the cultivar is not known."""
        stand = self.by_cultivar.get(cultivar_id)
        return stand.bearing if stand and cultivar_id else None

    def area_m2_of(self, cultivar_id: UUID | None, block_m2: int | None) -> int | None:
        """The block's own area where it has only this cultivar, else that of planting lines."""
        if cultivar_id is None or cultivar_id not in self.by_cultivar:
            return None
        if len(self.by_cultivar) == 1:
            return block_m2 or self.by_cultivar[cultivar_id].area_m2
        return self.by_cultivar[cultivar_id].area_m2


TREES = """
SELECT k.block_id, k.season_year, c.cultivar_id, count(*),
       count(*) FILTER (WHERE NOT t.non_bearing AND (
           t.planted_on + make_interval(
               years => coalesce(cultivar.bearing_age_years, species.bearing_age_years)
           ) <= k.day) IS NOT FALSE)
FROM unnest(%s::uuid[], %s::int[], %s::date[]) AS k (block_id, season_year, day)
JOIN records_tree t ON t.block_id = k.block_id
    AND (t.planted_on IS NULL OR t.planted_on <= k.day)
    AND (t.removed_on IS NULL OR t.removed_on > k.day)
LEFT JOIN LATERAL (
    SELECT count(*) AS number, min(g.share_percent) AS percent,
           min(g.cultivar_id::text)::uuid AS cultivar_id
    FROM records_graft g
    WHERE g.tree_id = t.id AND g.grafted_on <= k.day
      AND (g.removed_on IS NULL OR g.removed_on > k.day)
) grafts ON true
CROSS JOIN LATERAL (
    SELECT CASE WHEN grafts.number = 0 THEN t.cultivar_id
                WHEN grafts.number = 1 AND grafts.percent = 100 THEN grafts.cultivar_id
           END AS cultivar_id
) c
LEFT JOIN records_cultivar cultivar ON cultivar.id = coalesce(c.cultivar_id, t.cultivar_id)
LEFT JOIN records_species species ON species.id = cultivar.species_id
GROUP BY k.block_id, k.season_year, c.cultivar_id
"""


def stands(keys: Collection[StandKey]) -> dict[Place, Stand]:
    """The stand of each block and season, in three queries."""
    block_ids = {key.block_id for key in keys}
    listing = set(
        Tree.objects.filter(block_id__in=block_ids).values_list("block_id", flat=True).distinct()
    )
    of_trees = tree_stands([key for key in keys if key.block_id in listing])
    of_lines = _line_stands([key for key in keys if key.block_id not in listing])
    return of_trees | of_lines


def tree_stands(keys: Sequence[StandKey]) -> dict[Place, Stand]:
    """Of blocks that list their trees, in one query."""
    found: dict[Place, dict[UUID | None, CultivarStand]] = {key.place: {} for key in keys}
    for block_id, season_year, cultivar_id, standing, bearing in _count_trees(keys):
        stand = CultivarStand(standing=standing, bearing=bearing)
        found[block_id, season_year][cultivar_id] = stand
    return {
        place: Stand(source=Source.TREES, by_cultivar=by_cultivar)
        for place, by_cultivar in found.items()
    }


def _count_trees(keys: Sequence[StandKey]) -> list[Any]:
    columns: tuple[list[UUID], list[int], list[dt.date]] = (
        [key.block_id for key in keys],
        [key.season_year for key in keys],
        [key.day for key in keys],
    )
    with connection.cursor() as cursor:
        cursor.execute(TREES, columns)
        return cursor.fetchall()


def _line_stands(keys: Sequence[StandKey]) -> dict[Place, Stand]:
    lines: dict[UUID, list[PlantingLine]] = defaultdict(list)
    rows = PlantingLine.objects.filter(block_id__in={key.block_id for key in keys})
    for line in rows.select_related("cultivar__species"):
        lines[line.block_id].append(line)
    return {key.place: _stand_of_lines(lines[key.block_id], key.day) for key in keys}


def _stand_of_lines(lines: Sequence[PlantingLine], day: dt.date) -> Stand:
    if not lines:
        return Stand(source=Source.NOTHING)
    by_cultivar: dict[UUID | None, list[PlantingLine]] = defaultdict(list)
    for line in lines:
        if stands_on(line, day):
            by_cultivar[line.cultivar_id].append(line)
    return Stand(
        source=Source.PLANTING_LINES,
        by_cultivar={
            cultivar_id: CultivarStand(
                standing=sum(line.tree_count for line in found),
                bearing=sum(line.tree_count for line in found if bears_on(line, day)),
                area_m2=_area_m2(found),
            )
            for cultivar_id, found in by_cultivar.items()
        },
    )


def stands_on(line: PlantingLine, day: dt.date) -> bool:
    planted = line.planted_year is None or line.planted_year <= day.year
    return planted and (line.ended_on is None or line.ended_on > day)


def bears_on(line: PlantingLine, day: dt.date) -> bool:
    """Whether a line that stands on the day is past its bearing age."""
    cultivar = line.cultivar
    age = cultivar.bearing_age_years
    years = cultivar.species.bearing_age_years if age is None else age
    grown = line.planted_year is None or day.year - line.planted_year >= years
    return grown and not line.non_bearing


def _area_m2(lines: Iterable[PlantingLine]) -> int | None:
    """All or nothing: one line without an area leaves the cultivar's unknown."""
    areas = [line.area_m2 for line in lines]
    known = [area for area in areas if area is not None]
    return sum(known) if len(known) == len(areas) else None
