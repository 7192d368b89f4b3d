"""The rules that a staged row must keep, each one statement over all rows.

A broken rule is a problem of the row, in the sender's own terms. Nothing is written yet.
"""

from records.importing.staging import Staged

# What is wrong with a whole row of several weighings is told once. Where a sheet has no heading of
# its own for what is wrong, it stands below a wide one.
PROBLEM_OF = """
WITH broken AS (
    SELECT s.entry, s.farm_id, s.sheet, s.row,
           coalesce(%(heading)s::jsonb ->> s.sheet, s."column") AS heading,
           left({value}, 120) AS value, {code} AS code, {detail} AS detail
    FROM records_stagedweighing s {join}
    WHERE s.import_id = %(import)s AND {broken}
){mark}
INSERT INTO records_importproblem
    (farm_id, harvest_import_id, sheet, row, "column", code, value, detail, is_warning)
SELECT DISTINCT coalesce(%(farm)s::uuid, farm_id), %(import)s::uuid, left(sheet, 80), row,
       left(heading, 200), code, value, detail, {warning}
FROM broken ORDER BY 3, 4
"""
REFUSE = """,
refused AS (
    UPDATE records_stagedweighing s SET is_refused = true, is_new = false, is_changed = false
    FROM broken b WHERE s.import_id = %(import)s AND s.entry = b.entry
)"""


def problem_of(
    *,
    broken: str,
    code: str,
    detail: str,
    value: str,
    join: str = "",
    is_warning: bool = False,
) -> str:
    """A statement that notes a problem for each entry on which `broken` holds.

    Such entries are refused, unless it is but a warning.
    """
    return PROBLEM_OF.format(
        broken=broken,
        code=code,
        detail=detail,
        value=value,
        join=join,
        mark="" if is_warning else REFUSE,
        warning=str(is_warning).lower(),
    )


OTHER_FARM = problem_of(
    broken="s.farm <> '' AND lower(s.farm) NOT IN (lower(f.code), lower(f.name))",
    join="JOIN records_farm f ON f.id = %(farm)s",
    code="'other-farm'",
    value="s.farm",
    detail="format('This import is for farm %%s; send rows of other farms on their own.', f.code)",
)

LINE_MISSING = problem_of(
    broken="s.line = ''",
    code="'line-missing'",
    value="''",
    detail="'Other rows have line numbers, by which they are known again. Give this one its own.'",
)

LINE_REPEATED = problem_of(
    broken="s.line <> '' AND (s.sheet, s.row) <> (f.sheet, f.row)",
    join="""JOIN (SELECT DISTINCT ON (farm_id, docket, line) farm_id, docket, line, sheet, row
                  FROM records_stagedweighing WHERE import_id = %(import)s
                  ORDER BY farm_id, docket, line, entry) f USING (farm_id, docket, line)""",
    code="'line-repeated'",
    value="s.line",
    detail="""format('Row %%s%%s of the same docket has this line number already.', f.row,
              CASE WHEN f.sheet <> s.sheet THEN ' of sheet ' || f.sheet END)""",
)

# Staff and apps of a co-op write only what is dated within a membership that lets them.
MEMBER_ON = """EXISTS (
    SELECT FROM records_membership m
    WHERE m.farm_id = s.farm_id AND m.co_op_id = %(co_op)s AND m.staff_may_edit
      AND m.starts_on <= {day} AND (m.ends_on IS NULL OR m.ends_on >= {day}))"""

# In a file of many farms it matters whose row it is.
THE_FARM = "CASE WHEN %(farm)s::uuid IS NULL THEN 'farm ' || s.farm ELSE 'the farm' END"

OUTSIDE_MEMBERSHIP = problem_of(
    broken=f"s.farm_id IS NOT NULL AND NOT {MEMBER_ON.format(day='s.picked_on')}",
    code="'outside-membership'",
    value="s.picked_on::text",
    detail=f"""format('On %%s %%s was no member whose weighings the co-op may write.',
              s.picked_on, {THE_FARM})""",
)

STORED_OUTSIDE_MEMBERSHIP = problem_of(
    broken=f"NOT {MEMBER_ON.format(day='h.picked_on')}",
    join="JOIN records_harvestweight h ON h.id = s.weight_id",
    code="'outside-membership'",
    value="s.picked_on::text",
    detail="""format('This line stands for a weighing of %%s, when the farm was no member whose '
              'weighings the co-op may write.', h.picked_on)""",
)

TARE_ABOVE_GROSS = problem_of(
    broken="s.net_g < 0",
    code="'tare-above-gross'",
    value="concat_ws(' ', trim_scale(s.weight), s.unit)",
    detail="'The containers weigh more than the scale showed.'",
)

ABSURD_ESTIMATE = problem_of(
    broken="s.estimated_g > 2147483647",
    code="'too-many-containers'",
    value="s.containers::text",
    detail="'So many containers of this kind would hold more than two thousand tonnes.'",
)


def check_rows(staged: Staged, *, by_line: bool) -> None:
    """What can be said of a row by itself; refuses the rows that anything is wrong with.

    `by_line` says that line numbers tell the rows apart.
    """
    if staged.harvest_import.farm_id:
        staged.run(OTHER_FARM, heading=staged.heading("farm"))
    if by_line:
        staged.run(LINE_MISSING, heading=staged.heading("line"))
        staged.run(LINE_REPEATED, heading=staged.heading("line"))
    if co_op := staged.harvest_import.co_op_id:
        staged.run(OUTSIDE_MEMBERSHIP, heading=staged.heading("picked_on"), co_op=co_op)


def check_outcome(staged: Staged) -> None:
    """What can be said only of the weighing that a row becomes; refuses as `check_rows` does."""
    staged.run(TARE_ABOVE_GROSS, heading=staged.heading("gross", "weight", "net"))
    staged.run(ABSURD_ESTIMATE, heading=staged.heading("containers"))
    if co_op := staged.harvest_import.co_op_id:
        staged.run(STORED_OUTSIDE_MEMBERSHIP, heading=staged.heading("picked_on"), co_op=co_op)
