"""Weighings that came in before by a file of the series with other columns.

Their keys differ then: a list with line numbers became a wide sheet, a docket is no longer given.
Such a weighing is known again by its date and block, by tree, cultivar, grade and docket as far as
the sheet speaks of them, and by its weight and counts. If only the weight differs, it is a
corrected one, provided that as many are left on either side and none of them has a tree, cultivar
or grade that the sheet does not speak of. What may have come in before, but cannot be told, is
taken for new with a warning.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, NamedTuple

from records.choices import GRAMS
from records.importing.checks import problem_of
from records.importing.staging import Staged

GRAMS_OF_UNIT = " ".join(f"WHEN '{unit}' THEN {grams}" for unit, grams in GRAMS.items())
# Whole grams, a half rounded to the even one; `round` alone would round it away from zero.
GRAMS_OF = f"""(SELECT CASE WHEN x - floor(x) = 0.5 THEN 2 * round(x / 2) ELSE round(x) END
    FROM (SELECT {{row}}.weight * CASE {{row}}.unit {GRAMS_OF_UNIT} END) g (x))::bigint"""
SCALE_G = GRAMS_OF.format(row="s")

STORED_TREES = """ARRAY(SELECT l.tree_id FROM records_harvestweighttree l
                         WHERE l.weight_id = h.id ORDER BY l.tree_id)"""


class Trait(NamedTuple):
    """What a weighing may be known by: the columns that speak of it, as staged and as stored."""

    columns: frozenset[str]
    staged: str
    stored: str
    nothing: str


TRAITS = (
    Trait(
        frozenset({"tree", "row", "position"}),
        "s.tree_ids::text",
        f"{STORED_TREES}::text",
        f"cardinality({STORED_TREES}) = 0",
    ),
    Trait(
        frozenset({"cultivar"}),
        "s.entered_cultivar_id",
        "h.entered_cultivar_id",
        "h.entered_cultivar_id IS NULL",
    ),
    Trait(frozenset({"grade"}), "s.grade_id", "h.grade_id", "h.grade_id IS NULL"),
)
DOCKET = Trait(frozenset({"docket"}), "s.docket", "h.docket", "h.docket = ''")

FREE = """s.import_id = %(import)s AND NOT s.is_refused AND s.weight_id IS NULL
    AND s.sheet = ANY (%(sheets)s)"""
# A line that another line of the file does not repeat is simply not in it.
EARLIER = """
FROM records_harvestweight h
JOIN records_harvestimport i ON i.id = h.harvest_import_id AND i.series = %(series)s
WHERE h.farm_id = ANY (%(farms)s::uuid[]) AND h.retired_on IS NULL
  AND h.picked_on BETWEEN %(first)s AND %(last)s
  AND NOT (%(by_line)s AND h.import_key LIKE 'line:%%')
  AND NOT EXISTS (SELECT FROM records_stagedweighing t
                  WHERE t.import_id = %(import)s AND t.weight_id = h.id)
"""
SPAN = f"""
SELECT min(picked_on), max(picked_on), array_agg(DISTINCT farm_id)
FROM records_stagedweighing s WHERE {FREE}
"""
ANY_EARLIER = f"SELECT EXISTS (SELECT {EARLIER})"

PAIR = f"""
WITH free AS (
    SELECT s.entry, s.picked_on, s.block_id, jsonb_build_array({{staged}}) AS known,
           jsonb_build_array({SCALE_G}, s.containers, s.fruit_count) AS amount
    FROM records_stagedweighing s WHERE {FREE}
),
earlier AS (
    SELECT h.id, h.version, h.picked_on, h.block_id, jsonb_build_array({{stored}}) AS known,
           jsonb_build_array({GRAMS_OF.format(row="h")}, h.containers, h.fruit_count) AS amount
    {EARLIER} AND {{only}}
),
f AS (
    SELECT *, row_number() OVER (alike ORDER BY entry) AS which, count(*) OVER alike AS of
    FROM free WINDOW alike AS (PARTITION BY {{by}})
),
e AS (
    SELECT *, row_number() OVER (alike ORDER BY id) AS which, count(*) OVER alike AS of
    FROM earlier WINDOW alike AS (PARTITION BY {{by}})
)
UPDATE records_stagedweighing s SET weight_id = e.id, known_version = e.version
FROM f JOIN e USING ({{by}}, which)
WHERE s.import_id = %(import)s AND s.entry = f.entry AND ({{is_exact}} OR f.of = e.of)
"""
KNOWN_BY = "picked_on, block_id, known"

MAYBE_SENT_BEFORE = problem_of(
    join=f"""JOIN (SELECT DISTINCT h.picked_on, h.block_id, jsonb_build_array({{stored}}) AS known
                  {EARLIER}) e
        ON (e.picked_on, e.block_id, e.known)
         = (s.picked_on, s.block_id, jsonb_build_array({{staged}}))""",
    broken="NOT s.is_refused AND s.weight_id IS NULL AND s.sheet = ANY (%(sheets)s)",
    code="'maybe-sent-before'",
    value="s.picked_on::text",
    detail="""'A file of the series with other columns has weighings of this day and block that '
              'are not in this one. If this is one of them, it now counts twice: send the file '
              'as a replacement.'""",
    is_warning=True,
)


def match(staged: Staged, *, by_line: bool) -> None:
    """Find the stored weighings of entries whose keys are not known; warn of those in doubt."""
    layouts: dict[frozenset[str], list[str]] = defaultdict(list)
    for sheet, said in staged.said.items():
        layouts[said].append(sheet)
    for said, sheets in layouts.items():
        first, last, farms = staged.rows(SPAN, sheets=sheets)[0]
        days = {"first": first, "last": last}
        where = {"sheets": sheets, "by_line": by_line, "farms": farms, **days}
        if first and staged.rows(ANY_EARLIER, **where)[0][0]:
            _match(staged, said, where)


def _match(staged: Staged, said: frozenset[str], where: dict[str, Any]) -> None:
    traits = [trait for trait in TRAITS if not said.isdisjoint(trait.columns)]
    unsaid = [trait.nothing for trait in TRAITS if trait not in traits]
    dockets = [(DOCKET, "true"), (None, DOCKET.nothing)]
    for is_exact in (True, False):
        for docket, only in dockets if "docket" in said else [(None, "true")]:
            known = [*traits, docket] if docket else traits
            conditions = " AND ".join([only, *([] if is_exact else unsaid)])
            by = f"{KNOWN_BY}, amount" if is_exact else KNOWN_BY
            statement = PAIR.format(
                **_sides(known), only=conditions, by=by, is_exact=str(is_exact).lower()
            )
            staged.run(statement, **where)
    if staged.harvest_import.replaces:
        return  # what the file no longer has is retired
    known = [*traits, DOCKET] if "docket" in said else traits
    warning = MAYBE_SENT_BEFORE.format(**_sides(known))
    staged.run(warning, heading=staged.heading("picked_on"), **where)


def _sides(traits: Sequence[Trait]) -> dict[str, str]:
    return {
        "staged": ", ".join(trait.staged for trait in traits),
        "stored": ", ".join(trait.stored for trait in traits),
    }
