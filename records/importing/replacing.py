"""A file that is sent as a replacement for the span of dates that it covers.

Weighings that earlier files of the series brought in within the span, and that the file no longer
has, are gone: they are retired, never deleted. What was entered by hand or came in by another
series is left alone, and so is all that is dated outside the span. A weighing that was edited since
it came in is treated as any other, but said to be edited: its edits stay on the retired record, and
come back with an undo.

What would change is noted, and lands only once the sender has been shown exactly that.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from records.calendars import calendar
from records.importing.checks import problem_of
from records.importing.relaying import STORED_TREES
from records.importing.sheets import FileRefused
from records.importing.staging import Staged
from records.models import Block
from records.services.imports import forget_plans

DAYS = """
SELECT min(picked_on), max(picked_on) FROM records_stagedweighing
WHERE import_id = %(import)s AND NOT is_refused
"""

OF_SERIES = """
FROM records_harvestweight h
JOIN records_harvestimport i ON i.id = h.harvest_import_id AND i.series = %(series)s
WHERE h.farm_id = %(farm)s AND h.picked_on BETWEEN %(first)s AND %(last)s
"""
# Nobody edits them between the comparison and the landing.
HOLD = f"SELECT count(*) FROM (SELECT h.id {OF_SERIES} FOR UPDATE OF h) held"
GONE = f"""{OF_SERIES} AND h.retired_on IS NULL AND NOT EXISTS (
    SELECT FROM records_stagedweighing s WHERE s.import_id = %(import)s AND s.weight_id = h.id)
"""

OUTSIDE_SPAN = problem_of(
    broken="s.picked_on NOT BETWEEN %(first)s AND %(last)s",
    code="'outside-span'",
    value="s.picked_on::text",
    detail="""format('The file replaces %%s to %%s, and this is dated outside of it.',
              %(first)s::date, %(last)s::date)""",
)

RUNNING = "unnest(%(blocks)s::uuid[], %(starts)s::date[]) season (block_id, starts_on)"
SEASON_ENDED = problem_of(
    join=f"""JOIN {RUNNING} ON season.block_id = s.block_id
         LEFT JOIN records_harvestweight h ON h.id = s.weight_id""",
    broken="least(s.picked_on, h.picked_on) < season.starts_on",
    code="'season-ended'",
    value="least(s.picked_on, h.picked_on)::text",
    detail="""format('A replacement cannot touch a season that has ended, and this is dated before '
              'the running one, which began on %%s.', season.starts_on)""",
)
GONE_OF_ENDED = f"""
SELECT count(*), min(g.picked_on), max(season.starts_on)
FROM (SELECT h.block_id, h.picked_on {GONE}) g
JOIN {RUNNING} ON season.block_id = g.block_id AND g.picked_on < season.starts_on
"""

# A weighing as the sender knows it, stored or staged.
SHOWN = """jsonb_build_object(
    'picked_on', {row}.picked_on,
    'block', (SELECT code FROM records_block WHERE id = {row}.block_id),
    'trees', (SELECT coalesce(jsonb_agg(coalesce(nullif(t.number, ''), t.row || '/' || t.position)
                                        ORDER BY t.row, t.position), '[]')
              FROM records_tree t WHERE t.id = ANY ({trees})),
    'cultivar', (SELECT name FROM records_cultivar WHERE id = {row}.entered_cultivar_id),
    'grade', (SELECT code FROM records_grade WHERE id = {row}.grade_id),
    'crop', (SELECT name FROM records_crop
             WHERE id = {row}.crop_id AND {row}.crop_chosen_by = 'person'),
    'weight', trim_scale({row}.weight), 'unit', {row}.unit, 'weight_kind', {row}.weight_kind,
    'tare_g', {row}.tare_g, 'net_g', {row}.net_g, 'containers', {row}.containers,
    'container', (SELECT code FROM records_container WHERE id = {row}.container_id),
    'fruit_count', {row}.fruit_count, 'docket', {row}.docket, 'ticket', {row}.ticket,
    'pickers', {row}.pickers, 'minutes', {row}.minutes, 'note', {row}.note)"""
BEFORE = SHOWN.format(row="h", trees=STORED_TREES) + " || jsonb_build_object('version', h.version)"
AFTER = SHOWN.format(row="s", trees="s.tree_ids")
WAS_EDITED = """h.version IS DISTINCT FROM (SELECT c.landed_version FROM records_importedchange c
    WHERE c.harvest_import_id = h.harvest_import_id AND c.weight_id = h.id)"""

PROPOSED = (
    'farm_id, harvest_import_id, kind, weight_id, sheet, row, "column", before, after, was_edited'
)
PROPOSE = f"""
INSERT INTO records_proposedchange ({PROPOSED})
SELECT %(farm)s, %(import)s, CASE WHEN s.is_new THEN 'added' ELSE 'changed' END, h.id,
       left(s.sheet, 80), s.row, left(s."column", 200),
       CASE WHEN h.id IS NOT NULL THEN {BEFORE} END, {AFTER}, h.id IS NOT NULL AND {WAS_EDITED}
FROM records_stagedweighing s LEFT JOIN records_harvestweight h ON h.id = s.weight_id
WHERE s.import_id = %(import)s AND (s.is_new OR s.is_changed) ORDER BY s.entry
"""
PROPOSE_GONE = f"""
INSERT INTO records_proposedchange ({PROPOSED})
SELECT %(farm)s, %(import)s, 'gone', h.id, '', NULL, '', {BEFORE}, NULL, {WAS_EDITED}
{GONE} ORDER BY h.picked_on, h.id
"""
PROPOSED_IN_ALL = """
SELECT encode(sha256(convert_to(coalesce(string_agg(jsonb_build_array(
           kind, weight_id, sheet, row, "column", before, after)::text, ' ' ORDER BY id), '')
           || %(first)s || %(last)s, 'UTF8')), 'hex'),
       count(*) FILTER (WHERE kind = 'gone'), count(*) FILTER (WHERE was_edited)
FROM records_proposedchange WHERE harvest_import_id = %(import)s
"""

NOTE_GONE = f"""
INSERT INTO records_importedchange
    (farm_id, harvest_import_id, weight_id, landed_version, before, sent)
SELECT %(farm)s, %(import)s, h.id, h.version,
       to_jsonb(h) - 'fingerprint' || jsonb_build_object('trees', to_jsonb({STORED_TREES})), ''
FROM records_proposedchange p JOIN records_harvestweight h ON h.id = p.weight_id
WHERE p.harvest_import_id = %(import)s AND p.kind = 'gone'
"""
RETIRE = """
UPDATE records_harvestweight h SET retired_on = %(today)s, harvest_import_id = %(import)s
FROM records_proposedchange p
WHERE p.harvest_import_id = %(import)s AND p.kind = 'gone' AND h.id = p.weight_id
"""
NOTE_VERSION = """
UPDATE records_importedchange c SET landed_version = h.version
FROM records_proposedchange p JOIN records_harvestweight h ON h.id = p.weight_id
WHERE p.harvest_import_id = %(import)s AND p.kind = 'gone'
  AND c.harvest_import_id = %(import)s AND c.weight_id = p.weight_id
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacement:
    """The days that a file replaces, and by block when the running season began."""

    first: dt.date
    last: dt.date
    running: Mapping[UUID, dt.date]

    @property
    def span(self) -> dict[str, dt.date]:
        return {"first": self.first, "last": self.last}

    @property
    def seasons(self) -> dict[str, list[UUID] | list[dt.date]]:
        return {"blocks": list(self.running), "starts": list(self.running.values())}


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """All that would change: `digest` tells it from any other. Of the weighings that would be
    changed or retired, `edited` were edited since they came in."""

    digest: str
    gone: int
    edited: int


def replacement(staged: Staged, today: dt.date) -> Replacement | None:
    """What a file replaces: the span that was said, else its own days. None if it is no
    replacement, or has no day to go by."""
    ours = staged.harvest_import
    first, last = staged.rows(DAYS)[0]
    first, last = ours.replaces_from or first, ours.replaces_until or last
    if not ours.replaces or first is None or last is None:
        return None
    return Replacement(first=first, last=last, running=_running(staged, today))


def _running(staged: Staged, today: dt.date) -> dict[UUID, dt.date]:
    farm = staged.harvest_import.farm
    seasons = calendar([farm])
    blocks = Block.objects.filter(farm=farm).values_list("pk", flat=True)
    return {block: seasons.season_of(farm.pk, block, today).starts_on for block in blocks}


def hold(staged: Staged, replaced: Replacement) -> None:
    """Keep what may be replaced from being edited until the import has its outcome."""
    staged.run(HOLD, **replaced.span)


def check_rows(staged: Staged, replaced: Replacement) -> None:
    """Refuse what lies outside the span or in a season that has ended, once rows are matched."""
    heading = staged.heading("picked_on")
    staged.run(OUTSIDE_SPAN, heading=heading, **replaced.span)
    staged.run(SEASON_ENDED, heading=heading, **replaced.seasons)


def propose(staged: Staged, replaced: Replacement) -> Proposal:
    """Note all that would change. FileRefused if weighings of an ended season would be gone."""
    count, first, begins = staged.rows(GONE_OF_ENDED, **replaced.span, **replaced.seasons)[0]
    if count:
        raise FileRefused(
            "season-ended",
            "A replacement cannot touch a season that has ended. The span has weighings of one "
            f"that the file no longer has: {count} of them, the first of {first}. "
            f"Let the span begin on {begins} or later.",
        )
    staged.run(PROPOSE)
    staged.run(PROPOSE_GONE, **replaced.span)
    digest, gone, edited = staged.rows(
        PROPOSED_IN_ALL, first=str(replaced.first), last=str(replaced.last)
    )[0]
    return Proposal(digest=digest, gone=gone, edited=edited)


def retire(staged: Staged, today: dt.date) -> None:
    """Retire what is gone, and leave behind what is needed to bring it back."""
    staged.run(NOTE_GONE)
    forget_plans()
    staged.run(RETIRE, today=today)
    staged.run(NOTE_VERSION)
    forget_plans()  # as after a landing
