"""Task logs and growth stages from the rows of a file."""

from records.importing.recording.drafts import Draft, Recording
from records.importing.recording.seeking import Seeker
from records.importing.stages import GrowthStageRow
from records.importing.tasklogs import DETAIL_COLUMNS, TaskLogRow
from records.models import GrowthStage, TaskLog

TREE = ("tree", "position", "row")


def task_log(seek: Seeker) -> Draft:
    """Known by day, block, tree and kind of work."""
    row: TaskLogRow = seek.row
    block = seek.thing("block")
    trees = seek.trees(block, row.done_on, row.position)
    return Draft(
        key=(row.done_on, block, trees, row.kind),
        facts={
            "block": block,
            "kind": row.kind,
            "done_on": row.done_on,
            "people": list(row.people),
            "minutes": row.minutes,
            "details": row.details,
            "note": row.note,
        },
        below={"trees": trees},
    )


def growth_stage(seek: Seeker) -> Draft:
    """Known by day, block, tree and stage: several stages are usual at once."""
    row: GrowthStageRow = seek.row
    block = seek.thing("block")
    tree = next(iter(seek.trees(block, row.observed_on, row.position)), None)
    return Draft(
        key=(row.observed_on, block, tree, row.bbch),
        facts={
            "block": block,
            "tree": tree,
            "observed_on": row.observed_on,
            "bbch": row.bbch,
            "trees_seen": row.trees_seen,
            "trees_looked_at": row.trees_looked_at,
            "people": list(row.people),
            "note": row.note,
        },
    )


TASK_LOGS = Recording(
    model=TaskLog,
    draft=task_log,
    said_in={
        "trees": TREE,
        "minutes": ("minutes", "hours"),
        "details": tuple(column.name for column in DETAIL_COLUMNS),
    },
)
GROWTH_STAGES = Recording(model=GrowthStage, draft=growth_stage, said_in={"tree": TREE})
