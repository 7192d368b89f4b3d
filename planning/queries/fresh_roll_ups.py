"""Whether what is stored of a co-op's season still says what the records say.

Whoever changes a record of a farm leaves a job for that farm in the same transaction, and the job
counts as done only once the co-op's rows about the member are built. So as long as no member has
one open, its roll-ups are those of its records. What this very transaction has written, and not yet
stamped, leaves its job only at the end: the triggers' marks tell of it.
"""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import connection

from planning.models import SeenRecords, StaleSeason
from planning.queries.seen_records import OF_FARMS
from records.choices import JobState

# Tables on whose rows kilos rest, each with the mark of its triggers.
MARKED = (
    *OF_FARMS,
    "records_farm",
    "records_harvestweight",
    "records_intake",
    "records_tombstone",
)
# A job that was given up says nothing more once a later one is done.
OF_MEMBERS = f"""
SELECT NOT EXISTS (
    SELECT FROM unnest(%(marked)s::regclass[]) AS marked (name)
    WHERE current_setting('orchard.dirty_' || name::oid, true) = 'on'
) AND NOT EXISTS (
    SELECT FROM records_membership member
    LEFT JOIN {SeenRecords._meta.db_table} seen
        ON seen.farm_id = member.farm_id AND seen.co_op_id = member.co_op_id
    WHERE member.co_op_id = %(co_op)s AND seen.id IS NULL
) AND NOT EXISTS (
    SELECT FROM records_job job
    JOIN records_membership member ON member.farm_id::text = job.key
    WHERE member.co_op_id = %(co_op)s AND job.kind = 'farm-changed'
      AND job.state IN ('{JobState.WAITING}', '{JobState.RUNNING}')
) AND NOT EXISTS (
    SELECT FROM records_job job
    JOIN records_membership member ON member.farm_id::text = job.key
    WHERE member.co_op_id = %(co_op)s AND job.kind = 'farm-changed'
      AND job.state = '{JobState.DEAD}'
      AND NOT EXISTS (
        SELECT FROM records_job later
        WHERE later.kind = job.kind AND later.key = job.key
          AND later.state = '{JobState.DONE}' AND later.finished_at > job.finished_at
    )
)
"""


def members_are_fresh(co_op_id: UUID) -> bool:
    """Whether the roll-ups of all members, past ones included, are those of their records."""
    return _is(OF_MEMBERS, {"co_op": co_op_id, "marked": list(MARKED)})


def days_are_fresh(co_op_id: UUID, year: int | None) -> bool:
    """Whether the co-op's days are those of its members' roll-ups: of a season, or of all."""
    stale = StaleSeason.objects.filter(co_op_id=co_op_id)
    return not (stale if year is None else stale.filter(season_year=year)).exists()


def _is(statement: str, params: Mapping[str, Any]) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(statement, params)
        return bool(cursor.fetchone()[0])
