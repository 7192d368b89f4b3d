"""Intakes from the rows of a file: those of the co-op's shed whose staff sent it, or the farm's."""

from typing import Any

from records.importing.intakes import IntakeRow, SortedRow
from records.importing.recording.drafts import Draft, Recording
from records.importing.recording.seeking import Seeker
from records.models import Grade, Intake

WEIGHED = ("net", "weight", "gross")


def intake(seek: Seeker) -> Draft:
    """Known by docket and line; without a line by docket, day, hour, block and cultivar."""
    row: IntakeRow = seek.row
    block, cultivar, container = map(seek.thing, ("block", "cultivar", "container"))
    co_op_id = seek.ground.harvest_import.co_op_id
    content = (row.received_on, row.received_at, block, cultivar)
    return Draft(
        key=(co_op_id, row.docket, *((row.line,) if row.line else content)),
        facts={
            "received_on": row.received_on,
            "received_at": row.received_at,
            "docket": row.docket,
            "cultivar": cultivar,
            "block": block,
            "weight": row.weight,
            "unit": row.unit,
            "weight_kind": row.weight_is,
            "containers": row.containers,
            "container": container,
            "tare_g": row.tare_total_g,
            "note": row.note,
        },
        below={"sorted_weights": [_sorted(seek, part) for part in row.sorted_weights]},
        first={"co_op_id": co_op_id},
    )


def _sorted(seek: Seeker, part: SortedRow) -> dict[str, Any]:
    grade = seek.meant("grade", part.grade, heading=_heading(seek, part)) if part.grade else None
    is_own = isinstance(grade, Grade)
    return {
        "grade": grade if is_own else None,
        "co_op_grade": None if is_own else grade,
        "reject_reason": part.reject_reason,
        "weight": part.weight,
        "unit": part.unit,
    }


def _heading(seek: Seeker, part: SortedRow) -> str:
    """Where the grade is said: in a column of its own, or above its weight."""
    return seek.headings.get("grade", part.column)


INTAKES = Recording(
    model=Intake,
    draft=intake,
    said_in={
        "weight": WEIGHED,
        "unit": WEIGHED,
        "weight_kind": WEIGHED,
        "tare_g": ("tare", "net"),
        "sorted_weights": ("sorted", "rejects"),
    },
)
