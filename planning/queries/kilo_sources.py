"""What each column of kilos is, of weighings, of intakes and of what sorting found in these.

In SQL: `w` is a weighing, `i` an intake, `s` a line of a sorted intake. The other names are joined
only where a column needs them (`planning.queries.kilos`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from planning.compute.bases import Basis

# Grams of what met no scale: of containers by their usual weight, else of fruit by the mean.
BY_CONTAINERS = "coalesce(w.estimated_from_containers_g, 0)"
BY_FRUIT = """coalesce(w.estimated_from_containers_g,
    round(w.fruit_count * coalesce(season_mean.mean_g, farm_mean.mean_g))::bigint, 0)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Tables of kilos: which rows count, how they are dated, and what the columns are in them."""

    basis: Basis
    tables: str
    alias: str
    day: str
    season_day: str
    kept: str
    grade: str | None
    columns: Mapping[str, str]

    @property
    def farm_id(self) -> str:
        return f"{self.alias}.farm_id"

    @property
    def block_id(self) -> str:
        return f"{self.alias}.block_id"

    @property
    def cultivar_id(self) -> str:
        return f"{self.alias}.cultivar_id"


def _named(alias: str, day: str, basis: Basis) -> dict[str, str]:
    return {
        "farm_id": f"{alias}.farm_id",
        "block_id": f"{alias}.block_id",
        "cultivar_id": f"{alias}.cultivar_id",
        "species_id": "cultivar.species_id",
        "day": day,
        "basis": f"'{basis}'::text",
        "records": "1",
        "docket": f"{alias}.docket",
        "row_id": f"{alias}.id",
    }


# A packing shed knows neither crop nor number of fruit, and always weighs.
NO_FRUIT = {
    "crop_id": "NULL::uuid",
    "crop_name": "NULL::text",
    "estimated_g": "0::bigint",
    "fruit_count": "0",
    "counted_g": "0",
    "counted_fruit": "0",
}
UNGRADED = {
    "grade_id": "NULL::uuid",
    "co_op_grade_id": "NULL::uuid",
    "reject_reason": "''::text",
    "marketable": "NULL::boolean",
}

PICKED = Source(
    basis=Basis.PICKED,
    tables="records_harvestweight w",
    alias="w",
    day="w.picked_on",
    season_day="w.picked_on",
    kept="w.retired_on IS NULL",
    grade="w.grade_id",
    columns={
        **_named("w", "w.picked_on", Basis.PICKED),
        "grade_id": "w.grade_id",
        "co_op_grade_id": "{mapped_to}",
        "reject_reason": "''::text",
        "marketable": "{marketable}",
        "crop_id": "w.crop_id",
        "crop_name": "crop.name",
        "net_g": "coalesce(w.net_g, 0)",
        "fruit_count": "coalesce(w.fruit_count, 0)",
        "counted_g": "CASE WHEN w.fruit_count IS NOT NULL THEN coalesce(w.net_g, 0) ELSE 0 END",
        "counted_fruit": "CASE WHEN w.net_g IS NOT NULL THEN coalesce(w.fruit_count, 0) ELSE 0 END",
    },
)
RECEIVED = Source(
    basis=Basis.RECEIVED,
    tables="records_intake i",
    alias="i",
    day="i.received_on",
    season_day="i.received_on",
    kept="i.retired_on IS NULL",
    grade=None,
    columns={
        **_named("i", "i.received_on", Basis.RECEIVED),
        **UNGRADED,
        **NO_FRUIT,
        "net_g": "i.net_g",
    },
)
PACKED = Source(
    basis=Basis.PACKED,
    tables="records_sortedweight s JOIN records_intake i ON i.id = s.intake_id",
    alias="i",
    day="i.received_on",
    season_day="i.received_on",
    kept="i.retired_on IS NULL",
    grade="s.grade_id",
    columns={
        **_named("i", "i.received_on", Basis.PACKED),
        **NO_FRUIT,
        "grade_id": "s.grade_id",
        "co_op_grade_id": "coalesce(s.co_op_grade_id, {mapped_to})",
        "reject_reason": "s.reject_reason",
        "marketable": """CASE WHEN s.reject_reason <> '' THEN false
            ELSE coalesce(sorted_as.is_marketable, {marketable}) END""",
        "net_g": "s.net_g",
    },
)
# Weighings with their crop, whose season is theirs on whatever day they were picked.
PICKED_WITH_CROP = replace(
    PICKED,
    tables=f"{PICKED.tables} LEFT JOIN records_crop crop ON crop.id = w.crop_id",
    season_day="coalesce(crop.bloom_began_on, crop.opened_on, w.picked_on)",
)
# The same in two parts, each of which an index finds for seasons.
PICKED_OF_CROPS = replace(
    PICKED,
    tables="""records_crop crop
        JOIN records_harvestweight w ON w.crop_id = crop.id AND w.farm_id = crop.farm_id""",
    season_day="coalesce(crop.bloom_began_on, crop.opened_on)",
)
PICKED_WITHOUT_CROP = replace(
    PICKED,
    kept=f"{PICKED.kept} AND w.crop_id IS NULL",
    columns={**PICKED.columns, "crop_name": "NULL::text"},
)
# Which crops are of a season, and the days of fruit without a crop, by farms of one calendar.
SEASON_OF_FARMS = """farm_id = ANY(%(farms_{n})s)
    AND {day} BETWEEN %(first_{n})s AND %(last_{n})s"""
CROPS_OF_SEASON = "SELECT id FROM records_crop WHERE {seasons}"
OF_SEASON = "(w.crop_id = ANY(%(season_crops)s) OR (w.crop_id IS NULL AND ({seasons})))"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grades:
    """How a row's grade is looked up, and what it counts as then."""

    join: str
    mapped_to: str
    marketable: str


# A farm's grades with what they count as among a co-op's, from a day on. One that is not mapped
# stays the farm's own; of two mappings of one day the later code holds.
MAPPED_ANEW = Grades(
    join="""LEFT JOIN (
    SELECT grade_id, co_op_grade_id, marketable, applies_from,
           lead(applies_from, 1, 'infinity'::date)
               OVER (PARTITION BY grade_id ORDER BY applies_from, code) AS ends_before
    FROM (
        SELECT id AS grade_id, NULL::uuid AS co_op_grade_id, is_marketable AS marketable,
               '-infinity'::date AS applies_from, '' AS code
        FROM records_grade WHERE farm_id = ANY(%(farms)s)
        UNION ALL
        SELECT m.grade_id, m.co_op_grade_id, c.is_marketable, m.applies_from, c.code
        FROM records_grademapping m JOIN records_coopgrade c ON c.id = m.co_op_grade_id
        WHERE c.co_op_id = %(co_op)s AND m.farm_id = ANY(%(farms)s)
    ) named
) grade ON grade.grade_id = {grade}
    AND {day} >= grade.applies_from AND {day} < grade.ends_before""",
    mapped_to="grade.co_op_grade_id",
    marketable="grade.marketable",
)
# The same where no grade is mapped a second time: no row is met twice.
MAPPED_ONCE = Grades(
    join="""LEFT JOIN (
    SELECT g.id AS grade_id, g.is_marketable, m.applies_from, m.co_op_grade_id,
           c.is_marketable AS is_marketable_then
    FROM records_grade g
    LEFT JOIN (
        records_grademapping m
        JOIN records_coopgrade c ON c.id = m.co_op_grade_id AND c.co_op_id = %(co_op)s
    ) ON m.grade_id = g.id
) grade ON grade.grade_id = {grade}""",
    mapped_to="CASE WHEN {day} >= grade.applies_from THEN grade.co_op_grade_id END",
    marketable="""CASE WHEN {day} >= grade.applies_from THEN grade.is_marketable_then
        ELSE grade.is_marketable END""",
)
FARMS_OWN = Grades(
    join="LEFT JOIN records_grade grade ON grade.id = {grade}",
    mapped_to="NULL::uuid",
    marketable="grade.is_marketable",
)
SORTED_AS = "LEFT JOIN records_coopgrade sorted_as ON sorted_as.id = s.co_op_grade_id"
CULTIVAR = "LEFT JOIN records_cultivar cultivar ON cultivar.id = {cultivar_id}"
MEMBERSHIP = """JOIN records_membership member ON member.co_op_id = %(co_op)s
    AND member.farm_id = {farm_id} AND {day} >= member.starts_on
    AND (member.ends_on IS NULL OR {day} <= member.ends_on)"""
SEASON = """JOIN unnest(%(season_places)s::uuid[], %(place_calendars)s::int[])
    AS place (id, calendar) ON place.id = {place}
JOIN unnest(%(season_calendars)s::int[], %(season_years)s::int[], %(season_firsts)s::date[],
    %(season_lasts)s::date[]) AS season (calendar, year, starts_on, ends_on)
    ON season.calendar = place.calendar
    AND {season_day} BETWEEN season.starts_on AND season.ends_on"""
COMMON_SEASON = """JOIN unnest(%(season_years)s::int[], %(season_firsts)s::date[],
    %(season_lasts)s::date[]) AS season (year, starts_on, ends_on)
    ON {season_day} BETWEEN season.starts_on AND season.ends_on"""
MEMBER_BASIS = """LEFT JOIN unnest(%(basis_farms)s::uuid[], %(basis_years)s::int[],
    %(basis_names)s::text[]) AS member_basis (farm_id, year, name)
    ON member_basis.farm_id = {farm_id} AND member_basis.year = {season_year}"""
FRUIT_MEANS = """LEFT JOIN unnest(%(mean_farms)s::uuid[], %(mean_years)s::int[],
    %(mean_cultivars)s::uuid[], %(season_means)s::float8[])
    AS season_mean (farm_id, year, cultivar_id, mean_g)
    ON season_mean.farm_id = w.farm_id AND season_mean.year = {season_year}
    AND season_mean.cultivar_id = coalesce(w.cultivar_id, %(no_cultivar)s)
LEFT JOIN unnest(%(whole_farms)s::uuid[], %(farm_means)s::float8[]) AS farm_mean (farm_id, mean_g)
    ON farm_mean.farm_id = w.farm_id"""
