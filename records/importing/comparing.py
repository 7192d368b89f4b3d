"""What a file says against what is stored: which weighings are new, changed or unchanged.

A weighing is known again by its key, whatever row and sheet it stands in. Where the file has line
numbers, the key is farm, series, docket, line and, in a wide sheet, the heading's grade, block or
day (a new docket often starts at line 1 again); else farm, series, docket, picking date, block,
tree, cultivar, grade and, among equal ones, which of them it is. What came with other columns
before is sought out in `relaying`.

What a file has no column for stays as it is stored. A row that says just what it said when it last
landed says nothing new, so a correction made since stays.
"""

from collections import defaultdict

import orjson

from records.importing import relaying
from records.importing.checks import problem_of
from records.importing.relaying import SCALE_G, STORED_TREES
from records.importing.staging import Staged

SENT = """encode(sha256(convert_to(jsonb_build_array(
    picked_on, block_id, tree_ids, entered_cultivar_id, grade_id, crop, trim_scale(weight), unit,
    weight_kind, tare_g, containers, container_id, fruit_count, docket, ticket, pickers, minutes,
    note)::text, 'UTF8')), 'hex')"""

HAS_LINES = """
SELECT EXISTS (SELECT FROM records_stagedweighing WHERE import_id = %(import)s AND line <> '')
"""

# The first word tells which kind of key it is.
KEY = """'{kind}:' || left(encode(sha256(convert_to(jsonb_build_array(
        farm_id, %(series)s::text, {parts})::text, 'UTF8')), 'hex'), 56)"""
HEADING = """CASE %(over)s::jsonb ->> sheet
    WHEN 'grade' THEN grade_id::text WHEN 'block' THEN block_id::text
    WHEN 'picked_on' THEN picked_on::text END"""
BY_LINE = KEY.format(kind="line", parts=f"docket, line, {HEADING}")
EQUALS = "docket, picked_on, block_id, tree_ids, entered_cultivar_id, grade_id"
WHICH = f"row_number() OVER (PARTITION BY farm_id, {EQUALS} ORDER BY entry)"
BY_CONTENT = KEY.format(kind="content", parts=f"{EQUALS}, {WHICH}")

# A weighing is known by its key; what it is now tells whether anyone changes it until it lands.
IDENTIFY = f"""
UPDATE records_stagedweighing s
SET import_key = k.key, sent = k.sent, weight_id = h.id, known_version = h.version
FROM (SELECT farm_id, entry, {{key}} AS key, {SENT} AS sent FROM records_stagedweighing
      WHERE import_id = %(import)s AND NOT is_refused) k
LEFT JOIN records_harvestweight h ON h.farm_id = k.farm_id AND h.import_key = k.key
WHERE s.import_id = %(import)s AND s.entry = k.entry
"""

ANY_KNOWN = """
SELECT EXISTS (SELECT FROM records_stagedweighing
               WHERE import_id = %(import)s AND weight_id IS NOT NULL)
"""

# A staged column, and the columns of a sheet any of which speaks for it.
SPOKEN_FOR_BY = {
    "tree_ids": {"tree", "row", "position"},
    "weight": {"weight", "gross", "net"},
    "unit": {"weight", "gross", "net"},
    "weight_kind": {"gross", "net"},
    "tare_g": {"tare", "net"},
    "containers": {"containers"},
    "container_id": {"container"},
    "fruit_count": {"fruit_count"},
    "grade_id": {"grade"},
    "entered_cultivar_id": {"cultivar"},
    "docket": {"docket"},
    "ticket": {"ticket"},
    "pickers": {"pickers"},
    "minutes": {"minutes"},
    "note": {"note"},
}

TAKE_STORED = """
UPDATE records_stagedweighing s SET {assignments}
FROM records_harvestweight h
WHERE s.import_id = %(import)s AND h.id = s.weight_id AND s.sheet = ANY (%(sheets)s)
"""

# A crop that somebody chose stays chosen, unless the file names one.
KEEP_CROP = """
UPDATE records_stagedweighing s SET crop_id = h.crop_id, crop_chosen_by = h.crop_chosen_by
FROM records_harvestweight h
WHERE s.import_id = %(import)s AND h.id = s.weight_id AND s.crop = ''
"""

CONTAINERS_G = "coalesce(s.containers, 0)::bigint * coalesce(w.container_tare_g, 0)"

# As `records.services.saving.weigh` has it: a container's tare is that of the day of weighing.
# What has no stored weighing becomes one of its own.
WEIGH = f"""
UPDATE records_stagedweighing s
SET weight_id = coalesce(s.weight_id, s.new_id),
    is_new = s.weight_id IS NULL,
    container_tare_g = w.container_tare_g,
    net_g = {SCALE_G}
        - CASE s.weight_kind WHEN 'net' THEN 0 ELSE coalesce(s.tare_g, {CONTAINERS_G}) END,
    estimated_g = CASE WHEN s.weight IS NULL THEN s.containers::bigint * w.usual_net_g END
FROM (
    SELECT t.entry, c.usual_net_g, CASE WHEN h.container_id = c.id THEN h.container_tare_g
                                        ELSE c.tare_g END AS container_tare_g
    FROM records_stagedweighing t
    LEFT JOIN records_container c ON c.id = t.container_id
    LEFT JOIN records_harvestweight h ON h.id = t.weight_id
    WHERE t.import_id = %(import)s AND NOT t.is_refused
) w
WHERE s.import_id = %(import)s AND s.entry = w.entry
"""

DIFFERS = f"""
(s.picked_on, s.block_id, s.weight, s.unit, s.weight_kind, s.tare_g, s.containers,
 s.container_id, s.fruit_count, s.grade_id, s.entered_cultivar_id, s.docket, s.ticket,
 s.pickers, s.minutes, s.note, s.tree_ids)
IS DISTINCT FROM
(h.picked_on, h.block_id, h.weight, h.unit, h.weight_kind, h.tare_g, h.containers,
 h.container_id, h.fruit_count, h.grade_id, h.entered_cultivar_id, h.docket, h.ticket,
 h.pickers::text[], h.minutes, h.note, {STORED_TREES})
OR s.crop <> '' AND (s.crop_id, s.crop_chosen_by) IS DISTINCT FROM (h.crop_id, h.crop_chosen_by)
"""

SAID_BEFORE = """EXISTS (
    SELECT FROM records_importedchange c
    WHERE c.harvest_import_id = h.harvest_import_id AND c.weight_id = h.id AND c.sent = s.sent)"""

CORRECTION_KEPT = problem_of(
    broken=f"({DIFFERS}) AND {SAID_BEFORE}",
    join="JOIN records_harvestweight h ON h.id = s.weight_id",
    code="'correction-kept'",
    value="''",
    detail="'The weighing was corrected since; the row says what it said before, so that stays.'",
    is_warning=True,
)

CLASSIFY = f"""
UPDATE records_stagedweighing s SET is_changed = true
FROM records_harvestweight h
WHERE s.import_id = %(import)s AND NOT s.is_refused AND NOT s.is_new AND h.id = s.weight_id
  AND (h.retired_on IS NOT NULL OR ({DIFFERS}) AND NOT {SAID_BEFORE})
"""


def has_lines(staged: Staged) -> bool:
    """Whether the file numbers its lines."""
    return bool(staged.rows(HAS_LINES)[0][0])


def match(staged: Staged, *, by_line: bool) -> None:
    """Find the stored weighing of each row, and work out what the row would make of it."""
    staged.run(
        IDENTIFY.format(key=BY_LINE if by_line else BY_CONTENT),
        over=orjson.dumps(staged.over).decode(),
    )
    relaying.match(staged, by_line=by_line)
    if is_any_known(staged):
        for unsaid, sheets in _unsaid(staged).items():
            staged.run(TAKE_STORED.format(assignments=unsaid), sheets=sheets)
        staged.run(KEEP_CROP)
    staged.run(WEIGH)


def classify(staged: Staged) -> None:
    """Tell changed rows from unchanged ones; new ones are known."""
    staged.run(CORRECTION_KEPT, heading=staged.heading())
    staged.run(CLASSIFY)


def is_any_known(staged: Staged) -> bool:
    return bool(staged.rows(ANY_KNOWN)[0][0])


def _unsaid(staged: Staged) -> dict[str, list[str]]:
    """Assignments of what is stored to what sheets have no column for, and those sheets."""
    stored = {"tree_ids": STORED_TREES}
    found: dict[str, list[str]] = defaultdict(list)
    for sheet, said in staged.said.items():
        names = [name for name, speakers in SPOKEN_FOR_BY.items() if speakers.isdisjoint(said)]
        found[", ".join(f"{name} = {stored.get(name, f'h.{name}')}" for name in names)] += [sheet]
    return {assignments: sheets for assignments, sheets in found.items() if assignments}
